"""Every fact that a decision rests on wakes whoever works it out anew, as soon as it is written."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from config.celery import app
from scheduling.actions import notices
from tests.factories import (
    CheckFactory,
    ControlFactory,
    ElementFactory,
    FaultFoundFactory,
    FloorSensorFactory,
    JobFactory,
    LayerFactory,
    MaterialFactory,
    NoticeFactory,
    PromiseFactory,
    RoomFactory,
    VisitFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime.now(UTC).replace(microsecond=0)  # noqa: TID251  the API asks the clock
DAY = timedelta(days=1)


@pytest.fixture
def room(alder):
    return RoomFactory(contractor=alder, job=JobFactory(contractor=alder))


@pytest.fixture
def bed(room, finn):
    return LayerFactory(
        contractor=room.contractor, room=room, position=1, placed_at=NOW - 3 * DAY, placed_by=finn,
        embeds=False,
    )  # fmt: skip


@pytest.fixture
def woken(monkeypatch, django_capture_on_commit_callbacks):
    """`woken(do)` does it, and returns what was sent to workers once it was committed."""

    def of(do):
        sent = []
        monkeypatch.setattr(app, "send_task", lambda name, args, **_: sent.append((name, *args)))
        with django_capture_on_commit_callbacks(execute=True):
            response = do()
        if response is not None:
            assert response.status_code < 300, response.content
        return sent

    return of


def wakes(sent, room):
    tasks = {
        ("scheduling.tasks.refresh_room", str(room.pk)),
        ("scheduling.tasks.refresh_job", str(room.job_id)),
    }
    return bool(tasks & set(sent))


def test_what_is_put_into_a_room_or_taken_out(api, olive, alder, room, woken):
    for path, kind in (("floor-sensors", "sensor"), ("controls", "control")):
        body = {
            "room": str(room.pk), "material": str(MaterialFactory(contractor=alder, kind=kind).pk),
            "label": kind,
        }  # fmt: skip
        assert wakes(woken(lambda: api(olive).post(f"/api/v1/{path}/", body)), room)  # noqa: B023
    for path, row in (
        ("floor-sensors", FloorSensorFactory(contractor=alder, room=room)),
        ("controls", ControlFactory(contractor=alder, room=room)),
    ):
        address, gone = f"/api/v1/{path}/{row.pk}/", {"removed_at": NOW.isoformat()}
        sent = woken(lambda: api(olive).patch(address, gone, headers={"If-Match": '"1"'}))  # noqa: B023
        assert wakes(sent, room)


def test_an_element_and_its_repair(api, finn, olive, alder, room, woken):
    material = MaterialFactory(contractor=alder, kind="element")
    body = {
        "room": str(room.pk), "material": str(material.pk), "label": "A", "serial": "S-1",
        "tag_ohms": 71.1,
    }  # fmt: skip
    assert wakes(woken(lambda: api(olive).post("/api/v1/elements/", body)), room)
    element = ElementFactory(contractor=alder, room=room)
    joint = {"chainage_mm": 100, "joined_at": NOW.isoformat()}
    address = f"/api/v1/elements/{element.pk}/joints/"
    assert wakes(woken(lambda: api(finn).post(address, joint)), room)


def test_layers_promises_temperatures_and_proof(api, finn, room, bed, woken):
    bodies = {
        "site-temperatures": {"job": str(room.job_id), "at": NOW.isoformat(), "celsius": 12,
                              "client_id": str(uuid4())},
        "evidence": {
            "room": str(room.pk), "kind": "leakage-protection", "at": NOW.isoformat(),
            "client_id": str(uuid4()),
        },
        "sign-offs": {
            "job": str(room.job_id), "kind": "electrician", "name": "Elke", "licence_number": "E-1",
            "scope": "all of it", "signed_at": NOW.isoformat(), "id": str(uuid4()),
        },
    }  # fmt: skip
    for path, body in bodies.items():
        sent = woken(lambda: api(finn).post(f"/api/v1/{path}/", body))  # noqa: B023
        assert wakes(sent, room), path
    promise = {
        "room": str(room.pk), "starts_at": NOW.isoformat(), "ends_at": (NOW + DAY).isoformat(),
        "celsius": 18,
    }  # fmt: skip
    assert wakes(woken(lambda: api(finn).post("/api/v1/promises/", promise)), room)
    row = PromiseFactory(contractor=room.contractor, room=room)
    assert wakes(woken(lambda: api(finn).delete(f"/api/v1/promises/{row.pk}/")), room)
    address = f"/api/v1/layers/{bed.pk}/"
    assert wakes(woken(lambda: api(finn).delete(address, headers={"If-Match": '"1"'})), room)


def test_moisture_and_an_open_fault(api, finn, room, bed, woken):
    fault = FaultFoundFactory(contractor=room.contractor, element__room=room)
    void = f"/api/v1/faults/{fault.pk}/void/"
    assert wakes(woken(lambda: api(finn).post(void, {"reason": "Swapped."})), room)
    for told in (
        {"kind": "moisture", "layer": str(bed.pk), "value": 1.5, "method": "CM"},
        {"kind": "open-fault", "outcome": "fail"},
        {"kind": "frost-cleared", "layer": str(bed.pk)},
    ):
        body = {
            "client_id": str(uuid4()), "room": str(room.pk), "at": NOW.isoformat(), **told
        }  # fmt: skip
        assert wakes(woken(lambda: api(finn).post("/api/v1/evidence/", body)), room)  # noqa: B023


def test_what_the_job_assumes_and_the_room_requires(api, olive, room, woken):
    for address, body in (
        (f"/api/v1/jobs/{room.job_id}/", {"assume_c": 3}),
        (f"/api/v1/rooms/{room.pk}/", {"required": ["sensor"]}),
    ):
        sent = woken(lambda: api(olive).patch(address, body, headers={"If-Match": '"1"'}))  # noqa: B023
        assert wakes(sent, room), address


def test_a_warning_and_its_answer(room, finn, woken):
    CheckFactory(
        contractor=room.contractor, room=room, stage="laid", outcome="pass", taken_at=NOW - DAY,
        taken_by=finn,
    )  # fmt: skip
    visit = VisitFactory(
        contractor=room.contractor, job=room.job, room=room,
        starts_at=NOW + DAY, ends_at=NOW + DAY + timedelta(hours=2),
    )  # fmt: skip

    def review():
        notices.review_visit(visit=visit, at=NOW)

    assert wakes(woken(review), room)
    assert not wakes(woken(review), room)  # it says the same: nothing is made anew
    row = visit.notices.get()
    assert wakes(woken(lambda: notices.acknowledge(row=row, name="Bo", at=NOW) and None), room)
    answered = NoticeFactory(contractor=room.contractor, acknowledged_at=NOW, acknowledged_by="Bo")
    again = woken(lambda: notices.acknowledge(row=answered, name="Bo", at=NOW) and None)
    assert again == []
