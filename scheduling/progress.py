"""How far a layer has cured and dried, and when it has as many hours as a use of it needs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from scheduling.cure import Law, capped_rate, credit_hours
from scheduling.drying import Evaporation, share_of_drying
from scheduling.floor import (
    Facts,
    Layer,
    coldest_plausible_c,
    dampest_plausible_percent,
    room_damp,
)
from scheduling.forecast import (
    LOOK_AHEAD_HOURS,
    RECENT_HOURS,
    hours_until,
    worth_by_hour_of_day,
)
from scheduling.holds import measured_dry_at
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

    A layer that has to dry as well has the same of its drying, counted in the climate of its sheet
    (there `unknown_hours` are those without a known humidity): its dates are the later of both.
    """

    id: str
    equivalent_hours: float
    required_hours: float
    unknown_hours: float
    ready: datetime | None
    earliest: datetime | None
    likely: datetime | None
    latest: datetime | None
    drying: CureProgress | None = None

    @property
    def order(self) -> tuple[datetime, datetime, datetime]:
        """Sorts layers by when they get ready, never last."""
        return self.likely or NEVER, self.latest or NEVER, self.earliest or NEVER

    @property
    def drying_governs(self) -> bool:
        """Whether the layer is cured (or will be) before it is dry."""
        return self.drying is not None and self.drying.order == self.order

    @property
    def governing(self) -> CureProgress:
        """The hours that govern the layer's dates, beside those dates."""
        if self.drying is None or not self.drying_governs:
            return self
        return replace(
            self,
            equivalent_hours=self.drying.equivalent_hours,
            required_hours=self.drying.required_hours,
            unknown_hours=self.drying.unknown_hours,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """Hours that a layer gains since it was placed, by curing or by drying.

    `since` is the temperature course, `share` what counts of each stretch of it beside the law,
    `reached` the hours at every edge, `unknown_hours` the real time of which that is assumed. In
    the time to come `likely_share` and `latest_share` count.
    """

    law: Law
    lowest_c: float
    since: Course
    share: Array
    reached: Array
    unknown_hours: float
    likely_share: float = 1.0
    latest_share: float = 1.0


def progress(
    layer: Layer, known: Course, facts: Facts, *, hours: float | None = None
) -> CureProgress:
    """Progress of a layer to `hours` of curing, or to all that it needs before heat.

    `known` is the room's temperature course up to now (`floor.room_course`). A layer still to be
    placed begins then.
    """
    required = layer.material.heat_after_hours if hours is None else hours
    cure = cured(layer, known, facts.now)
    curing = _progress(layer, cure, known, facts, required)
    drying = _drying(layer, known, facts) if hours is None else None
    if drying is None:
        return curing
    return replace(
        curing,
        ready=_later(curing.ready, drying.ready) if curing.ready and drying.ready else None,
        earliest=_later(curing.earliest, drying.earliest),
        likely=_later(curing.likely, drying.likely),
        latest=_later(curing.latest, drying.latest),
        drying=drying,
    )


def cured(layer: Layer, known: Course, now: datetime) -> Run:
    """The hours of curing that a layer has gained; all of the time counts."""
    since = _since_placed(layer, known, now)
    material = layer.material
    return _run(since, since.known, np.ones_like(since.from_c), material.law, material.lowest_c)


def dried(layer: Layer, known: Course, facts: Facts) -> Run | None:
    """The hours of drying that a layer has gained; None if nothing is said of its drying."""
    drying = layer.material.drying
    if drying is None:
        return None
    damp = room_damp(facts)
    since = _since_placed(layer, known.cut(damp.edges_h), facts.now)
    percent, is_known = damp.within(since.edges_h)
    share = share_of_drying(percent, drying)
    dampest = np.array([dampest_plausible_percent(facts)])
    latest_share = float(share_of_drying(dampest, drying)[0])
    recent = damp.known & (damp.edges_h[1:] > -RECENT_HOURS)
    hours = np.diff(np.maximum(damp.edges_h, -RECENT_HOURS))[recent]
    shares = share_of_drying(damp.percent[recent], drying)
    likely_share = float((shares * hours).sum() / hours.sum()) if hours.sum() else latest_share
    return replace(
        _run(since, is_known, share, Evaporation(drying.reference_c), layer.material.lowest_c),
        likely_share=max(likely_share, latest_share),
        latest_share=latest_share,
    )


def _run(
    since: Course, is_known: NDArray[np.bool_], share: Array, law: Law, lowest_c: float
) -> Run:
    credit = share * credit_hours(
        law, lowest_c=lowest_c, hours=since.hours, from_c=since.from_c, to_c=since.to_c
    )
    reached = np.concatenate(([0.0], np.cumsum(credit)))
    return Run(
        law=law,
        lowest_c=lowest_c,
        since=since,
        share=share,
        reached=reached,
        unknown_hours=float(since.hours[~is_known].sum()),
    )


def _since_placed(layer: Layer, known: Course, now: datetime) -> Course:
    return known.since((microseconds(layer.placed_at) - microseconds(now)) / US_PER_HOUR)


def _drying(layer: Layer, known: Course, facts: Facts) -> CureProgress | None:
    """Progress of a layer's drying; a reading that is dry enough ends what is only estimated."""
    run = dried(layer, known, facts)
    if run is None or layer.material.drying is None:
        return None
    found = _progress(layer, run, known, facts, layer.material.drying.hours)
    dry_at = measured_dry_at(layer, facts.evidence)
    if dry_at is None or (found.ready and found.ready <= dry_at):
        return found
    return replace(found, ready=dry_at, earliest=dry_at, likely=dry_at, latest=dry_at)


def _progress(layer: Layer, run: Run, known: Course, facts: Facts, required: float) -> CureProgress:
    begins_at = max(facts.now, layer.placed_at)
    remaining = required - float(run.reached[-1])
    is_ready = remaining <= SLACK_HOURS
    if is_ready:
        earliest_h = likely_h = latest_h = _reached_at(run, required)
    else:
        earliest_h = remaining
        likely_h = max(_likely(run, known, facts, remaining, begins_at), earliest_h)
        latest_h = max(_latest(run, facts, remaining), likely_h)
    earliest, likely, latest = (
        _date(each, begins_at, printed=microseconds(layer.placed_at) + required * US_PER_HOUR)
        for each in (earliest_h, likely_h, latest_h)
    )
    return CureProgress(
        id=layer.id,
        equivalent_hours=float(run.reached[-1]),
        required_hours=required,
        unknown_hours=run.unknown_hours,
        ready=earliest if is_ready else None,
        earliest=earliest,
        likely=likely,
        latest=latest,
    )


def _later(one: datetime | None, other: datetime | None) -> datetime | None:
    """The later of two dates; None (never) is later than all."""
    return None if one is None or other is None else max(one, other)


def _likely(run: Run, known: Course, facts: Facts, remaining: float, begins_at: datetime) -> float:
    if not run.likely_share:
        return math.inf
    worth = worth_by_hour_of_day(
        known,
        now=facts.now,
        zone=facts.zone,
        law=run.law,
        lowest_c=run.lowest_c,
        otherwise_c=coldest_plausible_c(facts),
    )
    hours = hours_until(
        remaining / run.likely_share,
        worth=worth,
        promises=facts.promises,
        now=begins_at,
        zone=facts.zone,
        law=run.law,
        lowest_c=run.lowest_c,
    )
    return math.inf if hours is None else hours


def _latest(run: Run, facts: Facts, remaining: float) -> float:
    rate = run.latest_share * capped_rate(
        run.law, lowest_c=run.lowest_c, celsius=coldest_plausible_c(facts)
    )
    hours = remaining / rate if rate else math.inf
    return hours if hours <= LOOK_AHEAD_HOURS[-1] else math.inf


def _reached_at(run: Run, required: float) -> float:
    """When the required hours were reached, in hours from now: exact within the stretch."""
    since = run.since
    first = int(np.searchsorted(run.reached, required - SLACK_HOURS))
    if first == 0:
        return float(since.edges_h[0]) if len(since.edges_h) else 0.0
    stretch = first - 1
    low, high = 0.0, 1.0
    slope_k = since.to_c[stretch] - since.from_c[stretch]
    for _ in range(REFINE_ROUNDS):
        shares = low + (high - low) * REFINE
        credit = run.share[stretch] * credit_hours(
            run.law,
            lowest_c=run.lowest_c,
            hours=shares * since.hours[stretch],
            from_c=np.full_like(shares, since.from_c[stretch]),
            to_c=since.from_c[stretch] + shares * slope_k,
        )
        enough = run.reached[stretch] + credit >= required - SLACK_HOURS
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
