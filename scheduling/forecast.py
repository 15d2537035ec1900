"""How fast a layer is likely to go on curing: as promised, else as the last seven days went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from scheduling.cure import Law, capped_rate, credit_hours
from scheduling.halfday import local_hours
from scheduling.temperatures import Course

Array = NDArray[np.float64]

RECENT_HOURS = 7 * 24
HOURS_OF_DAY = 24
LOOK_AHEAD_HOURS = (60 * 24, 600 * 24, 6_000 * 24, 36_500 * 24)  # after a century: never


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """A temperature that the site has promised to keep from one instant to another."""

    starts_at: datetime
    ends_at: datetime
    celsius: float


def worth_by_hour_of_day(
    course: Course, *, now: datetime, zone: ZoneInfo, law: Law, lowest_c: float, otherwise_c: float
) -> Array:
    """Credit of one hour at each local hour of the day, as the last seven days went.

    24 values from 0 to 1: the mean over the known part of that hour of the day. An hour of the
    day of which nothing is known counts at `otherwise_c`.
    """
    in_hour, recent = _recent_by_hour(course, now, zone)
    credit = credit_hours(
        law, lowest_c=lowest_c, hours=recent.hours, from_c=recent.from_c, to_c=recent.to_c
    )
    known_hours = np.bincount(in_hour, recent.hours[recent.known], HOURS_OF_DAY)
    known_credit = np.bincount(in_hour, credit[recent.known], HOURS_OF_DAY)
    worth = np.full(HOURS_OF_DAY, capped_rate(law, lowest_c=lowest_c, celsius=otherwise_c))
    np.divide(known_credit, known_hours, out=worth, where=known_hours > 0)
    return worth


def likely_course(
    course: Course,
    *,
    promises: Sequence[Promise],
    now: datetime,
    zone: ZoneInfo,
    hours: float,
    otherwise_c: float,
) -> Course:
    """The likely temperature of so many hours from now: as promised, else the mean of the hour of
    the day over the last seven days, else `otherwise_c`."""
    in_hour, recent = _recent_by_hour(course, now, zone)
    known_hours = np.bincount(in_hour, recent.hours[recent.known], HOURS_OF_DAY)
    degree_hours = (recent.from_c + recent.to_c) / 2 * recent.hours
    mean_c = np.full(HOURS_OF_DAY, otherwise_c)
    summed = np.bincount(in_hour, degree_hours[recent.known], HOURS_OF_DAY)
    np.divide(summed, known_hours, out=mean_c, where=known_hours > 0)
    strikes_h, hour_of_day = local_hours(now, hours, zone)
    edges_h = np.union1d(np.clip(strikes_h, 0, hours), [0.0, hours])
    celsius = mean_c[hour_of_day[_piece(strikes_h, edges_h)]]
    for each in sorted(promises, key=lambda each: each.celsius, reverse=True):
        start_h = (each.starts_at - now) / timedelta(hours=1)
        end_h = (each.ends_at - now) / timedelta(hours=1)
        middle_h = (edges_h[:-1] + edges_h[1:]) / 2
        celsius = np.where((middle_h >= start_h) & (middle_h < end_h), each.celsius, celsius)
    return Course(edges_h, celsius, celsius, np.zeros(len(celsius), dtype=np.bool_))


def hours_until(
    credit: float,
    *,
    worth: Array,
    promises: Sequence[Promise],
    now: datetime,
    zone: ZoneInfo,
    law: Law,
    lowest_c: float,
) -> float | None:
    """Hours from now until so much credit has come; None if it never does.

    `worth` is the credit of an hour by local hour of the day; where promises overlap, the
    coldest counts.
    """
    if credit <= 0:
        return 0.0
    kept = [
        (
            max((each.starts_at - now) / timedelta(hours=1), 0.0),
            (each.ends_at - now) / timedelta(hours=1),
            capped_rate(law, lowest_c=lowest_c, celsius=each.celsius),
        )
        for each in sorted(promises, key=lambda each: each.celsius, reverse=True)
        if each.ends_at > now
    ]
    bounds_h = [bound for start_h, end_h, _ in kept for bound in (start_h, end_h)]
    for length_h in LOOK_AHEAD_HOURS:
        strikes_h, hour_of_day = local_hours(now, length_h, zone)
        edges_h = np.union1d(strikes_h, np.array([0.0, length_h, *bounds_h]))
        edges_h = edges_h[(edges_h >= 0) & (edges_h <= length_h)]
        rate = worth[hour_of_day[_piece(strikes_h, edges_h)]]
        for start_h, end_h, promised in kept:
            rate[(edges_h[:-1] >= start_h) & (edges_h[1:] <= end_h)] = promised
        reached = np.concatenate(([0.0], np.cumsum(rate * np.diff(edges_h))))
        if reached[-1] >= credit:
            last = int(np.searchsorted(reached, credit)) - 1
            return float(edges_h[last] + (credit - reached[last]) / rate[last])
        if not worth.any() and length_h >= max(bounds_h, default=0.0):
            break
    return None


def _recent_by_hour(
    course: Course, now: datetime, zone: ZoneInfo
) -> tuple[NDArray[np.int64], Course]:
    """The last seven days cut at local hours; the hour of the day of each known stretch."""
    strikes_h, hour_of_day = local_hours(now - timedelta(hours=RECENT_HOURS), RECENT_HOURS, zone)
    strikes_h = strikes_h - RECENT_HOURS
    recent = course.since(-RECENT_HOURS).cut(strikes_h)
    return hour_of_day[_piece(strikes_h, recent.edges_h)][recent.known], recent


def _piece(starts_h: Array, edges_h: Array) -> NDArray[np.intp]:
    """For each stretch between edges, which piece (by its start) its middle lies in."""
    return np.searchsorted(starts_h, (edges_h[:-1] + edges_h[1:]) / 2, side="right") - 1
