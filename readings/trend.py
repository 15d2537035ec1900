"""Did an element move between its checks by more than the meters can explain?

All ohms at one temperature (that of the tag), each with its standard uncertainty. The readings are
taken as independent: the same meter twice shares its gain error, so this errs towards "held".
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Literal

from readings import wording
from readings.number import not_negative, positive
from readings.uncertainty import COVERAGE_FACTOR


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One reading of the element: `name` is its stage."""

    name: str
    at: datetime
    ohms: float
    u_ohms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Something that was done to the floor, and when."""

    name: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """From one reading to another: `change_ohms` with its u, `works` that lie between."""

    start: Point
    end: Point
    change_ohms: float
    u_ohms: float
    outcome: Literal["held", "moved"]
    works: tuple[str, ...]
    because: str


def steps(points: Iterable[Point], works: Iterable[Work] = ()) -> list[Step]:
    """Each reading against the one before it, in the order in which they were taken."""
    done = sorted(works, key=lambda work: work.at)
    return [_step(start, end, done) for start, end in pairwise(_in_order(points))]


def drift(points: Iterable[Point], works: Iterable[Work] = ()) -> Step | None:
    """The last reading against the first, which small steps add up to; None with fewer than two."""
    ordered = _in_order(points)
    if len(ordered) < 2:
        return None
    return _step(ordered[0], ordered[-1], sorted(works, key=lambda work: work.at))


def _in_order(points: Iterable[Point]) -> list[Point]:
    ordered = sorted(points, key=lambda point: point.at)
    for point in ordered:
        positive(point.ohms, "ohms")
        not_negative(point.u_ohms, "u_ohms")
    return ordered


def _step(start: Point, end: Point, works: Sequence[Work]) -> Step:
    change, u = end.ohms - start.ohms, math.hypot(start.u_ohms, end.u_ohms)
    moved = abs(change) > COVERAGE_FACTOR * u + 1e-9 * start.ohms
    # What was done before the first reading cannot have caused the step.
    between = tuple(work.name for work in works if start.at < work.at <= end.at)
    told = (
        f"From {start.name} to {end.name} it went from {wording.ohms(start.ohms)} to "
        f"{wording.ohms(end.ohms)}"
    )
    explained = f"±{wording.plus_minus(COVERAGE_FACTOR * u)} Ω that the meters can explain"
    if not moved:
        because = f"{told}, within the {explained}."
    elif between:
        because = (
            f"{told}, more than the {explained}. In between: {wording.listed(list(between))}. "
            "Stop and look for damage there."
        )
    else:
        because = (
            f"{told}, more than the {explained}. No work is recorded in between. "
            "Stop and look for damage."
        )
    return Step(
        start=start,
        end=end,
        change_ohms=change,
        u_ohms=u,
        outcome="moved" if moved else "held",
        works=between,
        because=because,
    )
