"""A small company with one job of each kind, as pages have to show it. All of it is invented."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from jobs.laying.plan import LaidElement, LayingPlan, dump_plan
from jobs.models import Job, KeepOut, Member, Room
from jobs.models import LayingPlan as StoredPlan
from readings.actions.checks import CheckSent, record_check
from readings.models import InstrumentRange
from scheduling.energize import CAUTION
from scheduling.models import Decision, Layer, Notice, Visit
from tests.factories import (
    BookingFactory,
    ControlFactory,
    CrewAbsenceFactory,
    CrewFactory,
    CustomerFactory,
    ElementFactory,
    FloorSensorFactory,
    InstrumentFactory,
    InstrumentRangeFactory,
    JobFactory,
    MaterialFactory,
    RoomFactory,
)
from tests.jobs.floors import CABLE


@dataclass
class World:
    job: Job
    bathroom: Room
    kitchen: Room
    meter: InstrumentRange
    visit: Visit


def build(olive: Member, finn: Member, now: datetime) -> World:
    """14 Mill Lane: a bathroom with bare cable, a kitchen that cures; and three other jobs."""
    alder = olive.contractor
    day = now.astimezone(ZoneInfo(alder.time_zone)).date()
    own: dict[str, Any] = {"contractor": alder}
    customer = CustomerFactory(name="Ada Customer", phone="+47 55 00 01 00", **own)
    job = JobFactory(customer=customer, due_on=day + timedelta(days=16), number=1, **own)
    mat = MaterialFactory(kind="element", name="Mat 3.1 m²", **own)
    probe = MaterialFactory(kind="sensor", name="Floor probe 10 kΩ", **own)
    thermostat = MaterialFactory(kind="control", name="Wall control", **own)
    mortar = MaterialFactory(name="Mortar bed", **own)
    bathroom = RoomFactory(job=job, name="Bathroom", door_mm=[[1950, 0], [2750, 0]], **own)
    bathroom.control_mm = [3000, 472]
    bathroom.save()
    for at, (kind, name, x, y, wide, deep) in enumerate(
        [("fixture", "Bathtub", 0, 1650, 1700, 750), ("toilet", "", 2400, 1700, 600, 400)]
    ):
        corners = [[x, y], [x + wide, y], [x + wide, y + deep], [x, y + deep]]
        KeepOut.objects.create(
            room=bathroom, kind=kind, name=name, outline=corners, position=at, **own
        )
    StoredPlan.objects.create(
        room=bathroom,
        basis="as_laid",
        plan=dump_plan(
            LayingPlan(
                elements=(
                    LaidElement(
                        element="M1",
                        path=tuple(CABLE),
                        mesh=(),
                        loose_from_mm=(),
                        splice=CABLE[0],
                        end=CABLE[-1],
                        lead=((3000, 472), (2950, 100), (600, 100), CABLE[0]),
                    ),
                ),
                sensor=(1500, 487),
                sensor_route=((3000, 472), (2900, 487), (1500, 487)),
                covered_m2=3.1,
                heatable_m2=3.3,
                unreached=(),
                because=("Passes run along the longer wall.",),
            )
        ),
        tolerance_mm=30,
        room_version=1,
        drawn_at=now - timedelta(hours=5),
        drawn_by=finn,
        **own,
    )
    kitchen = RoomFactory(job=job, name="Kitchen", **own)
    for room in (bathroom, kitchen):
        ElementFactory(room=room, material=mat, label="M1", tag_ohms=98.0, **own)
        FloorSensorFactory(room=room, material=probe, label="S1", **own)
        ControlFactory(room=room, material=thermostat, label="C1", **own)
    meter = InstrumentRangeFactory(instrument=InstrumentFactory(name="M-3", **own), **own)
    InstrumentRangeFactory(
        instrument=meter.instrument,
        name="2 kΩ",
        full_scale=2000.0,
        resolution=1.0,
        percent_of_reading=1.0,
        digits=3.0,
        **own,
    )
    for room, value, hours in ((bathroom, 100.2, 4), (kitchen, 99.4, 80)):
        record_check(
            by=finn,
            sent=CheckSent(
                client_id=uuid4(),
                room=room.pk,
                stage="laid",
                taken_at=now - timedelta(hours=hours),
                readings=[{"kind": "element", "range": meter.pk, "value": value}],
            ),
            at=now - timedelta(hours=hours),
        )
    Layer.objects.create(
        room=kitchen,
        material=mortar,
        position=1,
        embeds=True,
        thickness_mm=8,
        placed_at=now - timedelta(hours=72),
        placed_by=finn,
        client_id=uuid4(),
        curing=mortar.curing,
        **own,
    )
    Layer.objects.create(
        room=bathroom, material=mortar, position=1, embeds=True, thickness_mm=8, **own
    )
    Decision.objects.create(
        room=kitchen,
        decided_at=now,
        facts={},
        facts_digest="0" * 64,
        result={
            "layers": [
                {
                    "id": "layer 1",
                    "equivalent_hours": 61.0,
                    "required_hours": 168.0,
                    "unknown_hours": 4.0,
                    "ready": None,
                }
            ],
            "because": [
                "layer 1, Mortar bed: 61 of 168 h at 20 °C are reached; below 5 °C nothing counts."
            ],
            "holds": [
                {
                    "code": "electrician-missing",
                    "subject": "electrician",
                    "text": "The electrician has not signed.",
                    "cleared_by": "The licensed electrician signs.",
                }
            ],
            "caution": CAUTION,
        },
        may_energize=False,
        earliest=now + timedelta(days=5),
        likely=now + timedelta(days=6),
        latest=now + timedelta(days=9),
        **own,
    )
    north = CrewFactory(name="North", **own)
    north.members.add(finn)
    south = CrewFactory(name="South", **own)
    CrewAbsenceFactory(crew=south, day=day + timedelta(days=1), note="leave", **own)
    today = {"crew": north, "booked_by": olive, **own}
    BookingFactory(job=job, room=bathroom, task="lay", day=day, half="am", **today)
    tomorrow = day + timedelta(days=1)
    BookingFactory(job=job, room=bathroom, task="embed", day=tomorrow, half="pm", **today)
    visit = Visit.objects.create(
        job=job,
        room=bathroom,
        trade="plumber",
        company="Tap & Sons",
        phone="+47 55 00 01 01",
        email="plumber@tap.example",
        activities=["walking", "drilling"],
        starts_at=now + timedelta(hours=5),
        ends_at=now + timedelta(hours=8),
        **own,
    )
    Notice.objects.create(
        visit=visit,
        content={},
        made_at=now,
        send_after=now,
        sent_at=now,
        **own,
    )
    for at, street in enumerate(("31 Harbour View", "2 Church Row", "70 Long Lane"), start=2):
        other = JobFactory(customer=customer, street=street, number=at, **own)
        RoomFactory(job=other, name="Hall", **own)
    late = JobFactory(
        customer=customer,
        street="9 Elm Court",
        due_on=day - timedelta(days=2),
        number=9,
        **own,
    )
    pinned = {"job": late, "pinned": True, "half": "am", "task": "tile", "booked_by": olive, **own}
    BookingFactory(
        room=RoomFactory(job=late, name="Kitchen", **own),
        crew=south,
        day=day + timedelta(days=2),
        **pinned,
    )
    return World(job=job, bathroom=bathroom, kitchen=kitchen, meter=meter, visit=visit)
