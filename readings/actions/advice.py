"""What to know before or between readings: suitable ranges, sets, trends, watches. Only reads."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from jobs.models import Element, Member, Room
from readings import continuity, sets, trend
from readings.actions.chain import RoomState, read_rooms
from readings.actions.facts import element_facts, range_of
from readings.assess import caution
from readings.element import at_tag_temperature, expected
from readings.instruments import calibration, suitable
from readings.models import InstrumentRange, MonitorEvent, Reading

# What was done to the floor by the time of a check of this stage, where nothing finer is recorded.
WORK_BEFORE = {
    "laid": "laying the element",
    "covered": "covering it",
    "handover": "connecting the control",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SuitableRange:
    """A range of one of the contractor's meters, rated for an element."""

    range: UUID
    instrument: UUID
    instrument_name: str
    range_name: str
    suits: bool
    margin: float
    because: str
    calibration: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSet:
    """What a stage of a room needs and still lacks, in words, and how it stands."""

    stage: str
    outcome: str | None
    needed: tuple[str, ...]
    missing: tuple[str, ...]
    caution: str


class Trend(NamedTuple):
    """An element's readings at its tag's temperature, from each to the next and over all."""

    element: Element
    points: list[trend.Point]
    steps: list[trend.Step]
    drift: trend.Step | None


def suitable_ranges(
    *, by: Member, element: Element, at_c: float | None, at: datetime
) -> list[SuitableRange]:
    """Every range that reads ohms, best first; an overdue meter suits nothing."""
    wanted = expected(element_facts(element).tag, at_c)
    today = at.astimezone(ZoneInfo(element.room.job.time_zone)).date()
    rows = (
        InstrumentRange.objects.visible_to(by)
        .filter(quantity="ohms", instrument__retired_at=None)
        .select_related("instrument")
        .order_by("instrument__name", "full_scale", "pk")
    )
    found = []
    for row in rows:
        (rated,) = suitable(
            [range_of(row)],
            expected_ohms=wanted.ohms,
            low_ohms=wanted.low,
            high_ohms=wanted.high,
            other_u_ohms=row.instrument.lead_ohms / 2 / 3**0.5,
        )
        calibrated = calibration(row.instrument.calibration_due_on, today)
        found.append(
            SuitableRange(
                range=row.pk,
                instrument=row.instrument_id,
                instrument_name=row.instrument.name,
                range_name=row.name,
                suits=rated.suits and calibrated.trusted,
                margin=rated.margin,
                because=rated.because if calibrated.trusted else calibrated.because,
                calibration=calibrated.because,
            )
        )
    return sorted(found, key=lambda one: (not one.suits, -one.margin))


def stage_sets(room: Room) -> list[StageSet]:
    """How each stage of a room stands."""
    return stage_sets_of([room])[room.pk]


def stage_sets_of(rooms: Sequence[Room]) -> dict[UUID, list[StageSet]]:
    """How each stage of rooms stands, by room, in so many queries for all of them."""
    return {room_id: _stage_sets(state) for room_id, state in read_rooms(rooms).items()}


def _stage_sets(state: RoomState) -> list[StageSet]:
    labels = [one.label for one in state.facts.elements.values()]
    sensors = [one.label for one in state.facts.sensors.values()]
    found = []
    for stage in sets.ORDER:
        needed = sets.needed(stage, labels, sensors)
        taken = state.earlier(stage, without=None)
        missing = tuple(one.words for one in sets.missing(needed, taken))
        outcome = state.outcome(stage)
        found.append(
            StageSet(
                stage=stage,
                # A repair makes readings due again that a check had passed.
                outcome="undecided" if outcome == "pass" and missing else outcome,
                needed=tuple(one.words for one in needed),
                missing=missing,
                caution=caution(stage),
            )
        )
    return found


def trend_of(element: Element, works: Iterable[trend.Work] = ()) -> Trend:
    """Whether an element moved between its checks.

    `works` are what others recorded as done to the floor; repairs and the stages themselves are
    known here.
    """
    tag = element_facts(element).tag
    readings = (
        Reading.objects.filter(
            element=element,
            kind="element",
            value__gt=0,
            visit__superseded_by=None,
        )
        .select_related("visit")
        .order_by("visit__taken_at", "visit__sequence", "position")
    )
    points = [
        trend.Point(
            name=row.visit.stage,
            at=row.visit.taken_at,
            ohms=at_tag_temperature(tag, row.figures["value"], row.at_c),
            u_ohms=row.figures["standard_uncertainty"],
        )
        for row in readings
        if row.figures["value"]
    ]
    first_at = {point.name: point.at for point in reversed(points)}
    done = [
        *works,
        *(
            trend.Work(name="a repair joint", at=datetime.fromisoformat(joint["joined_at"]))
            for joint in element.joints
        ),
        *(
            trend.Work(name=WORK_BEFORE[stage], at=at)
            for stage, at in first_at.items()
            if stage in WORK_BEFORE
        ),
    ]
    return Trend(element, points, trend.steps(points, done), trend.drift(points, done))


def watch(
    element: Element, works: Iterable[trend.Work] = (), *, until: datetime
) -> list[continuity.Finding]:
    """Alarms and silences of the monitor on an element's leads."""
    rows = MonitorEvent.objects.filter(element=element).order_by("at", "pk")
    events = [continuity.Event(at=row.at, kind=row.kind) for row in rows]  # type: ignore[arg-type]
    return continuity.findings(events, list(works), until=until)
