"""Layers over the API: planned, placed in their order, taken out; and proof sent once."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from jobs.materials import KINDS
from readings.models import SiteTemperature
from scheduling.models import Evidence, Layer
from tests.factories import CheckFactory, LayerFactory, MaterialFactory, RoomFactory

pytestmark = pytest.mark.django_db

NOW = datetime.now(UTC).replace(microsecond=0)  # noqa: TID251  the API asks the clock
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LAYERS = "/api/v1/layers/"


@pytest.fixture
def room(alder):
    return RoomFactory(contractor=alder)


@pytest.fixture
def mortar(alder):
    return MaterialFactory(contractor=alder)


@pytest.fixture
def checked(room, finn):
    return CheckFactory(
        contractor=room.contractor, room=room, stage="laid", outcome="pass",
        taken_at=NOW - 5 * DAY, taken_by=finn,
    )  # fmt: skip


def body(room, material, **more):
    return {"room": str(room.pk), "material": str(material.pk), **more}


def warm(room, finn, celsius=20.0):
    SiteTemperature.objects.bulk_create(
        SiteTemperature(
            contractor_id=room.contractor_id, job=room.job, room=room, client_id=uuid4(),
            at=NOW - hours * HOUR, celsius=celsius, source="logger", received_at=NOW,
            taken_by=finn,
        )
        for hours in range(0, 24 * 10, 4)
    )  # fmt: skip


def test_a_planned_layer_is_placed_later(api, finn, room, mortar, checked):
    planned = api(finn).post(LAYERS, body(room, mortar, embeds=True))
    assert planned.status_code == 201, planned.content
    assert planned.json()["placed_at"] is None
    assert planned.json()["name"] == "layer 1"
    placed = api(finn).patch(
        f"{LAYERS}{planned.json()['id']}/",
        {"placed_at": (NOW - 4 * DAY).isoformat()},
        headers={"If-Match": planned["ETag"]},
    )
    assert placed.status_code == 200, placed.content
    assert Layer.objects.get().curing == mortar.curing


def test_placed_at_once_and_sent_twice_is_one_layer(api, finn, room, mortar, checked):
    sent = body(
        room, mortar, embeds=True, client_id=str(uuid4()), placed_at=(NOW - DAY).isoformat()
    )
    first, again = api(finn).post(LAYERS, sent), api(finn).post(LAYERS, sent)
    assert first.status_code == again.status_code == 201, first.content
    assert first.json() == again.json()
    other = api(finn).post(LAYERS, {**sent, "thickness_mm": 7})
    assert other.status_code == 409


def test_the_figures_of_the_day_stay_when_the_catalogue_changes(api, finn, room, mortar, checked):
    api(finn).post(LAYERS, body(room, mortar, embeds=True, placed_at=NOW.isoformat()))
    mortar.curing["heat_after_hours"] = 24.0
    mortar.save()
    decision = api(finn).get(f"/api/v1/rooms/{room.pk}/energize/").json()
    assert decision["layers"][0]["required_hours"] == 168


def test_an_assumption_stays_one_though_the_entry_gets_a_sheet(api, finn, room, mortar, checked):
    mortar.generic = True
    mortar.save()
    api(finn).post(LAYERS, body(room, mortar, embeds=True, placed_at=NOW.isoformat()))
    mortar.generic, mortar.sheet = False, "Sheet 8"
    mortar.save()
    decision = api(finn).get(f"/api/v1/rooms/{room.pk}/energize/").json()
    assert any("are assumptions" in sentence for sentence in decision["because"])


def test_not_in_the_future(api, finn, room, mortar, checked, problem):
    sent = body(room, mortar, embeds=True, placed_at=(NOW + DAY).isoformat())
    refused = problem(api(finn).post(LAYERS, sent))
    assert refused["type"] == "/problems/not-yet/"
    assert refused["errors"][0]["pointer"] == "#/placed_at"
    assert not Layer.objects.exists()


def test_not_before_the_bare_cable_was_checked(api, finn, room, mortar, problem):
    sent = body(room, mortar, embeds=True, placed_at=NOW.isoformat())
    refused = problem(api(finn).post(LAYERS, sent))
    assert refused["type"] == "/problems/layer-too-soon/"
    assert "“laid”" in refused["detail"]


@pytest.mark.parametrize("outcome", ["fail", "undecided"])
def test_not_over_a_cable_that_did_not_pass(api, finn, room, mortar, checked, outcome, problem):
    CheckFactory(
        contractor=room.contractor, room=room, stage="laid", outcome=outcome, sequence=2,
        taken_at=NOW - 4 * DAY, taken_by=finn,
    )  # fmt: skip
    before = body(room, mortar, embeds=True, placed_at=(NOW - 3 * DAY).isoformat())
    assert problem(api(finn).post(LAYERS, before))["type"] == "/problems/layer-too-soon/"
    earlier = body(room, mortar, embeds=True, placed_at=(NOW - 4 * DAY - HOUR).isoformat())
    assert api(finn).post(LAYERS, earlier).status_code == 201


def test_a_layer_without_the_cable_needs_no_check(api, finn, room, mortar):
    sent = body(room, mortar, placed_at=NOW.isoformat())
    assert api(finn).post(LAYERS, sent).status_code == 201


@pytest.mark.parametrize(
    ("hours_after", "status"), [(23, 422), (24, 201)], ids=["too soon", "in time"]
)
def test_a_layer_only_on_one_that_bears_it(api, finn, room, mortar, hours_after, status):
    warm(room, finn)
    first_at = NOW - 3 * DAY
    assert api(finn).post(LAYERS, body(room, mortar, placed_at=first_at.isoformat())).status_code
    second_at = first_at + hours_after * HOUR
    response = api(finn).post(LAYERS, body(room, mortar, placed_at=second_at.isoformat()))
    assert response.status_code == status, response.content


def test_in_the_cold_it_takes_longer_until_the_next_layer(api, finn, room, mortar, problem):
    warm(room, finn, celsius=6.0)
    first_at = NOW - 3 * DAY
    api(finn).post(LAYERS, body(room, mortar, placed_at=first_at.isoformat()))
    soon = body(room, mortar, placed_at=(first_at + 30 * HOUR).isoformat())
    refused = problem(api(finn).post(LAYERS, soon))
    assert "bears another layer after 24 h" in refused["detail"]
    assert Layer.objects.count() == 1


def test_a_layer_on_one_that_is_only_planned_is_refused(api, finn, room, mortar, problem):
    api(finn).post(LAYERS, body(room, mortar))
    refused = problem(api(finn).post(LAYERS, body(room, mortar, placed_at=NOW.isoformat())))
    assert "layer 1 below it is not placed" in refused["detail"]


def test_what_does_not_cure_is_no_layer(api, finn, room, alder, problem):
    cable = MaterialFactory(contractor=alder, kind="element")
    assert KINDS["element"] != "curing"
    refused = problem(api(finn).post(LAYERS, body(room, cable)))
    assert refused["errors"][0]["pointer"] == "#/material"


def test_a_thickness_that_the_sheet_does_not_allow(api, finn, room, mortar, problem):
    mortar.curing |= {"least_mm": 3.0, "most_mm": 12.0}
    mortar.save()
    refused = problem(api(finn).post(LAYERS, body(room, mortar, thickness_mm=40)))
    assert "3 to 12 mm" in refused["detail"]


def test_a_position_is_taken_once(api, finn, room, mortar, problem):
    api(finn).post(LAYERS, body(room, mortar, position=2))
    assert problem(api(finn).post(LAYERS, body(room, mortar, position=2)))["status"] == 409


def test_foreign_and_unknown_ids_look_the_same(api, finn, room, mortar, bo, problem):
    foreign = MaterialFactory(contractor=bo.contractor)
    answers = [
        problem(api(finn).post(LAYERS, {"room": str(room.pk), "material": str(each)}))
        for each in (foreign.pk, uuid4())
    ]
    assert answers[0] == answers[1]


def test_a_layer_taken_out_stays_in_the_record(api, finn, room):
    layer = LayerFactory(contractor=room.contractor, room=room)
    gone = api(finn).delete(f"{LAYERS}{layer.pk}/", headers={"If-Match": '"1"'})
    assert gone.status_code == 200
    assert api(finn).get(f"{LAYERS}?room={room.pk}").json()["results"] == []
    removed = api(finn).get(f"{LAYERS}?room={room.pk}&removed=true").json()["results"]
    assert [each["id"] for each in removed] == [str(layer.pk)]
    stale = api(finn).delete(f"{LAYERS}{layer.pk}/", headers={"If-Match": '"1"'})
    assert stale.status_code == 412


class TestEvidence:
    def send(self, api, member, room, **more):
        sent = {
            "client_id": str(uuid4()), "room": str(room.pk), "kind": "leakage-protection",
            "at": NOW.isoformat(), **more,
        }  # fmt: skip
        return api(member).post("/api/v1/evidence/", sent), sent

    def test_sent_twice_is_one(self, api, finn, room):
        first, sent = self.send(api, finn, room)
        again = api(finn).post("/api/v1/evidence/", sent)
        assert first.json() == again.json()
        assert Evidence.objects.count() == 1
        other = api(finn).post("/api/v1/evidence/", {**sent, "note": "another"})
        assert other.status_code == 409

    @pytest.mark.parametrize(
        ("pointer", "told"),
        [
            ("#/name", {"kind": "electrician"}),
            ("#/licence_number", {"kind": "electrician", "name": "Elke Storm"}),
            ("#/layer", {"kind": "moisture", "value": 1.5, "method": "CM"}),
            ("#/layer", {"kind": "frost-cleared"}),
            ("#/at", {"at": (NOW + DAY).isoformat()}),
            ("#/kind", {"kind": "open_fault"}),
            ("#/value", {"kind": "moisture", "value": -1}),
        ],
    )
    def test_unclear_proof_is_refused(self, api, finn, room, pointer, told, problem):
        response, _ = self.send(api, finn, room, **told)
        assert problem(response)["errors"][0]["pointer"] == pointer

    def test_moisture_without_value_or_method(self, api, finn, room, problem):
        layer = str(LayerFactory(contractor=room.contractor, room=room).pk)
        for missing, told in (("#/value", {"method": "CM"}), ("#/method", {"value": 1.0})):
            response, _ = self.send(api, finn, room, kind="moisture", layer=layer, **told)
            assert problem(response)["errors"][0]["pointer"] == missing

    def test_a_layer_of_another_room_is_refused(self, api, finn, room, problem):
        layer = LayerFactory(contractor=room.contractor)
        response, _ = self.send(api, finn, room, kind="frost-cleared", layer=str(layer.pk))
        assert problem(response)["errors"][0]["pointer"] == "#/layer"
