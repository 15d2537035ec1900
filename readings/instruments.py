"""Meters: what a range can tell, which range suits, whether the calibration still holds."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from config.errors import DomainError
from readings import verdict, wording
from readings.number import not_negative, positive, refused
from readings.uncertainty import rectangular

CALIBRATION_SOON = timedelta(days=30)


class OverFullScale(DomainError):
    """A reading that this range cannot have shown."""

    slug = "range-not-fit"


@dataclass(frozen=True, slots=True)
class Range:
    """One range of a meter, as its manual states it.

    Accuracy is "percent of reading + digits"; one digit is one count of the last place shown, so
    it is worth `resolution_ohms`. Volts, amperes and megohms work alike.
    """

    full_scale_ohms: float
    resolution_ohms: float
    percent_of_reading: float
    digits: float

    def __post_init__(self) -> None:
        full_scale = positive(self.full_scale_ohms, "full_scale_ohms")
        if positive(self.resolution_ohms, "resolution_ohms") > full_scale:
            raise refused("resolution_ohms", "is coarser than the whole range")
        if not_negative(self.percent_of_reading, "percent_of_reading") >= 100:
            raise refused("percent_of_reading", "must be below 100")
        not_negative(self.digits, "digits")

    def half_width_ohms(self, reading_ohms: float) -> float:
        """The limits of error at this reading: the truth lies within ± this.

        Raises OverFullScale above the range; such a reading is `over_range`, not a number.
        """
        reading = not_negative(reading_ohms, "reading_ohms")
        # A binary fraction below the last digit must not turn a full display into an overflow.
        if reading > self.full_scale_ohms + self.resolution_ohms * 1e-6:
            raise OverFullScale(
                f"{wording.ohms(reading)} cannot be read on the {self.name} range. "
                "Record it as over-range, or choose the range that was used.",
                pointer="#/reading_ohms",
            )
        return self.percent_of_reading / 100 * reading + self.digits * self.resolution_ohms

    def standard_uncertainty_ohms(self, reading_ohms: float) -> float:
        """u at this reading: a rectangular distribution over the limits of error (GUM 4.3.7)."""
        return rectangular(self.half_width_ohms(reading_ohms))

    @property
    def name(self) -> str:
        """Such as `200 Ω`."""
        return wording.range_name(self.full_scale_ohms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suitability:
    """Whether a range can pass a sound element, and why; `margin` is what it leaves of the band.

    `margin` is the width of the readings that would pass, as a fraction of the limits' width:
    0 means that no reading can pass, near 1 that the meter hardly matters.
    """

    range: Range
    suits: bool
    margin: float
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """How a meter's calibration stands on a day."""

    state: Literal["valid", "due-soon", "overdue", "unknown"]
    because: str

    @property
    def trusted(self) -> bool:
        """Whether the stated accuracy may be relied on for a `pass`."""
        return self.state != "overdue"


def suitable(
    ranges: Iterable[Range],
    *,
    expected_ohms: float,
    low_ohms: float,
    high_ohms: float,
    other_u_ohms: float = 0.0,
    confidence: float = verdict.CONFIDENCE,
) -> list[Suitability]:
    """The ranges, best first, for a reading that should be `expected_ohms` within its limits.

    `other_u_ohms` is the standard uncertainty of everything but the meter (leads, temperature).
    """
    positive(expected_ohms, "expected_ohms")
    rated = [
        _rate(one, expected_ohms, low_ohms, high_ohms, other_u_ohms, confidence) for one in ranges
    ]
    return sorted(rated, key=lambda s: (not s.suits, -s.margin, s.range.full_scale_ohms))


def calibration(due_on: date | None, on: date) -> Calibration:
    """Whether a meter may be believed on the day `on`; the day it falls due still counts."""
    if due_on is None:
        return Calibration(
            state="unknown",
            because="No calibration date is recorded for this meter. "
            "Its accuracy is taken on trust.",
        )
    if on > due_on:
        return Calibration(
            state="overdue",
            because=f"Calibration fell due on {_day(due_on)}. What this meter reads cannot "
            "pass anything. Use a calibrated meter.",
        )
    if due_on - on <= CALIBRATION_SOON:
        return Calibration(state="due-soon", because=f"Calibration falls due on {_day(due_on)}.")
    return Calibration(state="valid", because=f"Calibrated until {_day(due_on)}.")


def _rate(
    one: Range, expected: float, low: float, high: float, other_u: float, confidence: float
) -> Suitability:
    if high > one.full_scale_ohms:
        return Suitability(
            range=one,
            suits=False,
            margin=0.0,
            because=f"{wording.ohms(high)} is allowed, but the {one.name} range ends before that.",
        )
    u = (one.standard_uncertainty_ohms(expected) ** 2 + other_u**2) ** 0.5
    inside = verdict.acceptance(u, low, high, confidence)
    if inside is None:
        return Suitability(
            range=one,
            suits=False,
            margin=0.0,
            because=f"Between {wording.ohms(low)} and {wording.ohms(high)} the {one.name} range "
            f"is only true to ±{wording.plus_minus(2 * u)} Ω. No reading on it can pass.",
        )
    margin = (inside[1] - inside[0]) / (high - low)
    suits = inside[0] <= expected <= inside[1]
    told = f"Readings of {wording.ohms(inside[0])} to {wording.ohms(inside[1])} would pass"
    return Suitability(
        range=one,
        suits=suits,
        margin=margin,
        because=f"{told} on the {one.name} range."
        if suits
        else f"{told} on the {one.name} range, but {wording.ohms(expected)} would not.",
    )


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
