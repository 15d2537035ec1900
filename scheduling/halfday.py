"""Local hours, days and half-days: where elapsed time meets the wall clock of a room's zone.

Curing counts elapsed hours, bookings count half-days of the local calendar. A local day may have
23, 24, 24.5 or 25 hours; a local time may not exist, or exist twice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from config.errors import DomainError

Half = Literal["am", "pm"]

HOUR_S = 3600
DAY_S = 86_400
NOON = time(12)
WEEKEND = (5, 6)


class UnknownZone(DomainError):
    """A time zone that the IANA database does not have."""

    slug = "unknown-zone"


class HalfDay(NamedTuple):
    """One half of a local day; sorts in order of time."""

    day: date
    half: Half


def zone_named(name: str, *, pointer: str = "#/zone") -> ZoneInfo:
    """The time zone of an IANA name such as Europe/Oslo; raises UnknownZone."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise UnknownZone(
            f"{name!r} is no time zone of the IANA database, such as Europe/Oslo.", pointer=pointer
        ) from error


def day_hours(day: date, zone: ZoneInfo) -> float:
    """Real hours in a local calendar day."""
    return (starts_at(day + timedelta(days=1), time(), zone) - starts_at(day, time(), zone)) / (
        timedelta(hours=1)
    )


def starts_at(day: date, clock: time, zone: tzinfo) -> datetime:
    """The UTC instant of a wall clock time in a zone.

    A time that the clocks skip counts with the offset before the change, one that comes twice
    is the first of the two (RFC 5545, 3.3.5).
    """
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)


def plus_days(at: datetime, days: int, zone: tzinfo) -> datetime:
    """The same wall clock time so many calendar days later, in the zone (RFC 5545, 3.3.6)."""
    local = at.astimezone(zone)
    return starts_at(local.date() + timedelta(days=days), local.time(), zone).astimezone(zone)


def plus_hours(at: datetime, hours: float, zone: ZoneInfo) -> datetime:
    """So many elapsed hours later, whatever the clocks do meanwhile, shown in the zone."""
    return (at.astimezone(UTC) + timedelta(hours=hours)).astimezone(zone)


def half_day(at: datetime, zone: ZoneInfo) -> HalfDay:
    """The local half-day in which an instant falls; noon belongs to the afternoon."""
    local = at.astimezone(zone)
    return HalfDay(local.date(), "am" if local.time() < NOON else "pm")


def half_day_span(half_day: HalfDay, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """UTC start and end of a half-day: midnight to noon, or noon to midnight."""
    noon = starts_at(half_day.day, NOON, zone)
    if half_day.half == "am":
        return starts_at(half_day.day, time(), zone), noon
    return noon, starts_at(half_day.day + timedelta(days=1), time(), zone)


def half_days(start: HalfDay, end: HalfDay) -> Iterator[HalfDay]:
    """Every half-day from `start` up to but not including `end`."""
    at = start
    while at < end:
        yield at
        at = HalfDay(at.day, "pm") if at.half == "am" else HalfDay(at.day + timedelta(1), "am")


def working_half_days(start: HalfDay, end: HalfDay, *, holidays: Collection[date]) -> list[HalfDay]:
    """The half-days from `start` up to but not including `end`, without weekends and holidays."""
    return [
        each
        for each in half_days(start, end)
        if each.day.weekday() not in WEEKEND and each.day not in holidays
    ]


def local_hours(
    start: datetime, hours: float, zone: ZoneInfo
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Where the local clock strikes during so many hours, and which hour of the day begins there.

    Returns edges in hours after `start` (the first at or before it) and, for each edge, the hour
    of the day (0 to 23) that lasts until the next. Changes of the clocks are edges too.
    """
    start_s = start.timestamp()
    end_s = start_s + hours * HOUR_S
    edges: list[NDArray[np.float64]] = []
    hour_of_day: list[NDArray[np.int64]] = []
    for from_s, to_s, offset_s in _offsets(start_s, end_s, zone):
        first_s = (from_s + offset_s) // HOUR_S * HOUR_S - offset_s
        strikes = np.arange(first_s, to_s, HOUR_S)
        hour_of_day.append(((strikes + offset_s) // HOUR_S % 24).astype(np.int64))
        edges.append(np.maximum(strikes, from_s) if edges else strikes)
    return (np.concatenate(edges) - start_s) / HOUR_S, np.concatenate(hour_of_day)


def _offsets(start_s: float, end_s: float, zone: ZoneInfo) -> Iterator[tuple[float, float, int]]:
    """Stretches `(from, to, offset from UTC)` in seconds, from `start_s` to `end_s`."""
    from_s, offset_s = start_s, _offset_s(start_s, zone)
    probe_s = start_s
    while probe_s < end_s:
        next_s = min(probe_s + DAY_S, end_s)
        if (next_offset_s := _offset_s(next_s, zone)) != offset_s:
            change_s = _change(probe_s, next_s, zone)
            yield from_s, change_s, offset_s
            from_s, offset_s = change_s, next_offset_s
        probe_s = next_s
    yield from_s, end_s, offset_s


def _change(before_s: float, after_s: float, zone: ZoneInfo) -> float:
    """The whole second at which the offset changes between two instants."""
    low, high = int(before_s // 1), int(-(-after_s // 1))
    old = _offset_s(before_s, zone)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _offset_s(middle, zone) == old else (low, middle)
    return float(high)


def _offset_s(at_s: float, zone: ZoneInfo) -> int:
    offset = datetime.fromtimestamp(at_s, zone).utcoffset()
    return int(offset.total_seconds()) if offset is not None else 0
