"""A check as a sequence of steps, one reading each, in the order in which one measures."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from readings import sets
from readings.assess import Meter, RoomFacts, Sent, assess
from readings.bands import Bands, bands
from readings.element import expected
from readings.insulation import minimum
from readings.sets import Wanted
from readings.verdict import Outcome, Verdict

ROOM_C = 20.0

QUANTITIES = {
    "element": "ohms",
    "lead_to_ground": "ohms",
    "insulation": "megohms",
    "sensor": "ohms",
    "load": "amps",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One reading to take: `number` from 1; `outcome` is that of the latest one, None before.

    A step of the kind `load` reads volts and amperes at the same time.
    """

    number: int
    kind: str
    label: str
    lead: str
    element: UUID | None
    sensor: UUID | None
    outcome: Outcome | None

    @property
    def quantity(self) -> str:
        return QUANTITIES[self.kind]


def steps(stage: str, room: RoomFacts, taken: Iterable[tuple[Wanted, Outcome]]) -> tuple[Step, ...]:
    """Return the steps of a stage; `taken` are its readings so far, oldest first.

    Volts are read together with the amperes, so they are no step of their own.
    """
    latest = dict(taken)
    elements = {facts.label: key for key, facts in room.elements.items()}
    sensors = {facts.label: key for key, facts in room.sensors.items()}
    wanted = [
        one for one in sets.needed(stage, list(elements), list(sensors)) if one.kind != "supply"
    ]
    return tuple(
        Step(
            number=at + 1,
            kind=one.kind,
            label=one.label,
            lead=one.lead,
            element=elements.get(one.label),
            sensor=sensors.get(one.label),
            outcome=_outcome(one, latest),
        )
        for at, one in enumerate(wanted)
    )


def next_step(found: Sequence[Step], *, after: int = 0) -> Step | None:
    """The next step that was not taken yet, else the next that did not pass; None if all passed."""
    later = [*found[after:], *found[:after]]
    return next(
        (step for step in later if step.outcome is None),
        next((step for step in later if step.outcome != "pass"), None),
    )


def expected_at(step: Step, room: RoomFacts) -> float | None:
    """About what the meter will show, in the unit of the step; None where nobody can say."""
    if step.kind == "insulation":
        return minimum(room.supply_volts).megohms
    if step.kind == "sensor" and step.sensor is not None:
        return room.sensors[step.sensor].curve.ohms_at(ROOM_C)
    if step.element is not None and step.kind in ("element", "lead_to_ground"):
        return expected(room.elements[step.element].tag).ohms
    return None


def bands_of(
    step: Step, stage: str, room: RoomFacts, meters: Mapping[UUID, Meter], *, on: date
) -> dict[UUID, Bands]:
    """What each range will make of a reading of this step; nothing where more than it counts.

    A sensor's verdict hangs on the temperature beside it, a current's on the volts.
    """
    middle = expected_at(step, room)
    if step.kind == "sensor" or middle is None:
        return {}

    def judged(meter: Meter, value: float | None) -> Outcome:
        return verdict_of(step, stage, room, meter, value, on=on).outcome

    return {
        key: bands(
            lambda value, meter=meter: judged(meter, value),  # type: ignore[misc]
            expected=middle if step.kind != "insulation" else meter.range.full_scale_ohms,
            highest=meter.range.full_scale_ohms,
        )
        for key, meter in meters.items()
    }


def verdict_of(
    step: Step, stage: str, room: RoomFacts, meter: Meter, value: float | None, *, on: date
) -> Verdict:
    """The verdict on one reading of a step; raises what `assess` raises."""
    sent = Sent(
        kind=step.kind,
        meter=meter,
        value=value,
        element=step.element,
        sensor=step.sensor,
        lead=step.lead,
    )
    return assess(stage, [sent], room, taken_on=on).judged[0].verdict


def _outcome(one: Wanted, latest: Mapping[Wanted, Outcome]) -> Outcome | None:
    if one.kind == "load":  # read at the control, for all elements together
        return next((found for had, found in latest.items() if had.kind == "load"), None)
    if found := latest.get(one):
        return found
    covers = Wanted(kind="insulation", label=one.label)
    return latest.get(covers) if one.kind == "lead_to_ground" else None
