"""The band around the likely date: in which it falls four times in five, by the weather so far.

A room's daily mean is taken as a first-order autoregression about a mean of its own, its swing over
the day as it was in the last seven days. With few days known, the day-to-day step and the pull to
the mean lean on what houses are like (common practice, no source). Many such futures are played
through; the band holds the middle ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduling.cure import credit_hours
from scheduling.floor import Facts, Layer, coldest_plausible_c, room_course
from scheduling.forecast import RECENT_HOURS, likely_course
from scheduling.progress import Run, cured, dried, progress
from scheduling.temperatures import Course

Array = NDArray[np.float64]

SHARE = 0.8
FUTURES = 240
SEED = 11
HORIZONS_DAYS = (15, 90)  # the second only where too many futures need it
PULL = 0.85  # how much of a day's distance from the mean is left on the next
STEP_K = 1.5  # day to day, where nothing is known
STEP_WEIGHT_DAYS = 4.0  # how many days of evidence that is worth
ROOM_C = (-40.0, 70.0)
TABLE_STEP_K = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelyBand:
    """When a layer gets ready in the middle `share` of futures; `None` as an end means never."""

    share: float
    from_at: datetime
    to_at: datetime | None


def likely_band(facts: Facts, layer: Layer) -> LikelyBand | None:
    """The band of a layer's date; None once it is ready, or while no day is known."""
    known = room_course(facts)
    found = progress(layer, known, facts)
    days_c = daily_means_c(known)
    if found.ready is not None or found.earliest is None or not len(days_c):
        return None
    runs = [(cured(layer, known, facts.now), found.required_hours)]
    drying = dried(layer, known, facts)
    if drying is not None and found.drying is not None and found.drying.ready is None:
        runs.append((drying, found.drying.required_hours))
    for horizon_days in HORIZONS_DAYS:
        celsius = _futures_c(facts, known, days_c, horizon_days)
        hours: Array = np.max([_hours_until(*run, celsius) for run in runs], axis=0)
        if np.isfinite(hours).mean() > (1 + SHARE) / 2:
            break
    low, high = np.quantile(hours, [(1 - SHARE) / 2, (1 + SHARE) / 2], method="closest_observation")
    return LikelyBand(
        share=SHARE,
        from_at=max(_after(facts.now, float(low)) or found.earliest, found.earliest),
        to_at=_after(facts.now, float(high)),
    )


def daily_means_c(known: Course) -> Array:
    """Mean temperature of each of the last days, 24 h back from now, of which half is known."""
    days = []
    for day in range(int(-known.edges_h[0] // 24)):
        part = known.cut(np.array([-24.0 * (day + 1), -24.0 * day]))
        middle = (part.edges_h[:-1] + part.edges_h[1:]) / 2
        inside = part.known & (middle > -24 * (day + 1)) & (middle < -24 * day)
        hours = part.hours[inside]
        if hours.sum() < 12:
            break
        mean = (part.from_c[inside] + part.to_c[inside]) / 2
        days.append(float((mean * hours).sum() / hours.sum()))
    return np.array(days[::-1])


def _futures_c(facts: Facts, known: Course, days_c: Array, horizon_days: int) -> Array:
    """The temperature of every hour to come, a row for each future."""
    levels = _levels_c(days_c, horizon_days)
    hours = np.arange(24 * horizon_days) + 0.5
    expected = likely_course(
        known,
        promises=(),
        now=facts.now,
        zone=facts.zone,
        hours=24.0 * horizon_days,
        otherwise_c=coldest_plausible_c(facts),
    )
    swing = np.interp(hours, (expected.edges_h[:-1] + expected.edges_h[1:]) / 2, expected.from_c)
    swing -= swing[:RECENT_HOURS].mean()
    day_middles = 24.0 * np.arange(levels.shape[1])
    celsius: Array = np.stack([np.interp(hours, day_middles, path) for path in levels]) + swing
    for promise in sorted(facts.promises, key=lambda each: each.celsius, reverse=True):
        start_h = (promise.starts_at - facts.now) / timedelta(hours=1)
        end_h = (promise.ends_at - facts.now) / timedelta(hours=1)
        celsius[:, (hours >= start_h) & (hours < end_h)] = promise.celsius
    return celsius


def _hours_until(run: Run, required: float, celsius: Array) -> Array:
    """Hours from now until so many are reached, in each future; inf beyond the horizon.

    The humidity goes on as in the last seven days: only the temperature is played through.
    """
    remaining = required - float(run.reached[-1])
    if remaining <= 0:
        return np.zeros(len(celsius))
    credit = run.likely_share * _hourly_credit(run, celsius)
    reached = np.cumsum(credit, axis=1)
    enough = reached >= remaining
    first = enough.argmax(axis=1)
    rows = np.arange(len(reached))
    in_last_hour = np.maximum(credit[rows, first], 1e-12)
    over = (reached[rows, first] - remaining) / in_last_hour
    return np.where(enough.any(axis=1), first + 1 - over, math.inf)


def _hourly_credit(run: Run, celsius: Array) -> Array:
    """Credit of an hour at each temperature, read off a fine table: far finer than the weather."""
    table_c = np.arange(ROOM_C[0], ROOM_C[1], TABLE_STEP_K)
    table = credit_hours(
        run.law,
        lowest_c=run.lowest_c,
        hours=np.ones_like(table_c),
        from_c=table_c,
        to_c=table_c,
    )
    return np.interp(celsius, table_c, table)


def _levels_c(days_c: Array, horizon_days: int) -> Array:
    """Daily means of the days to come, a row for each future; the first is the last day known."""
    rng = np.random.default_rng(SEED)
    count = len(days_c)
    steps = np.diff(days_c)
    step_k = math.sqrt(
        (STEP_WEIGHT_DAYS * STEP_K**2 + float((steps**2).sum())) / (STEP_WEIGHT_DAYS + len(steps))
    )
    settled_k = step_k / math.sqrt(1 - PULL**2)
    # A few days that hang together tell less of the mean than as many that do not.
    independent = max(count * (1 - PULL) / (1 + PULL), 1e-9)
    mean_c = rng.normal(days_c.mean(), settled_k / math.sqrt(independent + 1), FUTURES)
    freedom = STEP_WEIGHT_DAYS + count
    step_of_future_k = step_k * np.sqrt(freedom / rng.chisquare(freedom, FUTURES))
    levels = np.empty((FUTURES, horizon_days + 2))
    levels[:, 0] = days_c[-1]
    for day in range(1, levels.shape[1]):
        pulled = mean_c + PULL * (levels[:, day - 1] - mean_c)
        levels[:, day] = pulled + step_of_future_k * rng.standard_normal(FUTURES)
    return levels


def _after(now: datetime, hours: float) -> datetime | None:
    if math.isinf(hours):
        return None
    return (now + timedelta(hours=hours)).replace(microsecond=0)
