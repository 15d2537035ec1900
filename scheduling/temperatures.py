"""What is known of a room's temperature: readings of every source, merged into one cautious course.

The rule, in full. Between two readings at most the longest allowed gap apart, the temperature runs
straight from one to the other. Several sources at the same time: the coldest counts. At one instant
that is the coldest reading; between instants it is the coldest of the line through all readings
together and the line of every source that is known by itself there. Any other time is unknown and
counts at the coldest of the assumed temperature and the readings at its ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from config.errors import DomainError
from readings.air import require_plausible

Array = NDArray[np.float64]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
US_PER_HOUR = 3_600_000_000
DISAGREE_K = 4.0  # two thermometers of one room that differ by more are not both right
FAHRENHEIT_SUSPECT_C = 45.0  # a room this warm all the time was rather read in °F


class ImplausibleTime(DomainError):
    """A time that cannot be meant: without zone, or not where it belongs."""

    slug = "implausible-time"


@dataclass(frozen=True, slots=True, eq=False)
class TemperatureRecord:
    """Readings of a room in order of time, as arrays; equal readings of one source count once.

    `at_us` are microseconds since 1970 in UTC, `celsius` the coldest plausible values in °C,
    `source` indexes into `sources`.
    """

    at_us: NDArray[np.int64]
    celsius: Array
    source: NDArray[np.int64]
    sources: tuple[str, ...]

    @classmethod
    def of(
        cls, readings: Iterable[tuple[datetime, float, str]], *, not_after: datetime
    ) -> TemperatureRecord:
        """The record of `(at, celsius, source)` readings in any order.

        Raises ImplausibleTime for a time without zone or after `not_after`, and
        ImplausibleTemperature outside -40 to 70 °C; both point at the reading.
        """
        limit_us = microseconds(not_after)
        rows = set()
        for number, (at, celsius, source) in enumerate(readings):
            require_zone(at, pointer=f"#/temperatures/{number}/at")
            require_plausible(celsius, pointer=f"#/temperatures/{number}/celsius")
            at_us = microseconds(at)
            if at_us > limit_us:
                raise ImplausibleTime(
                    f"{source} claims a reading at {at.isoformat()}, which is yet to come. "
                    "Set its clock.",
                    pointer=f"#/temperatures/{number}/at",
                )
            rows.add((at_us, celsius + 0.0, source))  # no −0.0
        unique = sorted(rows)
        sources = tuple(sorted({source for _, _, source in unique}))
        index = {source: number for number, source in enumerate(sources)}
        return cls(
            np.array([at_us for at_us, _, _ in unique], dtype=np.int64),
            np.array([celsius for _, celsius, _ in unique], dtype=np.float64),
            np.array([index[source] for _, _, source in unique], dtype=np.int64),
            sources,
        )

    def readings(self) -> Iterator[tuple[datetime, float, str]]:
        """The `(at, celsius, source)` readings in order of time."""
        rows = zip(self.at_us.tolist(), self.celsius.tolist(), self.source.tolist(), strict=True)
        for at_us, celsius, source in rows:
            yield instant(at_us), celsius, self.sources[source]

    def between(self, start_us: int, end_us: int) -> Array:
        """Celsius of all readings from `start_us` to `end_us`, both included."""
        return self.celsius[(self.at_us >= start_us) & (self.at_us <= end_us)]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A temperature course of adjoining straight stretches; times in hours relative to now.

    Stretch i runs from `edges_h[i]` to `edges_h[i + 1]`, from `from_c[i]` to `to_c[i]` °C;
    `known[i]` is false where the value is an assumption.
    """

    edges_h: Array
    from_c: Array
    to_c: Array
    known: NDArray[np.bool_]

    @property
    def hours(self) -> Array:
        """Length of every stretch."""
        return np.diff(self.edges_h)

    def cut(self, edges_h: Array) -> Course:
        """The same course, also divided at those of the given times, in order, that lie in it."""
        inside = edges_h[(edges_h > self.edges_h[0]) & (edges_h < self.edges_h[-1])]
        place = np.searchsorted(self.edges_h, inside)
        new = self.edges_h[place] != inside
        inside, place = inside[new], place[new]
        if not len(inside):
            return self
        edges = np.insert(self.edges_h, place, inside)
        pieces = 1 + np.bincount(place - 1, minlength=len(self.from_c))
        stretch = np.repeat(np.arange(len(self.from_c)), pieces)
        slope = ((self.to_c - self.from_c) / self.hours)[stretch]
        return Course(
            edges,
            self.from_c[stretch] + slope * (edges[:-1] - self.edges_h[stretch]),
            self.to_c[stretch] - slope * (self.edges_h[stretch + 1] - edges[1:]),
            self.known[stretch],
        )

    def since(self, start_h: float) -> Course:
        """The part from `start_h` on."""
        first = int(np.searchsorted(self.edges_h, start_h))
        if first and first < len(self.edges_h):
            head = self._stretches(first - 1, first).cut(np.array([start_h]))
            rest = self._stretches(first, len(self.from_c))
            return Course(
                np.concatenate((head.edges_h[1:], rest.edges_h[1:])),
                np.concatenate((head.from_c[1:], rest.from_c)),
                np.concatenate((head.to_c[1:], rest.to_c)),
                np.concatenate((head.known[1:], rest.known)),
            )
        return self._stretches(first, len(self.from_c))

    def _stretches(self, first: int, end: int) -> Course:
        stretches = slice(first, end)
        return Course(
            self.edges_h[first : end + 1],
            self.from_c[stretches],
            self.to_c[stretches],
            self.known[stretches],
        )

    def at(self, when_h: float) -> float:
        """Temperature in °C at a time within the course."""
        stretch = int(np.searchsorted(self.edges_h, when_h, side="right")) - 1
        stretch = min(max(stretch, 0), len(self.from_c) - 1)
        share = (when_h - self.edges_h[stretch]) / self.hours[stretch]
        return float(self.from_c[stretch] + share * (self.to_c[stretch] - self.from_c[stretch]))


def course(
    record: TemperatureRecord,
    *,
    start: datetime,
    now: datetime,
    assume_c: float,
    max_gap_hours: float,
) -> Course:
    """The temperature from `start` to `now`, every unknown time filled in at its coldest."""
    now_us = microseconds(now)
    start_h = (microseconds(start) - now_us) / US_PER_HOUR
    merged = _line(record.at_us, record.celsius, now_us, start_h, assume_c, max_gap_hours)
    if len(record.sources) > 1:
        for number in range(len(record.sources)):
            own = record.source == number
            line = _line(
                record.at_us[own], record.celsius[own], now_us, start_h, assume_c, max_gap_hours
            )
            merged = _coldest(merged, line)
    return merged


def microseconds(at: datetime) -> int:
    """Microseconds since 1970 in UTC."""
    return (at - EPOCH) // timedelta(microseconds=1)


def instant(at_us: int) -> datetime:
    """The UTC instant of so many microseconds since 1970."""
    return EPOCH + timedelta(microseconds=at_us)


def require_zone(at: datetime, *, pointer: str) -> None:
    """Raise ImplausibleTime for a time without zone."""
    if at.tzinfo is None or at.utcoffset() is None:
        raise ImplausibleTime(
            f"{at.isoformat()} has no zone; write Z or an offset such as +02:00.", pointer=pointer
        )


def doubts(record: TemperatureRecord, *, max_gap_hours: float) -> tuple[str, ...]:
    """What looks wrong in the readings although each is possible: sentences for a person."""
    found = []
    for number, source in enumerate(record.sources):
        median_c = float(np.median(record.celsius[record.source == number]))
        if median_c >= FAHRENHEIT_SUSPECT_C:
            found.append(
                f"{source}: half of its readings are {median_c:.0f} °C or more. "
                "Check that they were not read in °F."
            )
    for one, two in combinations(range(len(record.sources)), 2):
        apart_k = _widest_difference_k(record, one, two, max_gap_hours)
        if apart_k > DISAGREE_K:
            found.append(
                f"{record.sources[one]} and {record.sources[two]} differ by up to {apart_k:.1f} K "
                "at the same time. The coldest counts; check both thermometers."
            )
    return tuple(found)


def _widest_difference_k(
    record: TemperatureRecord, one: int, two: int, max_gap_hours: float
) -> float:
    """Largest distance of a reading of `one` from the line of `two` where that is known, in K."""
    first, second = record.source == one, record.source == two
    at_us, line_us = record.at_us[first], record.at_us[second]
    if len(line_us) < 2:
        return 0.0
    after = np.searchsorted(line_us, at_us).clip(1, len(line_us) - 1)
    within = (line_us[after - 1] <= at_us) & (at_us <= line_us[after])
    within &= line_us[after] - line_us[after - 1] <= max_gap_hours * US_PER_HOUR
    there_c = np.interp(at_us, line_us, record.celsius[second])
    return float(np.abs(record.celsius[first] - there_c)[within].max(initial=0.0))


def _line(
    at_us: NDArray[np.int64],
    celsius: Array,
    now_us: int,
    start_h: float,
    assume_c: float,
    max_gap_hours: float,
) -> Course:
    """One course through readings in order of time (at one instant the coldest first)."""
    coldest_of_instant = np.ones(len(at_us), dtype=np.bool_)
    coldest_of_instant[1:] = at_us[1:] != at_us[:-1]
    at_us, celsius = at_us[coldest_of_instant], celsius[coldest_of_instant]
    edges_h = (at_us - now_us) / US_PER_HOUR
    known = np.concatenate(([False], np.diff(at_us) <= max_gap_hours * US_PER_HOUR, [False]))
    if not len(at_us):
        return Course(
            np.array([start_h, 0.0]), np.array([assume_c]), np.array([assume_c]), np.array([False])
        )
    before = np.concatenate(([celsius[0]], celsius))
    after = np.concatenate((celsius, [celsius[-1]]))
    coldest = np.minimum(np.minimum(before, after), assume_c)
    from_c, to_c = np.where(known, before, coldest), np.where(known, after, coldest)
    edges_h = np.concatenate(([min(start_h, edges_h[0]) - 1], edges_h, [max(0.0, edges_h[-1]) + 1]))
    whole = Course(edges_h, from_c, to_c, known).cut(np.array([start_h, 0.0]))
    kept = slice(*np.searchsorted(whole.edges_h, (start_h, 0.0)))
    return Course(
        whole.edges_h[kept.start : kept.stop + 1],
        whole.from_c[kept],
        whole.to_c[kept],
        whole.known[kept],
    )


def _coldest(merged: Course, other: Course) -> Course:
    """The lower of two courses wherever `other` is known, divided where they cross."""
    merged, other = merged.cut(other.edges_h), other.cut(merged.edges_h)
    gap_from, gap_to = merged.from_c - other.from_c, merged.to_c - other.to_c
    crossing = other.known & (gap_from * gap_to < 0)
    share = gap_from[crossing] / (gap_from[crossing] - gap_to[crossing])
    crossings_h = merged.edges_h[:-1][crossing] + share * merged.hours[crossing]
    if len(crossings_h):
        merged, other = merged.cut(crossings_h), other.cut(crossings_h)
    return Course(
        merged.edges_h,
        np.where(other.known, np.minimum(merged.from_c, other.from_c), merged.from_c),
        np.where(other.known, np.minimum(merged.to_c, other.to_c), merged.to_c),
        merged.known,
    )
