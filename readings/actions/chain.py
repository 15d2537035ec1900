"""A room while checks are accepted: locked, with its chain so far and what still counts."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple, cast
from uuid import UUID

from django.db import connection

from jobs.models import Element, FloorSensor, Member, Room
from readings import digest
from readings.actions.facts import element_facts, sensor_facts
from readings.assess import ElementFacts, Judged, RoomFacts, SensorFacts
from readings.models import STAGES, Check, Reading
from readings.sets import Wanted
from readings.verdict import Outcome

# A stage is done in a visit or two; older checks than these no longer count towards its set.
RECENT = 20


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
    for row in Element.objects.filter(**installed).select_related("material").order_by("pk"):
        elements[row.room_id][row.pk] = element_facts(row)
        if row.joints:
            times = [datetime.fromisoformat(joint["joined_at"]) for joint in row.joints]
            joints[row.room_id][row.label] = max(times)
    sensors: dict[UUID, dict[UUID, SensorFacts]] = defaultdict(dict)
    for probe in FloorSensor.objects.filter(**installed).select_related("material").order_by("pk"):
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
    rooms: dict[UUID, UUID] = {}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT c.room_id, c.stage, c.sequence, c.digest, c.id, c.outcome, c.taken_at, "
            "EXISTS (SELECT 1 FROM readings_check n WHERE n.supersedes_id = c.id) "
            "FROM unnest(%s::uuid[]) room CROSS JOIN unnest(%s::text[]) stage "
            "CROSS JOIN LATERAL (SELECT * FROM readings_check WHERE room_id = room "
            "AND stage = stage.stage ORDER BY sequence DESC LIMIT %s) c ORDER BY c.sequence",
            [list(states), list(STAGES), RECENT],
        )
        for room_id, stage, sequence, digested, *row in cursor.fetchall():
            state, check = states[room_id], Before(*row)
            state.sequence, state.digest = sequence, digested
            state.stages[stage].append(check)
            if stage in stages:
                rooms[check.id] = room_id
    if not rooms:
        return
    rows = (
        Reading.objects.filter(visit_id__in=rooms)
        .order_by("visit_id", "position")
        .values_list("visit_id", "kind", "element_id", "sensor_id", "lead", "outcome")
    )
    for visit, kind, element, sensor, lead, outcome in rows:
        state = states[rooms[visit]]
        facts = state.facts.elements.get(element) or state.facts.sensors.get(sensor)
        if facts is None and (element or sensor):
            continue  # what was measured is no longer in the floor
        wanted = Wanted(
            kind=kind,
            label=facts.label if facts and kind != "supply" else "",
            lead=lead if kind == "lead_to_ground" else "",
        )
        state.counted.setdefault(visit, []).append((wanted, cast(Outcome, outcome)))
