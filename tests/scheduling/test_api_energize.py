"""A room's energize decision over the API: asked, moved, kept, derived again, switched on."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from readings.actions.faults_found import void_fault
from readings.models import SiteTemperature
from scheduling.actions import decisions
from scheduling.models import Decision, Energizing, Evidence, Layer, Promise
from tests.factories import (
    CheckFactory,
    ControlFactory,
    ElementFactory,
    FaultFoundFactory,
    FloorSensorFactory,
    JobFactory,
    LayerFactory,
    MaterialFactory,
    RoomFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime.now(UTC).replace(microsecond=0)  # noqa: TID251  the API asks the clock
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
PLACED_AT = NOW - 10 * DAY


@pytest.fixture
def room(alder):
    job = JobFactory(contractor=alder, assume_c=8)
    return RoomFactory(contractor=alder, job=job, required=[])


@pytest.fixture
def proven(room, finn):
    """Everything that is required, but mortar."""
    told = {"contractor": room.contractor, "room": room}
    for number, (stage, days) in enumerate([("arrival", 12), ("laid", 11), ("covered", 9)]):
        CheckFactory(
            **told, stage=stage, sequence=number + 1, outcome="pass", taken_by=finn,
            taken_at=NOW - days * DAY,
        )  # fmt: skip
    FloorSensorFactory(**told)
    ControlFactory(**told)
    for kind in ("leakage-protection", "electrician"):
        Evidence.objects.create(
            **told, client_id=uuid4(), kind=kind, outcome="pass", at=NOW - 8 * DAY,
            received_at=NOW, recorded_by=finn, name="Elke", licence_number="E-1",
        )  # fmt: skip
    return room


@pytest.fixture
def bed(room, finn):
    material = MaterialFactory(contractor=room.contractor)
    return LayerFactory(
        contractor=room.contractor, room=room, position=1, material=material,
        placed_at=PLACED_AT, placed_by=finn, curing=material.curing,
    )  # fmt: skip


def read(
    room,
    finn,
    celsius,
    *,
    since=PLACED_AT,
    until=NOW,
    every_hours=4,
    whole_site=False,
    uncertainty_k=0.0,
):
    hours = range(0, int((until - since) / HOUR) + 1, every_hours)
    SiteTemperature.objects.bulk_create(
        SiteTemperature(
            contractor_id=room.contractor_id, job=room.job, room=None if whole_site else room,
            client_id=uuid4(), at=since + hour * HOUR, celsius=celsius, source="logger",
            received_at=NOW, taken_by=finn, uncertainty_k=uncertainty_k,
        )
        for hour in hours
    )  # fmt: skip


def energize(room):
    return f"/api/v1/rooms/{room.pk}/energize/"


def ask(api, member, room):
    response = api(member).get(energize(room))
    assert response.status_code == 200, response.content
    return response.json()


def codes(decision):
    return {hold["code"] for hold in decision["holds"]}


def test_a_room_with_nothing_holds_everything_and_has_no_date(api, finn, room):
    decision = ask(api, finn, room)
    assert codes(decision) == {
        "check-missing", "sensor-missing", "control-missing", "leakage-protection-missing",
        "electrician-missing",
    }  # fmt: skip
    assert not decision["may_energize"]
    assert decision["likely"] is None
    assert "licensed electrician" in decision["caution"]


def test_a_proven_room_that_was_warm_may_be_heated(api, finn, proven, bed):
    read(proven, finn, 20.0)
    decision = ask(api, finn, proven)
    assert decision["holds"] == []
    assert decision["may_energize"]
    assert datetime.fromisoformat(decision["likely"]) == PLACED_AT + 168 * HOUR
    assert decision["governed_by"] == "layer 1"


def test_a_temperature_of_the_whole_site_counts_for_its_rooms(api, finn, proven, bed):
    read(proven, finn, 20.0, whole_site=True)
    assert ask(api, finn, proven)["may_energize"]


def test_an_uncertain_thermometer_counts_as_the_coldest_it_allows(api, finn, proven, bed):
    read(proven, finn, 20.0, uncertainty_k=8.0)
    assert not ask(api, finn, proven)["may_energize"]


def test_a_new_temperature_moves_the_date_that_is_shown(api, finn, room, bed):
    before = ask(api, finn, room)
    response = api(finn).post(
        "/api/v1/site-temperatures/",
        {
            "client_id": str(uuid4()), "job": str(room.job_id), "room": str(room.pk),
            "at": NOW.isoformat(), "celsius": 6.0,
        },
    )  # fmt: skip
    assert response.status_code == 201, response.content
    after = ask(api, finn, room)
    assert after["latest"] > before["latest"]


def test_what_was_measured_before_a_repair_proves_nothing_any_more(api, finn, proven, bed):
    read(proven, finn, 20.0)
    joint = {"chainage_mm": 100, "joined_at": (NOW - DAY).isoformat(), "note": ""}
    ElementFactory(contractor=proven.contractor, room=proven, joints=[joint])
    assert [hold["subject"] for hold in ask(api, finn, proven)["holds"]] == ["check:covered"]


def test_the_likely_date_has_a_band_once_a_day_is_known(api, finn, room, bed):
    assert ask(api, finn, room)["likely_band"] is None
    read(room, finn, 9.0, since=NOW - 3 * DAY)
    band = ask(api, finn, room)["likely_band"]
    assert band["share"] == 0.8
    assert band["from_at"] < band["to_at"]


def test_an_open_fault_holds_until_it_is_closed(api, finn, proven, bed):
    read(proven, finn, 20.0)
    body = {"room": str(proven.pk), "kind": "open-fault", "at": (NOW - HOUR).isoformat()}
    for outcome, held in (("fail", True), ("pass", False)):
        sent = {**body, "client_id": str(uuid4()), "outcome": outcome}
        response = api(finn).post("/api/v1/evidence/", sent)
        assert response.status_code == 201, response.content
        assert ("open-fault" in codes(ask(api, finn, proven))) is held
        body["at"] = NOW.isoformat()


def test_a_fault_on_the_record_holds_until_it_is_joined_or_voided(api, finn, proven, bed):
    read(proven, finn, 20.0)
    element = ElementFactory(contractor=proven.contractor, room=proven)
    assert "open-fault" not in codes(ask(api, finn, proven))
    faults = [
        FaultFoundFactory(
            contractor=proven.contractor, element=element, found_by=finn, found_at=NOW - at
        )
        for at in (3 * HOUR, 2 * HOUR)
    ]
    assert "open-fault" in codes(ask(api, finn, proven))
    element.joints = [{"chainage_mm": 9, "joined_at": (NOW - 2.5 * HOUR).isoformat(), "note": ""}]
    element.save()
    assert "open-fault" in codes(ask(api, finn, proven))  # the newer one is open still
    void_fault(by=finn, fault=faults[1], reason="The leads were swapped.", at=NOW)
    assert "open-fault" not in codes(ask(api, finn, proven))


def test_a_bad_promise_and_a_cold_one(api, finn, room, bed, problem):
    before = ask(api, finn, room)["likely"]
    body = {
        "room": str(room.pk), "starts_at": NOW.isoformat(),
        "ends_at": (NOW + 90 * DAY).isoformat(), "celsius": 18,
    }  # fmt: skip
    promised = api(finn).post("/api/v1/promises/", body)
    assert promised.status_code == 201
    assert ask(api, finn, room)["likely"] < before
    gone = api(finn).delete(f"/api/v1/promises/{promised.json()['id']}/")
    assert gone.status_code == 204
    assert Promise.objects.get().withdrawn_at is not None
    assert ask(api, finn, room)["likely"] == before
    backwards = api(finn).post("/api/v1/promises/", {**body, "ends_at": body["starts_at"]})
    assert problem(backwards)["errors"][0]["pointer"] == "#/ends_at"


class TestSwitchingOn:
    def switch(self, api, member, room, *, at=NOW, client_id=None, **more):
        body = {"client_id": str(client_id or uuid4()), "at": at.isoformat(), **more}
        return api(member).post(energize(room), body)

    def test_refused_with_all_that_stands_in_the_way(self, api, finn, room, bed, problem):
        refused = problem(self.switch(api, finn, room))
        assert refused["type"] == "/problems/heat-held/"
        assert refused["status"] == 409
        assert "electrician" in refused["detail"]
        assert "layer 1 has" in refused["detail"]
        assert not Energizing.objects.exists()

    def test_recorded_once_with_its_decision(self, api, finn, proven, bed):
        read(proven, finn, 20.0)
        client_id = uuid4()
        first = self.switch(api, finn, proven, client_id=client_id)
        again = self.switch(api, finn, proven, client_id=client_id)
        assert first.status_code == again.status_code == 201, first.content
        assert first.json() == again.json()
        decision = Decision.objects.get(pk=first.json()["decision"])
        assert decision.may_energize
        assert ask(api, finn, proven)["heat_on_at"] is not None

    def test_twice_for_good_is_refused(self, api, finn, proven, bed, problem):
        read(proven, finn, 20.0)
        assert self.switch(api, finn, proven).status_code == 201
        assert problem(self.switch(api, finn, proven))["status"] == 409

    def test_what_a_phone_sends_late_is_judged_by_its_own_moment(self, api, finn, proven, bed):
        read(proven, finn, 20.0)
        ready_at = PLACED_AT + 168 * HOUR
        too_early = self.switch(api, finn, proven, at=ready_at - timedelta(minutes=1))
        assert too_early.status_code == 409
        assert self.switch(api, finn, proven, at=ready_at).status_code == 201

    def test_a_brief_test_needs_no_date(self, api, finn, proven, bed):
        tested = self.switch(api, finn, proven, test_minutes=5)
        assert tested.status_code == 201, tested.content
        assert tested.json()["test_minutes"] == 5
        assert ask(api, finn, proven)["heat_on_at"] is None

    @pytest.mark.parametrize("minutes", [0, -1, 10.1, 600])
    def test_a_test_is_bounded(self, api, finn, proven, minutes, problem):
        refused = self.switch(api, finn, proven, test_minutes=minutes)
        assert problem(refused)["type"] == "/problems/test-too-long/"

    def test_no_test_on_a_floor_that_failed(self, api, finn, proven, problem):
        CheckFactory(
            contractor=proven.contractor, room=proven, stage="covered", sequence=9,
            outcome="fail", taken_at=NOW - HOUR, taken_by=finn,
        )  # fmt: skip
        refused = self.switch(api, finn, proven, test_minutes=5)
        assert problem(refused)["type"] == "/problems/heat-held/"

    def test_not_in_the_future(self, api, finn, proven, bed):
        read(proven, finn, 20.0)
        assert self.switch(api, finn, proven, at=NOW + DAY).status_code == 422


class TestHistory:
    def test_a_decision_is_kept_when_it_says_something_new(self, finn, room, bed):
        assert len(decisions.refresh([room], at=NOW)) == 1
        assert decisions.refresh([room], at=NOW) == []
        read(room, finn, 6.0, since=NOW - DAY)
        (moved,) = decisions.refresh([room], at=NOW)
        assert "New temperatures: 7, from 6 to 6 °C." in moved.moved_because
        assert moved.moved_because.startswith("Likely ")

    def test_holds_that_come_and_go_are_told(self, finn, room, bed):
        decisions.refresh([room], at=NOW)
        FloorSensorFactory(contractor=room.contractor, room=room)
        (moved,) = decisions.refresh([room], at=NOW)
        assert moved.moved_because == "Cleared: No floor sensor is recorded."

    def test_every_stored_decision_derives_again_the_same(self, api, finn, proven, bed):
        read(proven, finn, 11.37)
        decisions.refresh([proven], at=NOW)
        (kept,) = api(finn).get(f"/api/v1/rooms/{proven.pk}/decisions/").json()["results"]
        derived = api(finn).get(f"/api/v1/decisions/{kept['id']}/derivation/").json()
        assert derived["differences"] == []
        assert derived["facts_untouched"] is True
        detail = api(finn).get(f"/api/v1/decisions/{kept['id']}/").json()
        assert detail["result"]["likely"] == derived["derived"]["likely"]

    def test_facts_that_were_tampered_with_are_told(self, api, finn, proven, bed):
        read(proven, finn, 11.37)
        (kept,) = decisions.refresh([proven], at=NOW)
        facts = {**kept.facts, "assume_c": 25}
        kept.facts = facts
        derived = decisions.rederive(kept)
        assert not derived.facts_untouched
        assert "latest" in derived.differences

    def test_rooms_of_many_take_as_many_queries_as_one(
        self, finn, room, bed, django_assert_num_queries
    ):
        decisions.refresh([room], at=NOW)
        with CaptureQueriesContext(connection) as one:
            decisions.refresh([room], at=NOW)
        more = [RoomFactory(contractor=room.contractor, job=room.job) for _ in range(5)]
        decisions.refresh(more, at=NOW)
        with django_assert_num_queries(len(one)):  # nothing new: nothing is written
            decisions.refresh([room, *more], at=NOW)


class TestWhatIf:
    def suppose(self, api, member, room, body):
        response = api(member).post(f"/api/v1/rooms/{room.pk}/what-if/", body)
        assert response.status_code == 200, response.content
        return response.json()

    def test_a_warmer_room_brings_the_likely_date_forward(self, api, finn, room, bed):
        read(room, finn, 9.0, since=NOW - 2 * DAY)
        supposed = self.suppose(
            api, finn, room, {"room_c": 18, "warm_from": (NOW + DAY).isoformat()}
        )
        assert supposed["likely"] < supposed["now"]["likely"]
        assert supposed["earliest"] == supposed["now"]["earliest"]
        assert "18 °C" in supposed["because"][0]

    def test_a_rapid_mortar_instead(self, api, finn, room, bed):
        rapid = MaterialFactory(contractor=room.contractor)
        rapid.curing["heat_after_hours"] = 72.0
        rapid.save()
        body = {"materials": [{"layer": str(bed.pk), "material": str(rapid.pk)}]}
        assert self.suppose(api, finn, room, body)["likely"] <= NOW.isoformat()

    def test_a_layer_on_another_day(self, api, finn, room, bed):
        thursday = NOW + 3 * DAY
        body = {"placings": [{"layer": str(bed.pk), "placed_at": thursday.isoformat()}]}
        supposed = self.suppose(api, finn, room, body)
        assert datetime.fromisoformat(supposed["earliest"]) == thursday + 168 * HOUR
        assert supposed["earliest"] < supposed["likely"] <= supposed["latest"]
        assert Layer.objects.get().placed_at == PLACED_AT

    def test_of_another_room_is_unknown(self, api, finn, room, bed, problem):
        other = LayerFactory(contractor=room.contractor)
        body = {"placings": [{"layer": str(other.pk), "placed_at": NOW.isoformat()}]}
        response = api(finn).post(f"/api/v1/rooms/{room.pk}/what-if/", body)
        assert problem(response)["errors"][0]["pointer"] == "#/placings/0/layer"


class TestWarmUp:
    def heated(self, api, member, room, at):
        read(room, member, 20.0)
        body = {"client_id": str(uuid4()), "at": at.isoformat()}
        assert api(member).post(energize(room), body).status_code == 201

    def tick(self, api, member, room, step, done_at, **more):
        body = {"step": step, "done_at": done_at.isoformat(), **more}
        return api(member).post(f"/api/v1/rooms/{room.pk}/warm-up/", body)

    def plan(self, api, member, room):
        return api(member).get(f"/api/v1/rooms/{room.pk}/warm-up/").json()

    def test_before_heat_it_begins_at_the_likely_date(self, api, finn, proven, bed, problem):
        plan = self.plan(api, finn, proven)
        assert plan["likely"] is True
        assert plan["steps"][0]["starts_at"] == ask(api, finn, proven)["likely"]
        assert "EN 1264" in plan["highest_because"] or "practice" in plan["highest_because"]
        refused = problem(self.tick(api, finn, proven, 1, NOW))
        assert refused["type"] == "/problems/warm-up-not-begun/"

    def test_steps_are_ticked_off_in_their_order(self, api, finn, proven, bed, problem):
        self.heated(api, finn, proven, NOW - 2 * DAY)
        assert self.tick(api, finn, proven, 2, NOW).status_code == 422
        assert self.tick(api, finn, proven, 1, NOW - 1.5 * DAY).status_code == 422
        done = self.tick(api, finn, proven, 1, NOW - DAY, floor_c=18.5)
        assert done.status_code == 201, done.content
        assert self.plan(api, finn, proven)["steps"][0]["measured_c"] == 18.5
        assert self.tick(api, finn, proven, 1, NOW).status_code == 422

    def test_a_floor_too_warm_stops_it(self, api, finn, proven, bed, problem):
        self.heated(api, finn, proven, NOW - 2 * DAY)
        stopped = self.tick(api, finn, proven, 1, NOW - 1.9 * DAY, floor_c=31)
        assert stopped.status_code == 201, stopped.content
        assert "limit" in stopped.json()["stopped_because"]
        assert "limit" in self.plan(api, finn, proven)["stopped_because"]
        refused = problem(self.tick(api, finn, proven, 2, NOW))
        assert refused["type"] == "/problems/warm-up-stopped/"
