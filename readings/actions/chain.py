"""A room while checks are accepted: locked, with its chain so far and what still counts."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.db import connection

from jobs.models import Element, FloorSensor, Member, Room
from readings import digest
from readings.actions.facts import element_facts, sensor_facts
from readings.assess import ElementFacts, Judged, RoomFacts, SensorFacts
from readings.models import STAGES, Check
from readings.sets import Wanted
from readings.verdict import Outcome

# A stage is done in a visit or two; older checks than these no longer count towards its set.
RECENT = 20

# What the rules take; a room's shapes and a material's other figures are large.
ELEMENT = (
    "room",
    "label",
    "tag_ohms",
    "tolerance_below",
    "tolerance_above",
    "tag_c",
    "alpha_per_k",
    "lead_ohms",
    "joints",
    "material__element",
)
SENSOR = ("room", "label", "material__sensor")

LATEST = """
SELECT c.room_id, c.stage, c.sequence, c.digest, c.id, c.outcome, c.taken_at,
    EXISTS (SELECT 1 FROM readings_check n WHERE n.supersedes_id = c.id),
    r.kind, r.element_id, r.sensor_id, r.lead, r.outcome
FROM unnest(%s::uuid[]) room
CROSS JOIN unnest(%s::text[]) stage
CROSS JOIN LATERAL (
    SELECT id, room_id, stage, sequence, digest, outcome, taken_at
    FROM readings_check
    WHERE room_id = room AND stage = stage.stage
    ORDER BY sequence DESC
    LIMIT %s
) c
LEFT JOIN readings_reading r ON r.check_id = c.id AND c.stage = ANY(%s)
ORDER BY c.sequence, r.position
"""


class Before(NamedTuple):
    """A check that was there already, as much as the next one needs."""

    id: UUID
    outcome: str
    taken_at: datetime
    superseded: bool


@dataclass(slots=True)
class RoomState:
    """A room and what is in it, with the checks of each stage so far, oldest first."""

    room: Room
    facts: RoomFacts
    joints: dict[str, datetime]  # label of an element -> its last repair
    sequence: int = 0
    digest: str = digest.START
    stages: dict[str, list[Before]] = field(default_factory=lambda: {name: [] for name in STAGES})
    counted: dict[UUID, list[tuple[Wanted, Outcome]]] = field(default_factory=dict)
    latest: dict[str, dict[Wanted, Outcome]] = field(default_factory=dict)

    def append(self, check: Check, judged: Sequence[Judged]) -> None:
        """Count a check that is about to be saved."""
        if target := check.supersedes_id:
            for stage, checks in self.stages.items():
                self.stages[stage] = [
                    one._replace(superseded=True) if one.id == target else one for one in checks
                ]
            self.latest.clear()
        self.sequence, self.digest = check.sequence, check.digest
        self.stages[check.stage].append(
            Before(check.pk, check.outcome, check.taken_at, superseded=False)
        )
        self.counted[check.pk] = [(one.stands_for, one.verdict.outcome) for one in judged]
        if check.stage in self.latest:
            self.latest[check.stage].update(self._still_true(check.pk, check.taken_at))

    def is_superseded(self, check_id: UUID) -> bool:
        return any(
            one.id == check_id and one.superseded
            for checks in self.stages.values()
            for one in checks
        )

    def outcome(self, stage: str) -> str | None:
        """How the stage stands by its latest check; None if there is none."""
        latest = self._standing(stage, None)
        return latest.outcome if latest else None

    def passed(self, *, without: UUID | None) -> dict[str, datetime]:
        """Stages whose latest check passed, with its time; as if `without` were not there."""
        latest = ((stage, self._standing(stage, without)) for stage in STAGES)
        return {stage: one.taken_at for stage, one in latest if one and one.outcome == "pass"}

    def earlier(self, stage: str, *, without: UUID | None) -> Mapping[Wanted, Outcome]:
        """The latest readings of a stage that still count; as if `without` were not there."""
        if without is None and stage in self.latest:
            return self.latest[stage]
        found: dict[Wanted, Outcome] = {}
        for one in self.stages[stage]:
            if not one.superseded and one.id != without:
                found.update(self._still_true(one.id, one.taken_at))
        if without is None:
            self.latest[stage] = found
        return found

    def _still_true(self, check_id: UUID, taken_at: datetime) -> list[tuple[Wanted, Outcome]]:
        """A check's readings without those of elements that were repaired since."""
        return [
            (wanted, outcome)
            for wanted, outcome in self.counted.get(check_id, ())
            if wanted.label not in self.joints or taken_at >= self.joints[wanted.label]
        ]

    def _standing(self, stage: str, without: UUID | None) -> Before | None:
        """The latest check of a stage that was not corrected."""
        for one in reversed(self.stages[stage]):
            if not one.superseded and one.id != without:
                return one
        return None


def read(room: Room) -> RoomState:
    """A room's state without a lock, for those who only look."""
    state = _states([room])[room.pk]
    _read_chains({room.pk: state}, set(STAGES))
    return state


def locked(by: Member, ids: set[UUID], stages: set[str]) -> dict[UUID, RoomState]:
    """The rooms of `ids`, locked: one writer at a time in a room's chain."""
    rooms = list(
        Room.objects.visible_to(by)
        .filter(pk__in=ids)
        .select_related("job")
        .only("contractor", "job__supply_volts", "job__time_zone")
        .select_for_update(of=("self",), no_key=True)
        .order_by("pk")  # two batches that share rooms lock them in the same order
    )
    states = _states(rooms)
    _read_chains(states, stages)
    return states


def _states(rooms: Sequence[Room]) -> dict[UUID, RoomState]:
    """The rooms with what is installed in them."""
    elements: dict[UUID, dict[UUID, ElementFacts]] = defaultdict(dict)
    joints: dict[UUID, dict[str, datetime]] = defaultdict(dict)
    installed = {"room__in": rooms, "removed_at": None}
    rows = Element.objects.filter(**installed).select_related("material").only(*ELEMENT)
    for row in rows.order_by("pk"):
        elements[row.room_id][row.pk] = element_facts(row)
        if row.joints:
            times = [datetime.fromisoformat(joint["joined_at"]) for joint in row.joints]
            joints[row.room_id][row.label] = max(times)
    sensors: dict[UUID, dict[UUID, SensorFacts]] = defaultdict(dict)
    probes = FloorSensor.objects.filter(**installed).select_related("material").only(*SENSOR)
    for probe in probes.order_by("pk"):
        sensors[probe.room_id][probe.pk] = sensor_facts(probe)
    return {
        room.pk: RoomState(
            room=room,
            facts=RoomFacts(
                supply_volts=room.job.supply_volts,
                elements=elements[room.pk],
                sensors=sensors[room.pk],
            ),
            joints=joints[room.pk],
        )
        for room in rooms
    }


def _read_chains(states: Mapping[UUID, RoomState], stages: set[str]) -> None:
    """The latest checks of every stage, and the readings of `stages`, into their rooms."""
    with connection.cursor() as cursor:
        cursor.execute(LATEST, [list(states), list(STAGES), RECENT, list(stages)])
        for room_id, stage, sequence, digested, *row in cursor.fetchall():
            state, check = states[room_id], Before(*row[:4])
            if sequence > state.sequence:
                state.sequence, state.digest = sequence, digested
                state.stages[stage].append(check)
            if (wanted := _wanted(state, *row[4:8])) is not None:
                state.counted.setdefault(check.id, []).append((wanted, row[8]))


def _wanted(
    state: RoomState, kind: str | None, element: UUID | None, sensor: UUID | None, lead: str
) -> Wanted | None:
    """What a reading stands for; None for no reading, or of what is no longer in the floor."""
    if kind is None:
        return None
    facts: ElementFacts | SensorFacts | None = None
    if element is not None:
        facts = state.facts.elements.get(element)
    elif sensor is not None:
        facts = state.facts.sensors.get(sensor)
    if facts is None and (element or sensor):
        return None
    return Wanted(
        kind=kind,
        label=facts.label if facts else "",
        lead=lead if kind == "lead_to_ground" else "",
    )
