"""The next thing that whoever stands in a room should do, and why."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

Key = Literal[
    "find-fault",
    "open-fault",
    "record-element",
    "measure",
    "place",
    "thermometer",
    "wait",
    "heat",
    "warm-up",
    "nothing",
]

TEMPERATURES_EVERY = timedelta(hours=12)
"""Mornings and evenings: what lies between counts as cold; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSoFar:
    """What is recorded of a room. `missing` counts the readings that each stage still lacks.

    `fault_open` tells of a fault of an element that was found and is not mended yet.
    `step_due` tells of a step of the first heating whose time is over and that is not ticked off.
    """

    elements: int
    outcomes: Mapping[str, str]
    missing: Mapping[str, int]
    fault_open: bool
    covered: bool
    layer_to_come: bool
    may_energize: bool
    heated: bool
    step_due: bool
    likely: datetime | None
    last_temperature_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextThing:
    """What to do: `stage` and `readings` for measuring, `until` for waiting."""

    key: Key
    stage: str = ""
    readings: int = 0
    until: datetime | None = None


def next_thing(room: RoomSoFar, now: datetime) -> NextThing:
    """Return the one thing that comes next in this room."""
    if any(outcome == "fail" for outcome in room.outcomes.values()):
        return NextThing(key="find-fault")
    if room.fault_open:
        return NextThing(key="open-fault")
    if not room.elements:
        return NextThing(key="record-element")
    for stage in ("arrival", "laid"):
        if room.outcomes.get(stage) != "pass" and not room.covered:
            return _measure(room, stage)
    if not room.covered:
        return NextThing(key="place" if room.layer_to_come else "wait")
    if room.outcomes.get("covered") != "pass":
        return _measure(room, "covered")
    if room.heated:
        if room.step_due:
            return NextThing(key="warm-up")
        if room.outcomes.get("handover") != "pass":
            return _measure(room, "handover")
        return NextThing(key="nothing")
    last = room.last_temperature_at
    if last is None or now - last > TEMPERATURES_EVERY:
        return NextThing(key="thermometer", until=room.likely)
    if room.layer_to_come:
        return NextThing(key="place")
    if room.may_energize:
        return NextThing(key="heat")
    return NextThing(key="wait", until=room.likely)


def _measure(room: RoomSoFar, stage: str) -> NextThing:
    return NextThing(key="measure", stage=stage, readings=room.missing.get(stage, 0))
