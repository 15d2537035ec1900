"""A room while checks are accepted: locked, with its chain so far and what still counts."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
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

# Readings of older checks of a stage no longer count towards its set.
RECENT = 40
# Of the checks that stand, as many as corrections in one batch may take away.
STANDING = 5

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

CHECKS = """
SELECT c.room_id, c.stage, c.sequence, c.digest, c.id, c.outcome, c.taken_at
FROM unnest(%s::uuid[]) room
CROSS JOIN unnest(%s::text[]) stage
CROSS JOIN LATERAL (
    SELECT *
    FROM readings_check
    WHERE room_id = room AND stage = stage.stage
        AND NOT EXISTS (
            SELECT 1 FROM readings_check newer WHERE newer.supersedes_id = readings_check.id)
    ORDER BY sequence DESC
    LIMIT %s
) c
ORDER BY c.sequence
"""

# The latest reading of each kind, or all of them where some may turn out not to count.
READINGS = """
SELECT room_id, stage, id, taken_at, taken_by_id, kind, element_id, sensor_id, lead, outcome
FROM (
    SELECT c.room_id, c.stage, c.sequence, c.id, c.taken_at, c.taken_by_id, r.position, r.kind,
        r.element_id, r.sensor_id, r.lead, r.outcome, row_number() OVER (
            PARTITION BY c.room_id, c.stage, r.kind, r.element_id, r.sensor_id, r.lead
            ORDER BY c.sequence DESC, r.position DESC) AS age
    FROM unnest(%s::uuid[]) room
    CROSS JOIN unnest(%s::text[]) stage
    CROSS JOIN LATERAL (
        SELECT *
        FROM readings_check
        WHERE room_id = room AND stage = stage.stage
            AND NOT EXISTS (
                SELECT 1 FROM readings_check newer WHERE newer.supersedes_id = readings_check.id)
        ORDER BY sequence DESC
        LIMIT %s
    ) c
    JOIN readings_reading r ON r.check_id = c.id
) aged
WHERE age = 1 OR %s
ORDER BY sequence, position
"""


class Before(NamedTuple):
    """A check that was there already and stands, as much as the next one needs."""

    id: UUID
    outcome: str
    taken_at: datetime


class Counted(NamedTuple):
    """A reading of it, and what it stands for."""

    check_id: UUID
    taken_at: datetime
    taken_by: UUID
    wanted: Wanted
    outcome: Outcome


@dataclass(slots=True)
class RoomState:
    """A room and what is in it, with the checks of each stage that stand, oldest first."""

    room: Room
    facts: RoomFacts
    joints: dict[str, datetime]  # label of an element -> its last repair
    sequence: int = 0
    digest: str = digest.START
    corrected: set[UUID] = field(default_factory=set)
    stages: dict[str, list[Before]] = field(default_factory=lambda: defaultdict(list))
    counted: dict[str, list[Counted]] = field(default_factory=lambda: defaultdict(list))
    latest: dict[str, dict[Wanted, Outcome]] = field(default_factory=dict)

    def append(self, check: Check, judged: Sequence[Judged]) -> None:
        """Count a check that is about to be saved, and no longer the one that it corrects."""
        if target := check.supersedes_id:
            self.corrected.add(target)
            for stage in STAGES:
                self.stages[stage] = [one for one in self.stages[stage] if one.id != target]
                self.counted[stage] = [one for one in self.counted[stage] if one.check_id != target]
            self.latest.clear()
        self.sequence, self.digest = check.sequence, check.digest
        self.stages[check.stage].append(Before(check.pk, check.outcome, check.taken_at))
        fresh = [
            Counted(
                check.pk, check.taken_at, check.taken_by_id, one.stands_for, one.verdict.outcome
            )
            for one in judged
        ]
        self.counted[check.stage] += fresh
        if check.stage in self.latest:
            self.latest[check.stage].update(self._still_true(fresh))

    def outcome(self, stage: str) -> str | None:
        """How the stage stands by its latest check; None if there is none."""
        return self.stages[stage][-1].outcome if self.stages[stage] else None

    def passed(self, *, without: UUID | None) -> dict[str, datetime]:
        """Stages whose latest check passed, with its time; as if `without` were not there."""
        found = {}
        for stage in STAGES:
            standing = [one for one in self.stages[stage][-STANDING:] if one.id != without]
            if standing and standing[-1].outcome == "pass":
                found[stage] = standing[-1].taken_at
        return found

    def earlier(self, stage: str, *, without: UUID | None) -> Mapping[Wanted, Outcome]:
        """The latest readings of a stage that still count; as if `without` were not there."""
        if without is not None:
            rest = [one for one in self.counted[stage] if one.check_id != without]
            return dict(self._still_true(rest))
        if stage not in self.latest:
            self.latest[stage] = dict(self._still_true(self.counted[stage]))
        return self.latest[stage]

    def by_others(
        self, stage: str, judged: Sequence[Judged], *, taken_by: UUID, without: UUID | None
    ) -> list[datetime]:
        """When other members took readings of the same things."""
        same = {one.stands_for for one in judged}
        return [
            one.taken_at
            for one in self.counted[stage]
            if one.taken_by != taken_by and one.wanted in same and one.check_id != without
        ]

    def _still_true(self, counted: Iterable[Counted]) -> Iterator[tuple[Wanted, Outcome]]:
        """Readings without those of elements that were repaired since."""
        for one in counted:
            joined_at = self.joints.get(one.wanted.label)
            if joined_at is None or one.taken_at >= joined_at:
                yield one.wanted, one.outcome


def read(room: Room) -> RoomState:
    """A room's state without a lock, for those who only look."""
    return read_rooms([room])[room.pk]


def read_rooms(rooms: Sequence[Room]) -> dict[UUID, RoomState]:
    """The same of rooms, in so many queries for all of them; jobs are read with the rooms."""
    states = _states(rooms)
    _read_chains(states, set(STAGES), correcting=False)
    return states


def locked(
    by: Member, ids: set[UUID], stages: set[str], *, correcting: bool
) -> dict[UUID, RoomState]:
    """The rooms of `ids`, locked: one writer at a time in a room's chain.

    `correcting` says that some of the checks to come will take the place of earlier ones.
    """
    rooms = list(
        Room.objects.visible_to(by)
        .filter(pk__in=ids)
        .select_related("job")
        .only("contractor", "job__supply_volts", "job__time_zone")
        .select_for_update(of=("self",), no_key=True)
        .order_by("pk")  # two batches that share rooms lock them in the same order
    )
    states = _states(rooms)
    _read_chains(states, stages, correcting=correcting)
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


def _read_chains(states: Mapping[UUID, RoomState], stages: set[str], *, correcting: bool) -> None:
    """The latest checks of every stage, and the readings of `stages`, into their rooms."""
    rooms = list(states)
    with connection.cursor() as cursor:
        cursor.execute(CHECKS, [rooms, list(STAGES), STANDING])
        for room_id, stage, sequence, digested, *check in cursor.fetchall():
            state = states[room_id]
            # A corrected check is never the last one, so these tell the end of the chain.
            state.sequence, state.digest = sequence, digested
            state.stages[stage].append(Before(*check))
        if not any(state.stages[stage] for state in states.values() for stage in stages):
            return
        every = correcting or any(state.joints for state in states.values())
        cursor.execute(READINGS, [rooms, list(stages), RECENT, every])
        for room_id, stage, check_id, taken_at, taken_by, *reading, outcome in cursor.fetchall():
            state = states[room_id]
            if (wanted := _wanted(state, *reading)) is not None:
                state.counted[stage].append(Counted(check_id, taken_at, taken_by, wanted, outcome))


def _wanted(
    state: RoomState, kind: str, element: UUID | None, sensor: UUID | None, lead: str
) -> Wanted | None:
    """What a reading stands for; None if what was measured is no longer in the floor."""
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
