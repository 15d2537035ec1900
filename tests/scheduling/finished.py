"""A job of one room with nothing missing before its certificate."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from jobs.models import LayingPlan, Member
from readings.actions.checks import CheckSent, record_check
from scheduling.energize import decide
from scheduling.facts import decision_to_tree, digest_of, facts_to_tree
from scheduling.models import Decision, Energizing, Layer, SignOff, WarmUpStep
from tests.factories import CURING_SPEC, ControlFactory, MaterialFactory
from tests.readings.conftest import Site
from tests.scheduling import floors

STAGES = ("arrival", "laid", "covered", "handover")
# Back and forth across a room of 3.0 × 2.4 m.
PATH = [
    (x, 150 + 100 * run)
    for run in range(21)
    for x in ((300, 2700) if run % 2 == 0 else (2700, 300))
]
PLAN = {
    "elements": [
        {
            "element": "mat",
            "path": [list(point) for point in PATH],
            "mesh": [],
            "loose_from_mm": [],
            "splice": list(PATH[0]),
            "end": list(PATH[-1]),
            "lead": [[3000, 150], list(PATH[0])],
        }
    ],
    "sensor": [1500, 500],
    "sensor_route": [[3000, 150], [1500, 500]],
    "covered_m2": 5.0,
    "heatable_m2": 5.4,
    "unreached": [],
    "because": [],
}


class Finished(Site):
    """The same room, with every check passed, warm and signed for."""

    def __init__(
        self, by: Member, now: datetime, signed: tuple[str, ...] = ("electrician", "customer")
    ) -> None:
        super().__init__(by.contractor)
        self.by, self.now = by, now
        self.room.control_mm, self.room.door_mm = [3000, 150], [[1950, 0], [2750, 0]]
        self.room.doorways = [[[3000, 1200], [3000, 2000]]]
        self.room.name = "Bathroom"
        self.room.save()
        ControlFactory(contractor=by.contractor, room=self.room)
        LayingPlan.objects.create(
            **self.of_room,
            basis="as_laid",
            plan=PLAN,
            tolerance_mm=30,
            room_version=1,
            drawn_at=now,
            drawn_by=by,
        )
        for days, stage in enumerate(STAGES):
            self.pass_check(stage, at=now - timedelta(days=30 - days))
        self.cover()
        self.energize()
        for kind in signed:
            self.sign(kind)

    @property
    def of_room(self) -> dict[str, Any]:
        return {"contractor": self.by.contractor, "room": self.room}

    def pass_check(self, stage: str, at: datetime) -> Any:
        body = self.handover_set() if stage == "handover" else self.full_set()
        sent = CheckSent(
            client_id=uuid4(),
            room=self.room.pk,
            stage=stage,
            taken_at=at,
            readings=[{**each, "range": UUID(each["range"])} for each in body],
        )
        return record_check(by=self.by, sent=sent, at=at)

    def cover(self) -> None:
        mortar = MaterialFactory(contractor=self.by.contractor, name="Grey dry-set mortar")
        self.layer = Layer.objects.create(
            **self.of_room,
            material=mortar,
            position=1,
            embeds=True,
            thickness_mm=8,
            placed_at=self.now - timedelta(days=27),
            placed_by=self.by,
            curing=CURING_SPEC,
        )

    def decide(self, *, holds: tuple[dict[str, str], ...] = ()) -> Decision:
        """A decision on a cool floor whose thermometer was silent for 48 hours."""
        placed_at, decided_at = self.layer.placed_at, self.now - timedelta(days=10)
        bed = floors.layer(str(self.layer.pk), placed_at=placed_at, name="Grey dry-set mortar")
        later = placed_at + timedelta(hours=140)
        readings = [
            *floors.steady(12.0, start=placed_at, hours=100),
            *floors.steady(12.0, start=later, hours=260),
        ]
        known = floors.facts(bed, readings=readings, now=decided_at)
        facts = facts_to_tree(known)
        return Decision.objects.create(
            **self.of_room,
            decided_at=decided_at,
            facts=facts,
            facts_digest=digest_of(facts),
            result=decision_to_tree(decide(known)) | {"holds": list(holds)},
            may_energize=not holds,
        )

    def energize(self) -> None:
        heat = Energizing.objects.create(
            **self.of_room,
            client_id=uuid4(),
            at=self.now - timedelta(days=9),
            decision=self.decide(),
            recorded_by=self.by,
        )
        WarmUpStep.objects.create(
            contractor=self.by.contractor,
            energizing=heat,
            step=1,
            done_at=self.now - timedelta(days=8),
            floor_c=18.5,
            recorded_by=self.by,
        )

    def sign(self, kind: str) -> SignOff:
        electrician = kind == "electrician"
        return SignOff.objects.create(
            contractor=self.by.contractor,
            job=self.job,
            client_id=uuid4(),
            kind=kind,
            name="E. Volt" if electrician else "C. Owner",
            licence_number="E-1234" if electrician else "",
            scope="Circuit and control." if electrician else "Received, warm-up explained.",
            signed_at=self.now - timedelta(days=1),
            received_at=self.now,
            recorded_by=self.by,
        )
