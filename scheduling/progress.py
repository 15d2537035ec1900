"""How far a layer has cured, and when it has as many hours as are printed for a use of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from scheduling.cure import capped_rate, credit_hours
from scheduling.floor import Facts, Layer, coldest_plausible_c
from scheduling.forecast import LOOK_AHEAD_HOURS, hours_until, worth_by_hour_of_day
from scheduling.temperatures import US_PER_HOUR, Course, instant, microseconds

Array = NDArray[np.float64]

SLACK_HOURS = 1e-8  # rounding of a sum of some 100 000 stretches; 36 microseconds
US_PER_SECOND = 1_000_000
ROUNDING_US = 1_000
REFINE = np.linspace(0, 1, 65)
REFINE_ROUNDS = 6
NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class CureProgress:
    """A layer's way to the required hours, counted at the reference temperature of its law.

    `unknown_hours` is real time since placing without a known temperature. `ready` is when the
    hours were reached, None while they are not. Dates are UTC, rounded up to whole seconds; None
    where that future never gets there. Once ready, all of them are equal.
    """

    id: str
    equivalent_hours: float
    required_hours: float
    unknown_hours: float
    ready: datetime | None
    earliest: datetime | None
    likely: datetime | None
    latest: datetime | None

    @property
    def order(self) -> tuple[datetime, datetime, datetime]:
        """Sorts layers by when they get ready, never last."""
        return self.likely or NEVER, self.latest or NEVER, self.earliest or NEVER


def progress(
    layer: Layer, known: Course, facts: Facts, *, hours: float | None = None
) -> CureProgress:
    """Progress of a layer to `hours`, or to those printed before heat.

    `known` is the room's temperature course up to now (`floor.room_course`).
    """
    required = layer.material.heat_after_hours if hours is None else hours
    since, reached = reached_hours(layer, known, facts.now)
    remaining = required - float(reached[-1])
    is_ready = remaining <= SLACK_HOURS
    if is_ready:
        earliest_h = likely_h = latest_h = _reached_at(layer, since, reached, required)
    else:
        earliest_h = remaining
        likely_h = max(_likely(layer, known, facts, remaining), earliest_h)
        latest_h = max(_latest(layer, facts, remaining), likely_h)
    earliest, likely, latest = (
        _date(each, facts.now, printed=microseconds(layer.placed_at) + required * US_PER_HOUR)
        for each in (earliest_h, likely_h, latest_h)
    )
    return CureProgress(
        id=layer.id,
        equivalent_hours=float(reached[-1]),
        required_hours=required,
        unknown_hours=float(since.hours[~since.known].sum()),
        ready=earliest if is_ready else None,
        earliest=earliest,
        likely=likely,
        latest=latest,
    )


def reached_hours(layer: Layer, known: Course, now: datetime) -> tuple[Course, Array]:
    """The course since a layer was placed, and its equivalent hours at every edge of it."""
    since = known.since((microseconds(layer.placed_at) - microseconds(now)) / US_PER_HOUR)
    credit = credit_hours(
        layer.material.law,
        lowest_c=layer.material.lowest_c,
        hours=since.hours,
        from_c=since.from_c,
        to_c=since.to_c,
    )
    return since, np.concatenate(([0.0], np.cumsum(credit)))


def _likely(layer: Layer, known: Course, facts: Facts, remaining: float) -> float:
    law, lowest_c = layer.material.law, layer.material.lowest_c
    worth = worth_by_hour_of_day(
        known,
        now=facts.now,
        zone=facts.zone,
        law=law,
        lowest_c=lowest_c,
        otherwise_c=coldest_plausible_c(facts),
    )
    hours = hours_until(
        remaining,
        worth=worth,
        promises=facts.promises,
        now=facts.now,
        zone=facts.zone,
        law=law,
        lowest_c=lowest_c,
    )
    return math.inf if hours is None else hours


def _latest(layer: Layer, facts: Facts, remaining: float) -> float:
    rate = capped_rate(
        layer.material.law,
        lowest_c=layer.material.lowest_c,
        celsius=coldest_plausible_c(facts),
    )
    hours = remaining / rate if rate else math.inf
    return hours if hours <= LOOK_AHEAD_HOURS[-1] else math.inf


def _reached_at(layer: Layer, since: Course, reached: Array, required: float) -> float:
    """When the required hours were reached, in hours from now: exact within the stretch."""
    first = int(np.searchsorted(reached, required - SLACK_HOURS))
    if first == 0:
        return float(since.edges_h[0])
    stretch = first - 1
    low, high = 0.0, 1.0
    slope_k = since.to_c[stretch] - since.from_c[stretch]
    for _ in range(REFINE_ROUNDS):
        shares = low + (high - low) * REFINE
        credit = credit_hours(
            layer.material.law,
            lowest_c=layer.material.lowest_c,
            hours=shares * since.hours[stretch],
            from_c=np.full_like(shares, since.from_c[stretch]),
            to_c=since.from_c[stretch] + shares * slope_k,
        )
        enough = reached[stretch] + credit >= required - SLACK_HOURS
        at = int(np.argmax(enough)) if enough.any() else len(shares) - 1
        low, high = float(shares[max(at - 1, 0)]), float(shares[at])
    return float(since.edges_h[stretch] + high * since.hours[stretch])


def _date(hours: float, now: datetime, *, printed: float) -> datetime | None:
    """The instant so many hours from now, up to the whole second; never before what is printed.

    `printed` is the earliest possible instant in microseconds since 1970.
    """
    if math.isinf(hours):
        return None
    at_us = microseconds(now) + math.floor(hours * US_PER_HOUR) - ROUNDING_US
    return instant(-(-max(at_us, math.ceil(printed)) // US_PER_SECOND) * US_PER_SECOND)
