"""Faults on the record: kept once, told by the drawing, voided, never edited."""

from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from config.tenancy import violated
from jobs.models import LayingPlan
from readings.models import FaultFound
from tests.factories import NOW, ElementFactory, FaultFoundFactory, MemberFactory, RoomFactory
from tests.readings.conftest import NOBODYS

FAULTS = "/api/v1/faults/"
PATH = [[0, 0], [30_000, 0], [30_000, 2_000], [0, 2_000]]  # 62 m, as the element's sheet says


def drawn(site, *, basis="as_laid", name="mat", **more):
    return LayingPlan.objects.create(
        contractor=site.room.contractor,
        room=site.room,
        basis=basis,
        plan={"elements": [{"element": name, "path": PATH, **more}]},
        tolerance_mm=30,
        room_version=1,
        drawn_at=NOW,
        drawn_by=MemberFactory(contractor=site.room.contractor),
    )


def fault(site, **more):
    return {
        "client_id": str(uuid4()),
        "room": str(site.room.pk),
        "element": str(site.element.pk),
        "method": "bridge",
        "construction": "single",
        "measured_from": "A",
        "fraction": 0.3,
        "tolerance": 0.02,
        "found_at": "2026-03-12T09:00:00Z",
        **more,
    }


def metres(told):
    return [place["metres"] for place in told["places"]]


def test_a_fault_is_kept_with_its_place_and_band_in_the_room(site, api, finn):
    drawn(site)
    kept = api(finn).post(FAULTS, fault(site, note="Beside the bath."))
    assert kept.status_code == 201, kept.content
    told = kept.json()
    assert (told["found_by"], told["note"], told["stands"]) == (
        str(finn.pk),
        "Beside the bath.",
        True,
    )
    (place,) = told["places"]
    assert (place["metres"], place["from_m"], place["to_m"]) == pytest.approx((18.6, 17.36, 19.84))
    assert place["spot_mm"] == pytest.approx([18_600, 0])
    assert place["path_mm"] == [pytest.approx([17_360, 0]), pytest.approx([19_840, 0])]
    assert api(finn).get(f"{FAULTS}{told['id']}/").json() == told
    assert api(finn).get(f"{FAULTS}?room={site.room.pk}").json()["results"] == [told]
    assert api(finn).get(f"{FAULTS}?room={NOBODYS}").json()["results"] == []


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"measured_from": "B"}, [43.4]),
        ({"measured_from": "unknown"}, [18.6, 43.4]),
        ({"construction": "twin-equal"}, [37.2]),  # out and back in two cores
        ({"construction": "twin-equal", "measured_from": "B"}, [37.2]),
        ({"construction": "twin-return", "measured_from": "unknown"}, [18.6, 43.4]),
        ({"construction": "twin-return", "fraction": 1.0}, [62.0, 31.0]),  # or anywhere on the way
        ({"construction": "twin-equal", "method": "reflectometer"}, [18.6]),
        ({"method": "reflectometer", "measured_from": "B"}, [43.4]),
        ({"construction": "twin-equal", "method": "core_to_core", "measured_from": "B"}, [18.6]),
    ],
    ids=str,
)
def test_what_a_fraction_means_follows_from_end_method_and_construction(
    site, api, finn, given, expected
):
    drawn(site)
    told = api(finn).post(FAULTS, fault(site, **given)).json()
    assert metres(told) == pytest.approx(expected)
    assert all(place["spot_mm"] for place in told["places"])


def test_leads_are_no_part_of_the_way_but_of_the_ohms(site, api, finn):
    drawn(site)
    site.element.lead_ohms = 2.0
    site.element.save()
    by_ohms = fault(site, loop_ohms=50.0, fraction=(1 + 14.4) / 50)
    by_length = fault(site, method="open_core", fraction=0.3)
    told = [api(finn).post(FAULTS, body).json() for body in (by_ohms, by_length)]
    assert [metres(one) for one in told] == [pytest.approx([18.6])] * 2


def test_sent_again_it_is_the_same_fault_and_another_is_refused(site, api, finn, problem):
    plan = drawn(site)
    body = fault(site)
    first = api(finn).post(FAULTS, body)
    plan.delete()  # what came since does not matter
    again = api(finn).post(FAULTS, body)
    assert (again.status_code, again.json()["id"]) == (201, first.json()["id"])
    assert again.json()["places"][0]["spot_mm"] is None
    assert FaultFound.objects.count() == 1
    clash = problem(api(finn).post(FAULTS, body | {"fraction": 0.31}))
    assert (clash["status"], clash["type"]) == (409, "/problems/sent-otherwise/")


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"fraction": -0.01}, "#/fraction"),
        ({"fraction": 1.01}, "#/fraction"),
        ({"fraction": 30}, "#/fraction"),
        ({"fraction": "0.3"}, "#/fraction"),
        ({"tolerance": 0}, "#/tolerance"),
        ({"tolerance": -0.1}, "#/tolerance"),
        ({"tolerance": 0.51}, "#/tolerance"),
        ({"method": "dowsing"}, "#/method"),
        ({"measured_from": "C"}, "#/measured_from"),
        ({"method": "core_to_core"}, "#/construction"),  # of a single core
        ({"loop_ohms": 0}, "#/loop_ohms"),
        ({"found_at": "2190-01-01T00:00:00Z"}, "#/found_at"),
        ({"element": NOBODYS}, "#/element"),
        ({"room": NOBODYS}, "#/room"),
        ({"spot": [1, 2]}, "#/spot"),
    ],
    ids=str,
)
def test_what_cannot_be_a_fault_is_refused_at_its_field(site, api, finn, problem, change, pointer):
    drawn(site)
    refused = problem(api(finn).post(FAULTS, fault(site, **change)))
    assert (refused["status"], refused["errors"][0]["pointer"]) == (422, pointer)
    assert FaultFound.objects.count() == 0


def test_an_element_of_another_room_or_removed_is_refused(site, api, finn, problem):
    drawn(site)
    other = ElementFactory(
        contractor=site.room.contractor,
        room=RoomFactory(contractor=site.room.contractor, job=site.job, name="Hall"),
    )
    gone = ElementFactory(contractor=site.room.contractor, room=site.room, removed_at=NOW)
    for element in (other, gone):
        refused = problem(api(finn).post(FAULTS, fault(site, element=str(element.pk))))
        assert "does not lie in this room" in refused["errors"][0]["detail"]


def test_without_a_drawing_of_the_element_it_is_refused(site, api, finn, problem):
    def refusal():
        refused = problem(api(finn).post(FAULTS, fault(site)))
        return refused["type"], "No drawing" in refused["errors"][0]["detail"]

    assert refusal() == ("/problems/fault-unclear/", True)
    ElementFactory(contractor=site.room.contractor, room=site.room, label="other")
    drawn(site, name="third")  # which of the two it is cannot be told
    assert refusal() == ("/problems/fault-unclear/", True)


def test_a_plan_of_its_type_draws_the_only_element_of_it(site, api, finn):
    """As laid out from the catalogue: plans name types before there are elements."""
    ElementFactory(contractor=site.room.contractor, room=site.room, label="other")
    drawn(site, basis="planned", name=str(site.element.material_id))
    assert api(finn).post(FAULTS, fault(site)).status_code == 201


def test_a_fault_is_voided_once_with_its_reason_and_stays(site, api, finn, olive, problem):
    drawn(site)
    kept = api(finn).post(FAULTS, fault(site)).json()
    at = f"{FAULTS}{kept['id']}/void/"
    assert problem(api(olive).post(at, {}))["errors"][0]["pointer"] == "#/reason"
    voided = api(olive).post(at, {"reason": "The leads were swapped."})
    told = voided.json()
    assert voided.status_code == 200
    assert (told["voided_by"], told["void_reason"]) == (str(olive.pk), "The leads were swapped.")
    assert not told["stands"]
    twice = problem(api(olive).post(at, {"reason": "Again."}))
    assert (twice["status"], twice["type"]) == (409, "/problems/fault-void/")
    assert len(api(finn).get(FAULTS).json()["results"]) == 1


def test_a_joint_made_after_it_repairs_a_fault(site, api, finn):
    drawn(site)
    kept = api(finn).post(FAULTS, fault(site)).json()
    at = f"/api/v1/elements/{site.element.pk}/joints/"
    for joined_at, stands in (("2026-03-12T08:00:00Z", True), ("2026-03-13T08:00:00Z", False)):
        made = api(finn).post(at, {"chainage_mm": 18_600, "joined_at": joined_at})
        assert made.status_code == 201
        assert api(finn).get(f"{FAULTS}{kept['id']}/").json()["stands"] is stands


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"fraction": 0.31}, "faultfound_frozen"),
        ({"note": "Other words."}, "faultfound_frozen"),
        ({"voided_at": NOW}, "faultfound_voided_at_by_and_why"),
    ],
    ids=str,
)
def test_the_database_refuses_to_edit_a_fault(alder, change, constraint):
    row = FaultFoundFactory(contractor=alder)
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        FaultFound.objects.filter(pk=row.pk).update(**change)
    assert violated(refused.value) == constraint
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        row.delete()
    assert violated(refused.value) == "faultfound_frozen"


@pytest.mark.parametrize(
    ("wrong", "constraint"),
    [
        ({"fraction": 1.01}, "faultfound_on_the_element"),
        ({"tolerance": 0.0}, "faultfound_tolerance_plausible"),
        ({"loop_ohms": 0.0}, "faultfound_loop_above_zero"),
    ],
    ids=str,
)
def test_the_database_refuses_nonsense(alder, wrong, constraint):
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        FaultFoundFactory(contractor=alder, **wrong)
    assert violated(refused.value) == constraint


def test_a_long_list_is_read_in_as_many_queries_as_a_short_one(site, api, finn):
    drawn(site)
    own = {"contractor": site.room.contractor, "element": site.element, "found_by": finn}
    client, asked = api(finn), []
    for number in (1, 4):
        FaultFoundFactory.create_batch(number, **own)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(FAULTS).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1]
