"""How a layer dries: by how much vapour the air still takes up, from what is known of its humidity.

Drying is not curing: it is counted beside the hours of curing and can only move a date later. The
rule, in full. An hour of drying is worth one at the sheet's temperature and humidity times two
shares, neither above 1: the saturation pressure of vapour at the floor's temperature over that at
the sheet's temperature (0 below 0 °C and below the lowest usable temperature), and what the air
lacks to saturation, (100 − humidity) over (100 − the sheet's humidity). So warm or dry air never
shortens the drying of the sheet, and one does not make up for the other.

Humidity between two readings at most the longest allowed gap apart is the damper of the two. Any
other time is unknown and counts at the dampest of what is assumed and the readings at its ends. Of
several sources the dampest counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from readings.air import require_humidity
from scheduling.cure import Array
from scheduling.moisture import Drying
from scheduling.temperatures import (
    US_PER_HOUR,
    ImplausibleTime,
    instant,
    microseconds,
    require_zone,
)

MAGNUS = 17.62, 243.12


@dataclass(frozen=True, slots=True)
class Evaporation:
    """Saturation pressure of water vapour relative to that at `reference_c`; none from frost.

    Source: Magnus formula over water, 6.112 exp(17.62 t/(243.12 + t)) hPa, WMO-No. 8 (from memory).
    """

    reference_c: float = 20.0
    nothing_below_c = 0.0

    def rate_at(self, celsius: Array) -> Array:
        """Rate at each temperature in °C; 1 at the reference."""
        return np.exp(_magnus(celsius) - _magnus(np.array(self.reference_c)))


@dataclass(frozen=True, slots=True, eq=False)
class HumidityRecord:
    """Readings of the relative humidity of a room's air in order of time; equal ones count once.

    `at_us` are microseconds since 1970 in UTC, `percent` the dampest plausible values.
    """

    at_us: NDArray[np.int64]
    percent: Array
    sources: tuple[str, ...]

    @classmethod
    def of(
        cls, readings: Iterable[tuple[datetime, float, str]], *, not_after: datetime
    ) -> HumidityRecord:
        """The record of `(at, percent, source)` readings in any order.

        Raises ImplausibleTime for a time without zone or after `not_after`, ImplausibleHumidity
        outside 0 to 100 %; both point at the reading.
        """
        limit_us = microseconds(not_after)
        rows = set()
        for number, (at, percent, source) in enumerate(readings):
            require_zone(at, pointer=f"#/humidities/{number}/at")
            require_humidity(percent, pointer=f"#/humidities/{number}/percent")
            if (at_us := microseconds(at)) > limit_us:
                raise ImplausibleTime(
                    f"{source} claims a humidity at {at.isoformat()}, which is yet to come. "
                    "Set its clock.",
                    pointer=f"#/humidities/{number}/at",
                )
            rows.add((at_us, percent + 0.0, source))
        unique = sorted(rows)
        return cls(
            np.array([at_us for at_us, _, _ in unique], dtype=np.int64),
            np.array([percent for _, percent, _ in unique], dtype=np.float64),
            tuple(source for _, _, source in unique),
        )

    def readings(self) -> Iterator[tuple[datetime, float, str]]:
        """The `(at, percent, source)` readings in order of time."""
        rows = zip(self.at_us.tolist(), self.percent.tolist(), self.sources, strict=True)
        for at_us, percent, source in rows:
            yield instant(at_us), percent, source

    def since(self, start_us: int) -> Array:
        """Percent of all readings from `start_us` on."""
        return self.percent[self.at_us >= start_us]


NO_HUMIDITY = HumidityRecord(np.zeros(0, dtype=np.int64), np.zeros(0), sources=())


@dataclass(frozen=True, slots=True, eq=False)
class DampCourse:
    """Humidity as a course of level stretches; times in hours relative to now.

    Stretch i runs from `edges_h[i]` to `edges_h[i + 1]` at `percent[i]`; `known[i]` is false where
    that is an assumption.
    """

    edges_h: Array
    percent: Array
    known: NDArray[np.bool_]

    def within(self, edges_h: Array) -> tuple[Array, NDArray[np.bool_]]:
        """Humidity in percent between edges that divide nothing of this course, and if known."""
        middles = (edges_h[:-1] + edges_h[1:]) / 2
        last = len(self.percent) - 1
        stretch = np.clip(np.searchsorted(self.edges_h, middles, side="right") - 1, 0, last)
        return self.percent[stretch], self.known[stretch]


def damp_course(
    record: HumidityRecord,
    *,
    start: datetime,
    now: datetime,
    assume_percent: float,
    max_gap_hours: float,
) -> DampCourse:
    """The humidity from `start` to `now`, every unknown time filled in at its dampest."""
    now_us = microseconds(now)
    start_h = (microseconds(start) - now_us) / US_PER_HOUR
    edges_h = np.union1d((record.at_us - now_us) / US_PER_HOUR, [start_h, 0.0])
    edges_h = edges_h[(edges_h >= start_h) & (edges_h <= 0)]
    middles = (edges_h[:-1] + edges_h[1:]) / 2
    known = np.zeros(len(middles), dtype=np.bool_)
    percent = np.zeros(len(middles))
    together = _between(record.at_us, record.percent, now_us, middles)
    lines = [together]
    if len(sources := sorted(set(record.sources))) > 1:
        for source in sources:
            own = np.array([each == source for each in record.sources])
            lines.append(_between(record.at_us[own], record.percent[own], now_us, middles))
    for damper, gap_h in lines:
        here = gap_h <= max_gap_hours
        percent[here] = np.maximum(percent, damper)[here]
        known |= here
    return DampCourse(
        edges_h, np.where(known, percent, np.maximum(together[0], assume_percent)), known
    )


def _between(
    at_us: NDArray[np.int64], percent: Array, now_us: int, middles_h: Array
) -> tuple[Array, Array]:
    """The damper of the readings on both sides of each time, and the hours between those two."""
    dampest_of_instant = np.ones(len(at_us), dtype=np.bool_)  # sorted: the last of an instant
    dampest_of_instant[:-1] = at_us[1:] != at_us[:-1]
    at_h = (at_us[dampest_of_instant] - now_us) / US_PER_HOUR
    at_h = np.concatenate(([-np.inf], at_h, [np.inf]))
    value = np.concatenate(([0.0], percent[dampest_of_instant], [0.0]))
    after = np.searchsorted(at_h, middles_h)
    return np.maximum(value[after - 1], value[after]), at_h[after] - at_h[after - 1]


def share_of_drying(percent: Array, drying: Drying) -> Array:
    """What air of such humidities leaves of the sheet's drying: 0 when saturated, at most 1."""
    lacking = (100.0 - percent) / (100.0 - drying.reference_rh_percent)
    return np.clip(lacking, 0.0, 1.0)


def _magnus(celsius: Array) -> Array:
    slope, offset_c = MAGNUS
    return slope * celsius / (offset_c + celsius)
