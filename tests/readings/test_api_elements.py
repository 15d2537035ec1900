from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.models import LayingPlan
from readings.models import MonitorEvent
from tests.factories import NOW
from tests.readings.conftest import NOBODYS


def url(name, site):
    return reverse(name, kwargs={"element_id": site.element.pk})


def test_an_element_that_moved_more_than_the_meters_is_told_with_the_work(site, api, finn):
    client = api(finn)
    for stage, ohms, day in (("arrival", 71.0, 1), ("laid", 71.2, 2), ("covered", 68.9, 3)):
        taken = f"2026-03-{day:02d}T09:00:00Z"
        body = site.check(stage, readings=site.full_set(ohms=ohms), taken_at=taken)
        assert client.post("/api/v1/checks/", body).json()["outcome"] == "pass"
    trend = client.get(url("api-trend", site)).json()
    assert [step["outcome"] for step in trend["steps"]] == ["held", "moved"]
    assert trend["steps"][1]["works"] == ["covering it"]
    assert "more than the" in trend["steps"][1]["because"]
    assert trend["drift"]["outcome"] == "moved"


def test_a_corrected_reading_is_no_part_of_the_trend(site, api, finn):
    client = api(finn)
    wrong = client.post("/api/v1/checks/", site.check(readings=site.full_set(ohms=17.1))).json()
    client.post("/api/v1/checks/", site.check(supersedes=wrong["id"]))
    points = client.get(url("api-trend", site)).json()["points"]
    assert [point["ohms"] for point in points] == [71.0]


def test_the_monitors_alarm_and_silence_are_findings(site, api, finn):
    events = [
        {"client_id": str(uuid4()), "at": f"2026-03-10T{hour}:00:00Z", "kind": kind}
        for hour, kind in (("07", "started"), ("09", "alive"), ("11", "alarm"))
    ]
    events.append({"client_id": str(uuid4()), "at": "2026-03-11T15:00:00Z", "kind": "stopped"})
    first, again = (
        api(finn).post(url("api-monitor-events", site), {"events": events}) for _ in range(2)
    )
    assert first.status_code == 201
    assert first.json() == again.json()
    assert [finding["kind"] for finding in first.json()["findings"]] == ["alarm", "silence"]
    assert MonitorEvent.objects.count() == 4
    other = {**events[0], "kind": "alive"}
    clash = api(finn).post(url("api-monitor-events", site), {"events": [other]})
    assert clash.status_code == 409


def fault(api, who, site, **given):
    return api(who).post(url("api-fault", site), {"construction": "single", **given})


def test_a_fault_is_a_fraction_a_metre_and_a_spot(site, api, finn, olive):
    path = [[0, 0], [30_000, 0], [30_000, 200], [0, 200]]
    LayingPlan.objects.create(
        contractor=site.room.contractor,
        room=site.room,
        basis="as_laid",
        plan={"elements": [{"element": "mat", "path": path}]},
        tolerance_mm=30,
        room_version=1,
        drawn_at=NOW,
        drawn_by=olive,
    )
    readings = {"loop_ohms": 71.0, "from_a_ohms": 46.3, "from_b_ohms": 74.7}
    found = fault(api, finn, site, method="core_to_ground", range=site.ohms_200, **readings)
    assert found.status_code == 200, found.content
    told = found.json()
    assert told["fraction"] == pytest.approx(0.3)
    assert told["fault_ohms"] == pytest.approx(25.0)
    assert told["u_fraction"] > 0
    (place,) = told["places"]
    assert place["metres"] == pytest.approx(18.6)
    assert place["spot_mm"] == pytest.approx([0.3 * 60_200, 0], abs=1)
    assert place["path_mm"][0][0] < place["spot_mm"][0] < place["path_mm"][-1][0]
    assert told["drawing"] == "The drawing as laid."
    assert "Null the test leads" in told["caution"]


def test_without_a_drawing_the_metres_stay(site, api, finn):
    found = fault(
        api, finn, site, method="open_core", capacitance_a=3, capacitance_b=7, ends_known=False
    ).json()
    assert [place["metres"] for place in found["places"]] == pytest.approx([18.6, 43.4])
    assert [place["spot_mm"] for place in found["places"]] == [None, None]
    assert found["drawing"] == "No drawing shows this element."


@pytest.mark.parametrize(
    ("given", "type_"),
    [
        ({"method": "core_to_ground", "loop_ohms": 48}, "reading-unclear"),
        (
            {"method": "core_to_ground", "loop_ohms": 48, "from_a_ohms": 20, "from_b_ohms": 22},
            "readings-inconsistent",
        ),
        (
            {"method": "core_to_core", "healthy_ohms": 48, "measured_ohms": 12},
            "readings-inconsistent",
        ),
        ({"method": "bridge", "loop_ohms": 48, "arm_a": 0, "arm_b": 1}, "implausible-number"),
        (
            {"method": "bridge", "loop_ohms": 48, "arm_a": 1, "arm_b": 1, "range": NOBODYS},
            "unknown-id",
        ),
        ({"method": "dowsing"}, "not-acceptable"),
        ({}, "not-acceptable"),
    ],
    ids=lambda part: str(part)[:40],
)
def test_readings_that_locate_nothing_are_refused(site, api, finn, problem, given, type_):
    refused = problem(fault(api, finn, site, **given))
    assert (refused["status"], refused["type"]) == (422, f"/problems/{type_}/")


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"chainage_mm": 62_001}, "#/chainage_mm"),
        ({"joined_at": "2999-01-01T00:00:00Z"}, "#/joined_at"),
        ({"joined_at": "2190-01-01T00:00:00Z"}, "#/joined_at"),
    ],
    ids=repr,
)
def test_a_joint_lies_on_the_element_and_in_the_past(site, api, finn, problem, change, pointer):
    joint = {"chainage_mm": 100, "joined_at": "2026-03-01T00:00:00Z", **change}
    refused = problem(api(finn).post(url("api-joints", site), joint))
    assert (refused["status"], refused["errors"][0]["pointer"]) == (422, pointer)
