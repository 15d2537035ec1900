"""The energize decision: from when heat may be switched on in a room, what forbids it, and why.

Equivalent hours of a layer are the integral of min(1, rate) over real time since it was placed, the
rate being that of its law relative to the law's own reference temperature, and 0 below its lowest
usable temperature. So cold lengthens a printed minimum and warmth never shortens it. Unknown time
counts at its coldest. Whoever calls says when "now" is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from scheduling.cure import capped_rate, credit_hours
from scheduling.floor import Facts, Layer, coldest_plausible_c, require_sense, room_course
from scheduling.forecast import LOOK_AHEAD_HOURS, hours_until, worth_by_hour_of_day
from scheduling.holds import (
    Hold,
    frost_hold,
    frost_watch_ends_at,
    moisture_hold,
    proof_holds,
    standing_holds,
)
from scheduling.temperatures import US_PER_HOUR, Course, doubts, instant, microseconds

Array = NDArray[np.float64]

SLACK_HOURS = 1e-8  # rounding of a sum of some 100 000 stretches; 36 microseconds
US_PER_SECOND = 1_000_000
ROUNDING_US = 1_000
REFINE = np.linspace(0, 1, 65)
REFINE_ROUNDS = 6
CAUTION = (
    "Firstwarm advises; local code, the makers’ instructions and a licensed electrician decide. "
    "Switch the circuit off and prove it dead before any work on it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerProgress:
    """How far a layer has cured by now; hours at the reference temperature of its law.

    `unknown_hours` is real time since placing without a known temperature. `ready` is when the
    required hours were reached, None while they are not.
    """

    id: str
    equivalent_hours: float
    required_hours: float
    unknown_hours: float
    ready: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The answer; dates are UTC, rounded up to whole seconds, None where they never come."""

    may_energize: bool
    earliest: datetime | None
    likely: datetime | None
    latest: datetime | None
    governed_by: str | None
    layers: tuple[LayerProgress, ...]
    holds: tuple[Hold, ...]
    because: tuple[str, ...]
    caution: str = CAUTION


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outlook:
    """One layer: its progress, and when it gets ready, in hours from now (inf for never)."""

    layer: Layer
    progress: LayerProgress
    earliest_h: float
    likely_h: float
    latest_h: float


def decide(facts: Facts) -> Decision:
    """Decide from when heat may be switched on.

    Raises ImplausibleFacts, ImplausibleTime or ImplausibleTemperature, pointing at the field.
    """
    require_sense(facts)
    known = room_course(facts)
    outlooks = [_outlook(layer, known, facts) for layer in facts.layers]
    frost = [hold for layer in facts.layers if (hold := _frost(layer, facts))]
    holds = (
        *frost,
        *_proof(facts),
        *(hold for each in facts.layers if (hold := moisture_hold(each, facts.evidence))),
        *standing_holds(facts.evidence),
    )
    governing = _governing(outlooks, {hold.subject for hold in frost})
    dates: list[datetime | None] = [None, None, None]
    if outlooks and not frost:
        dates = [
            _latest_date([(each.layer, each.earliest_h) for each in outlooks], facts.now),
            _latest_date([(each.layer, each.likely_h) for each in outlooks], facts.now),
            _latest_date([(each.layer, each.latest_h) for each in outlooks], facts.now),
        ]
    return Decision(
        may_energize=bool(outlooks) and not holds and all(each.progress.ready for each in outlooks),
        earliest=dates[0],
        likely=dates[1],
        latest=dates[2],
        governed_by=governing.layer.id if governing else None,
        layers=tuple(each.progress for each in outlooks),
        holds=holds,
        because=_because(facts, outlooks, governing, frost),
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


def _outlook(layer: Layer, known: Course, facts: Facts) -> _Outlook:
    """Hours from now until the layer is ready; negative where that is past."""
    since, reached = reached_hours(layer, known, facts.now)
    required = layer.material.heat_after_hours
    remaining = required - float(reached[-1])
    if remaining <= SLACK_HOURS:
        ready_h = _reached_at(layer, since, reached, required)
        hours = (ready_h, ready_h, ready_h)
    else:
        likely_h = max(_likely(layer, known, facts, remaining), remaining)
        hours = (remaining, likely_h, max(_latest(layer, facts, remaining), likely_h))
    return _Outlook(
        layer=layer,
        progress=LayerProgress(
            id=layer.id,
            equivalent_hours=float(reached[-1]),
            required_hours=required,
            unknown_hours=float(since.hours[~since.known].sum()),
            ready=_date(layer, hours[0], facts.now) if remaining <= SLACK_HOURS else None,
        ),
        earliest_h=hours[0],
        likely_h=hours[1],
        latest_h=hours[2],
    )


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


def _date(layer: Layer, hours: float, now: datetime) -> datetime | None:
    """The instant so many hours from now, up to the whole second; never before what is printed."""
    if math.isinf(hours):
        return None
    at_us = microseconds(now) + math.floor(hours * US_PER_HOUR) - ROUNDING_US
    printed_us = microseconds(layer.placed_at) + math.ceil(
        layer.material.heat_after_hours * US_PER_HOUR
    )
    return instant(-(-max(at_us, printed_us) // US_PER_SECOND) * US_PER_SECOND)


def _latest_date(hours: list[tuple[Layer, float]], now: datetime) -> datetime | None:
    dates = [_date(layer, each, now) for layer, each in hours]
    found = [date for date in dates if date is not None]
    return max(found) if len(found) == len(dates) else None


def _governing(outlooks: list[_Outlook], frosted: set[str]) -> _Outlook | None:
    return max(
        outlooks,
        key=lambda each: (
            each.layer.id in frosted,
            each.likely_h,
            each.latest_h,
            each.layer.placed_at,
            each.layer.id,
        ),
        default=None,
    )


def _frost(layer: Layer, facts: Facts) -> Hold | None:
    start_us = microseconds(layer.placed_at)
    record = facts.temperatures
    watched = (record.at_us >= start_us) & (
        record.at_us <= microseconds(frost_watch_ends_at(layer))
    )
    frosty = watched & (record.celsius <= 0)
    readings = [
        (instant(int(at_us)), float(celsius))
        for at_us, celsius in zip(record.at_us[frosty], record.celsius[frosty], strict=True)
    ]
    return frost_hold(layer, readings, facts.evidence)


def _proof(facts: Facts) -> list[Hold]:
    placed = [microseconds(layer.placed_at) for layer in facts.layers]
    read = facts.temperatures.at_us
    return list(
        proof_holds(
            facts.required,
            facts.evidence,
            layers_without_temperature=any(not (read >= at_us).any() for at_us in placed),
        )
    )


def _because(
    facts: Facts, outlooks: list[_Outlook], governing: _Outlook | None, frost: list[Hold]
) -> tuple[str, ...]:
    if governing is None:
        return ("No layer is recorded, so nothing covers the element yet.",)
    sentences = [_progress_sentence(each) for each in outlooks]
    sentences += [
        f"{each.layer.id}: {each.progress.unknown_hours:.1f} h without a known temperature count "
        f"at the coldest of {facts.assume_c:g} °C and the readings beside them."
        for each in outlooks
        if each.progress.unknown_hours > SLACK_HOURS
    ]
    if frost:
        sentences.append("Frost reached fresh mortar, so there is no date until it is looked at.")
    elif governing.progress.ready:
        sentences.append(f"{governing.layer.id} was the last layer to get ready.")
    else:
        sentences += [
            f"{governing.layer.id} governs the date.",
            f"Earliest: from now on at {governing.layer.material.law.reference_c:g} °C or more.",
            _likely_sentence(facts),
            f"Latest: throughout at {coldest_plausible_c(facts):g} °C, the coldest of what is "
            "assumed, read in the last seven days and promised.",
        ]
        if math.isinf(governing.latest_h):
            sentences.append(
                f"At that temperature {governing.layer.id} does not get ready, so no latest date."
            )
    sentences += doubts(facts.temperatures, max_gap_hours=facts.max_gap_hours)
    return tuple(sentence.replace(" -", " −") for sentence in sentences)


def _progress_sentence(each: _Outlook) -> str:
    material, progress = each.layer.material, each.progress
    return (
        f"{each.layer.id}, {material.name}: {_floor(progress.equivalent_hours):g} of "
        f"{progress.required_hours:g} h at {material.law.reference_c:g} °C are reached; "
        f"below {material.lowest_c:g} °C nothing counts."
    )


def _likely_sentence(facts: Facts) -> str:
    if any(promise.ends_at > facts.now for promise in facts.promises):
        return "Likely: as promised, and outside the promises as the last seven days went."
    return "Likely: as the last seven days went, hour of the day by hour of the day."


def _floor(hours: float) -> float:
    return math.floor(hours * 10 + 1e-6) / 10
