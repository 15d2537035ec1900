from datetime import datetime, timedelta
from threading import Barrier, Thread

import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from config.tenancy import violated
from readings.actions.checks import CheckSent, record_check
from readings.api.checks import CheckInput, CheckOutput
from readings.models import Check, Reading, SiteTemperature
from tests.factories import ElementFactory, FloorSensorFactory, RoomFactory
from tests.readings.conftest import NOBODYS, Site

URL = "/api/v1/checks/"


@pytest.fixture
def send(api, finn):
    def post(body, status=201):
        response = api(finn).post(URL, body)
        assert response.status_code == status, response.content
        return response.json()

    return post


def test_a_complete_set_passes_and_says_why(site, send):
    check = send(site.check())
    assert check["outcome"] == "pass"
    assert check["missing"] == []
    assert [r["outcome"] for r in check["readings"]] == ["pass"] * 4
    element = check["readings"][0]
    assert "71.0\u00a0Ω lies inside 67.54 to 78.21\u00a0Ω" in element["because"]
    assert element["figures"]["low"] == pytest.approx(67.545)
    assert element["figures"]["probability"] > 0.999
    assert element["figures"]["components"].keys() == {"meter"}
    assert "prove it dead" in check["caution"]


def test_the_answer_has_the_shape_that_the_schema_promises(site, send):
    check = send(site.check())
    assert check.keys() == CheckOutput().fields.keys()
    assert check["readings"][0].keys() == CheckOutput().fields["readings"].child.fields.keys()
    figures = CheckOutput().fields["readings"].child.fields["figures"]
    assert check["readings"][0]["figures"].keys() == figures.fields.keys()


def test_a_coarse_range_is_undecided_and_names_a_better_one(site, send):
    readings = [{"kind": "element", "range": site.ohms_20k, "value": 70, "at_c": 18}]
    check = send(site.check("arrival", readings=readings))
    assert check["readings"][0]["outcome"] == "undecided"
    assert any("Set the meter to 200\u00a0Ω" in step for step in check["next_steps"])


def test_the_better_range_in_a_second_visit_completes_the_stage(site, send):
    coarse = site.full_set()
    coarse[0] |= {"range": site.ohms_20k, "value": 70}
    assert send(site.check("arrival", readings=coarse))["outcome"] == "undecided"
    assert send(site.check("arrival", readings=site.full_set()[:1]))["outcome"] == "pass"


def test_gaps_leave_a_stage_undecided_and_are_named(site, send):
    check = send(site.check(readings=site.full_set()[:2]))
    assert check["outcome"] == "undecided"
    assert check["missing"] == ["mat, lead to ground, lead B", "probe, floor sensor"]


def test_a_fault_fails_and_stops_the_work(site, send):
    check = send(site.check(readings=site.full_set(ohms=52.0)))
    assert check["outcome"] == "fail"
    assert any("Do not cover. Do not switch on." in step for step in check["next_steps"])


def test_handover_needs_insulation_at_voltage_volts_and_amperes(site, send):
    first = send(site.check("handover"))
    assert first["missing"] == ["mat, insulation at voltage", "supply voltage", "current"]
    whole = send(site.check("handover", readings=site.handover_set()))
    assert whole["outcome"] == "pass"
    assert "licensed electrician" in whole["caution"]


def test_an_element_for_another_voltage_is_refused_on_arrival(site, send):
    site.element.material.element["volts"] = 120.0
    site.element.material.save()
    check = send(site.check("arrival"))
    (finding,) = check["findings"]
    assert finding["outcome"] == check["outcome"] == "fail"
    assert "Do not unpack it" in finding["next_step"]


def test_what_came_is_held_against_the_order(site, send):
    delivery = {
        "ordered": [{"name": "Mat", "serial": "A1"}, {"name": "Probe"}],
        "found": [{"name": "mat", "serial": "A2"}],
        "damage": ["carton torn"],
    }
    check = send(site.check("arrival", delivery=delivery))
    told = {f["about"]: f["because"] for f in check["findings"]}
    assert "1 × Probe missing" in told["contents"]
    assert "serial A1 (Mat) was not found" in told["contents"]
    assert "carton torn" in told["damage"]


def test_sending_it_again_changes_nothing_and_answers_the_same(site, send):
    body = site.check()
    assert send(body) == send(body)
    assert (Check.objects.count(), Reading.objects.count()) == (1, 4)


def test_an_id_that_was_used_for_other_readings_is_a_clash(site, send, problem, api, finn):
    body = site.check()
    send(body)
    body["readings"][0]["value"] = 72.0
    refused = problem(api(finn).post(URL, body))
    assert (refused["status"], refused["type"]) == (409, "/problems/sent-otherwise/")


def test_a_correction_supersedes_and_both_stay(site, send, api, finn):
    wrong = send(site.check(readings=site.full_set(ohms=17.1)))
    assert wrong["outcome"] == "fail"
    right = send(site.check(supersedes=wrong["id"]))
    assert right["outcome"] == "pass"
    seen = api(finn).get(f"{URL}{wrong['id']}/").json()
    assert seen["superseded_by"] == right["id"]
    assert Check.objects.count() == 2


def test_a_check_is_corrected_once(site, send, problem, api, finn):
    wrong = send(site.check())
    send(site.check(supersedes=wrong["id"]))
    refused = problem(api(finn).post(URL, site.check(supersedes=wrong["id"])))
    assert (refused["status"], refused["type"]) == (409, "/problems/superseded-already/")


def test_a_correction_in_another_room_is_refused(site, send, alder):
    other = Site(alder)
    wrong = send(other.check())
    send(site.check(supersedes=wrong["id"]), status=422)


def test_a_stage_out_of_order_is_kept_and_flagged(site, send):
    check = send(site.check("covered"))
    assert check["flags"] == ["Out of order: the stage arrival has not passed yet."]
    for stage in ("arrival", "laid", "covered"):
        check = send(site.check(stage))
    assert check["flags"] == []


def test_a_phone_with_a_wrong_clock_is_told_apart(site, finn, now):
    ahead = now + timedelta(hours=3)

    def flags(**clocks):
        sent = CheckInput(data=site.check("arrival", taken_at=ahead.isoformat()))
        sent.is_valid(raise_exception=True)
        return record_check(by=finn, sent=CheckSent(**sent.validated_data), at=now, **clocks).flags

    assert "Taken 3 h 00 min after it was received" in flags()[0]
    assert "The phone's clock was 3 h 00 min ahead" in flags(sent_at=ahead)[0]
    assert not SiteTemperature.objects.exists()


def test_the_clock_that_a_phone_sends_is_looked_at(site, send):
    check = send(site.check("arrival", sent_at="2026-03-10T07:00:00Z"))
    assert "behind when it sent" in check["flags"][0]


def test_a_sound_sensor_in_the_floor_is_a_site_temperature(site, send):
    send(site.check("arrival"))
    assert not SiteTemperature.objects.exists()
    readings = site.full_set()
    readings[3] |= {"value": 10_000, "at_c": 24}  # a point of its curve
    send(site.check("laid", readings=readings))
    (row,) = SiteTemperature.objects.all()
    assert (row.source, row.source_name, row.room) == ("floor_sensor", "probe", site.room)
    assert row.celsius == pytest.approx(25.0, abs=1e-6)
    assert 0 < row.uncertainty_k < 2


def test_a_meter_past_its_calibration_passes_nothing(site, send):
    site.meter.calibration_due_on = datetime(2026, 3, 9).date()  # noqa: DTZ001
    site.meter.save()
    check = send(site.check())
    assert check["readings"][0]["outcome"] == "undecided"
    assert "Calibration fell due on 9 March 2026" in check["readings"][0]["because"].replace(
        "calibration", "Calibration"
    )


def test_several_elements_read_as_one_say_how(site, send, alder):
    ElementFactory(contractor=alder, room=site.room, label="cable", tag_ohms=71.1)
    together = {"kind": "element", "range": site.ohms_200, "value": 35.6, "at_c": 18}
    send(site.check(readings=[together]), status=422)
    check = send(site.check(readings=[{**together, "wiring": "parallel"}]))
    assert check["readings"][0]["outcome"] == "pass"
    assert "mat, core to core" not in check["missing"]
    assert "cable, core to core" not in check["missing"]


def test_a_second_sensor_is_measured_too(site, send, alder):
    FloorSensorFactory(contractor=alder, room=site.room, label="spare", spare=True)
    readings = site.full_set()
    readings[3]["sensor"] = str(site.sensor.pk)
    assert send(site.check(readings=readings))["missing"] == ["spare, floor sensor"]


def test_polarisation_is_told_where_two_times_were_read(site, send):
    readings = [
        {"kind": "insulation", "range": site.megohms, "value": 120.0, "after_minutes": 1},
        {"kind": "insulation", "range": site.megohms, "value": 90.0, "after_minutes": 10},
    ]
    (finding,) = send(site.check(readings=readings))["findings"]
    assert finding["outcome"] == "undecided"
    assert "0.75" in finding["because"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"value": -1}, "#/readings/0/value"),
        ({"value": 0.0, "kind": "elephant"}, "#/readings/0/kind"),
        ({"value": None}, "#/readings/0/value"),
        ({"over_range": True}, "#/readings/0/value"),
        ({"value": 200.5}, "#/readings/0/value"),
        ({"value": True}, "#/readings/0/value"),
        ({"range": NOBODYS}, "#/readings/0/range"),
        ({"range": None}, "#/readings/0/range"),
        ({"kind": "insulation"}, "#/readings/0/range"),
        ({"element": NOBODYS}, "#/readings/0/element"),
        ({"lead": "C"}, "#/readings/0/lead"),
        ({"at_c": 999}, "#/readings/0/at_c"),
        ({"colour": "red"}, "#/readings/0/colour"),
    ],
    ids=repr,
)
def test_a_bad_reading_is_told_with_its_field(site, api, finn, problem, change, pointer):
    body = site.check()
    body["readings"][0] |= change
    refused = problem(api(finn).post(URL, body))
    assert refused["status"] == 422
    assert [error["pointer"] for error in refused["errors"]] == [pointer]
    assert not Check.objects.exists()


def test_a_reading_without_its_range_is_refused(site, api, finn, problem):
    body = site.check()
    del body["readings"][0]["range"]
    refused = problem(api(finn).post(URL, body))
    assert refused["errors"][0]["pointer"] == "#/readings/0/range"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"room": NOBODYS}, "#/room"),
        ({"stage": "somewhere"}, "#/stage"),
        ({"taken_at": "2027-03-10T06:55:00"}, "#/taken_at"),
        ({"supersedes": NOBODYS}, "#/supersedes"),
        ({"client_id": "7"}, "#/client_id"),
        ({"readings": [{}] * 61}, "#/readings"),
    ],
    ids=repr,
)
def test_a_bad_check_is_told_with_its_field(site, api, finn, problem, change, pointer):
    refused = problem(api(finn).post(URL, {**site.check(), **change}))
    assert refused["status"] == 422
    assert pointer in {error["pointer"] for error in refused["errors"]}


def test_the_meter_and_room_of_another_contractor_are_unknown(site, api, finn, bo, problem):
    theirs = Site(bo.contractor)
    body = site.check()
    body["readings"][0]["range"] = theirs.ohms_200
    assert problem(api(finn).post(URL, body))["type"] == "/problems/unknown-id/"
    assert problem(api(finn).post(URL, theirs.check()))["type"] == "/problems/unknown-id/"


def test_two_contractors_may_use_the_same_id(site, api, finn, bo):
    theirs = Site(bo.contractor)
    body = site.check()
    assert api(finn).post(URL, body).status_code == 201
    other = {**theirs.check(), "client_id": body["client_id"]}
    assert api(bo).post(URL, other).status_code == 201


def test_a_list_asks_as_often_for_ten_as_for_one(site, send, api, finn, django_assert_num_queries):
    send(site.check())
    for _ in range(9):
        send(site.check())
    client = api(finn)
    with django_assert_num_queries(1):
        rows = client.get(URL, {"room": str(site.room.pk)}).json()["results"]
    assert len(rows) == 10


def test_a_check_is_accepted_in_few_queries(site, api, finn, django_assert_max_num_queries):
    client = api(finn)
    client.post(URL, site.check("arrival"))
    with django_assert_max_num_queries(12):
        assert client.post(URL, site.check("laid")).status_code == 201


def test_a_list_is_filtered(site, send, api, finn):
    send(site.check("arrival"))
    send(site.check("laid", readings=site.full_set(ohms=10)))
    client = api(finn)
    for query, stages in [
        ({"stage": "laid"}, ["laid"]),
        ({"outcome": "pass"}, ["arrival"]),
        ({"job": str(site.job.pk)}, ["laid", "arrival"]),
        ({"room": NOBODYS}, []),
    ]:
        rows = client.get(URL, query).json()["results"]
        assert [row["stage"] for row in rows] == stages
    assert client.get(URL, {"colour": "red"}).status_code == 422


def test_checks_and_readings_are_never_edited_or_deleted(site, send):
    send(site.check())
    for rows, name in ((Check, "check_never_edited"), (Reading, "reading_never_edited")):
        for change in (lambda q: q.update(outcome="pass"), lambda q: q._raw_delete(q.db)):
            with pytest.raises(IntegrityError) as refused, transaction.atomic():
                change(rows.objects.all())
            assert violated(refused.value) == name


def test_after_a_repair_the_readings_are_due_again(site, send, api, finn):
    send(site.check("laid"))
    sets = reverse("api-reading-sets", kwargs={"room_id": site.room.pk})
    laid = api(finn).get(sets).json()[1]
    assert (laid["outcome"], laid["missing"]) == ("pass", [])
    joint = {"chainage_mm": 12_400, "joined_at": "2026-03-11T10:00:00Z", "note": "nail"}
    joints = reverse("api-joints", kwargs={"element_id": site.element.pk})
    assert api(finn).post(joints, joint).status_code == 201
    assert len(api(finn).post(joints, joint).json()) == 1
    laid = api(finn).get(sets).json()[1]
    assert laid["outcome"] == "undecided"
    assert laid["missing"] == [
        "mat, core to core",
        "mat, lead to ground, lead A",
        "mat, lead to ground, lead B",
    ]
    check = send(site.check("laid", taken_at="2026-03-11T11:00:00Z"))
    assert check["outcome"] == "pass"
    old = send(site.check("laid", taken_at="2026-03-11T09:00:00Z"))
    assert "before the last repair joint" in old["flags"][-1]


@pytest.mark.django_db(transaction=True)
def test_the_same_check_at_once_is_accepted_once(site, api, finn):
    body, answers, barrier = site.check(), [], Barrier(4)

    def post():
        barrier.wait()
        answers.append(api(finn).post(URL, body))
        connection.close()

    threads = [Thread(target=post) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [answer.status_code for answer in answers] == [201] * 4
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert (Check.objects.count(), Reading.objects.count()) == (1, 4)


@pytest.mark.django_db(transaction=True)
def test_different_checks_at_once_make_one_chain(site, api, finn):
    barrier = Barrier(4)

    def post():
        barrier.wait()
        for _ in range(3):
            assert api(finn).post(URL, site.check()).status_code == 201
        connection.close()

    threads = [Thread(target=post) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    chain = api(finn).get(reverse("api-chain", kwargs={"room_id": site.room.pk})).json()
    assert (chain["checks"], chain["whole"]) == (12, True)


@pytest.mark.django_db(transaction=True)
def test_one_id_for_two_rooms_at_once_and_one_wins(site, api, finn, alder):
    room = RoomFactory(contractor=alder, job=site.job)
    ElementFactory(contractor=alder, room=room, label="mat", tag_ohms=71.1)
    FloorSensorFactory(contractor=alder, room=room, label="probe")
    body, statuses, barrier = site.check(), [], Barrier(2)

    def post(room_id):
        barrier.wait()
        statuses.append(api(finn).post(URL, {**body, "room": str(room_id)}).status_code)
        connection.close()

    threads = [Thread(target=post, args=(r,)) for r in (site.room.pk, room.pk)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [201, 409]
    assert Check.objects.count() == 1
