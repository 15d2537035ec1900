"""How fast a mortar cures at a temperature, by three published laws; what a course is worth.

The laws come from structural concrete. Here they may lengthen a printed minimum, never shorten it:
`credit_hours` caps every law at its own reference rate and stops it below the lowest usable
temperature.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from config.errors import DomainError

Array = NDArray[np.float64]
Steps = Iterable[tuple[float, float]]

KELVIN = 273.15
LAW_RANGE_C = (-40.0, 80.0)
EC2_KELVIN = 273.0  # equation (B.10) says 273, not 273.15
NARROW_K = 1.0  # up to here three nodes integrate every law to better than 1e-10
NARROW_RULE = np.polynomial.legendre.leggauss(3)
WIDE_RULE = np.polynomial.legendre.leggauss(16)


class ImplausibleCure(DomainError):
    """A cure law was given a number that means nothing."""

    slug = "implausible-cure"


class Law(Protocol):
    """A rate of curing as a function of temperature, rising, smooth above `nothing_below_c`."""

    @property
    def reference_c(self) -> float:
        """Temperature in °C whose hours the law counts in."""
        ...

    @property
    def nothing_below_c(self) -> float:
        """Temperature in °C below which the law itself gives no gain."""
        ...

    def rate_at(self, celsius: Array) -> Array:
        """Rate at each temperature, by the formula as printed; unchecked, for arrays."""
        ...


@dataclass(frozen=True, slots=True)
class Arrhenius:
    """Equivalent age with an activation term: rate = exp(-Q (1/T - 1/Ts)), T in kelvin.

    `activation_k` is the activation energy over the gas constant, in kelvin.
    Source: form of ASTM C1074; Q = 5 000 K is common for Portland cement (from memory).
    """

    activation_k: float = 5000.0
    reference_c: float = 20.0
    nothing_below_c = -KELVIN

    def __post_init__(self) -> None:
        _positive(self.activation_k, "activation_k", "K")
        _plausible(self.reference_c, "reference_c")

    def rate_at(self, celsius: Array) -> Array:
        """Rate at each temperature in °C; 1 at the reference."""
        inverse_k = 1 / (KELVIN + celsius) - 1 / (KELVIN + self.reference_c)
        return np.exp(-self.activation_k * inverse_k)

    def rate(self, celsius: float) -> float:
        """Hours at the reference that one hour at `celsius` is worth."""
        return _rate(self, celsius)

    def equivalent_hours(self, steps: Steps) -> float:
        """Age in hours at the reference of `(hours, celsius)` steps, one after the other."""
        return _equivalent_hours(self, steps)


@dataclass(frozen=True, slots=True)
class Eurocode2:
    """Adjusted age of EN 1992-1-1:2004 equation (B.10): rate = exp(13.65 - 4000/(273 + T)).

    The printed equation gives 0.998125 at 20 °C. It is valid from 0 to 80 °C; below, we count
    nothing.
    """

    reference_c = 20.0
    nothing_below_c = 0.0

    def rate_at(self, celsius: Array) -> Array:
        """Rate at each temperature in °C as the equation prints it; 0 below 0 °C."""
        rate = np.exp(13.65 - 4000 / (EC2_KELVIN + celsius))
        return np.where(celsius < self.nothing_below_c, 0.0, rate)

    def rate(self, celsius: float) -> float:
        """Hours at 20 °C that one hour at `celsius` is worth, as the equation prints it."""
        return _rate(self, celsius)

    def equivalent_hours(self, steps: Steps) -> float:
        """Adjusted age in hours of `(hours, celsius)` steps, one after the other."""
        return _equivalent_hours(self, steps)


@dataclass(frozen=True, slots=True)
class NurseSaul:
    """Linear maturity: rate = (T - datum) / (reference - datum), nothing below the datum.

    Source: Nurse-Saul as in ASTM C1074. Maturity means nothing without its datum (0, -10 and
    -11 °C are all in use).
    """

    datum_c: float = -10.0
    reference_c: float = 20.0

    def __post_init__(self) -> None:
        _plausible(self.datum_c, "datum_c")
        _plausible(self.reference_c, "reference_c")
        if self.datum_c >= self.reference_c:
            raise ImplausibleCure(
                f"The datum {self.datum_c:g} °C must lie below the reference "
                f"{self.reference_c:g} °C.",
                pointer="#/datum_c",
            )

    @property
    def nothing_below_c(self) -> float:
        """The datum, in °C."""
        return self.datum_c

    def rate_at(self, celsius: Array) -> Array:
        """Rate at each temperature in °C; 1 at the reference, 0 below the datum."""
        return np.maximum(celsius - self.datum_c, 0) / (self.reference_c - self.datum_c)

    def rate(self, celsius: float) -> float:
        """Hours at the reference that one hour at `celsius` is worth."""
        return _rate(self, celsius)

    def equivalent_hours(self, steps: Steps) -> float:
        """Age in hours at the reference of `(hours, celsius)` steps, one after the other."""
        return _equivalent_hours(self, steps)

    def maturity_c_hours(self, steps: Steps) -> float:
        """Maturity in °C h above the datum of `(hours, celsius)` steps."""
        return self.equivalent_hours(steps) * (self.reference_c - self.datum_c)


def strength_fraction_ec2(age_days: float, s: float) -> float:
    """Fraction of the 28-day strength at an age in days at 20 °C; above 1 after 28 days.

    `s` is 0.20 for cement of class R, 0.25 for N, 0.38 for S.
    Source: EN 1992-1-1:2004 equation (3.2), exp(s (1 - sqrt(28/t))).
    """
    _positive(s, "s", "")
    if not (math.isfinite(age_days) and age_days >= 0):
        raise ImplausibleCure(f"An age of {age_days:g} days is none.", pointer="#/age_days")
    return math.exp(s * (1 - math.sqrt(28 / age_days))) if age_days else 0.0


def credit_hours(law: Law, *, lowest_c: float, hours: Array, from_c: Array, to_c: Array) -> Array:
    """Hours that each stretch is worth: the integral of min(1, rate) along a straight line.

    `hours` is the length of each stretch, `from_c` and `to_c` its temperatures in °C at the ends.
    The rate is relative to that at the law's own reference temperature, and 0 below `lowest_c`.
    Exact at both kinks, because it is integrated over temperature between them.
    """
    bottom_c = max(lowest_c, law.nothing_below_c)
    top_c = max(law.reference_c, bottom_c)
    low_c, high_c = np.minimum(from_c, to_c), np.maximum(from_c, to_c)
    span_k = high_c - low_c
    part_from_c, part_to_c = np.clip(low_c, bottom_c, top_c), np.clip(high_c, bottom_c, top_c)
    part = np.minimum(_mean_relative_rate(law, part_from_c, part_to_c), 1.0)
    full_k = np.maximum(high_c - np.maximum(low_c, top_c), 0)
    flat = span_k == 0
    sloping = ((part_to_c - part_from_c) * part + full_k) / np.where(flat, 1, span_k)
    return hours * np.where(flat, np.where(low_c < bottom_c, 0, part), sloping)


def capped_rate(law: Law, *, lowest_c: float, celsius: float) -> float:
    """Credit of one hour at a constant temperature: 0 below `lowest_c`, at most 1."""
    constant = np.array([celsius])
    hour = credit_hours(law, lowest_c=lowest_c, hours=np.ones(1), from_c=constant, to_c=constant)
    return float(hour[0])


def _mean_relative_rate(law: Law, from_c: Array, to_c: Array) -> Array:
    mean = _mean_rate(law, from_c, to_c, NARROW_RULE)
    wide = to_c - from_c > NARROW_K
    if wide.any():
        mean[wide] = _mean_rate(law, from_c[wide], to_c[wide], WIDE_RULE)
    return mean / law.rate_at(np.array(law.reference_c))


def _mean_rate(law: Law, from_c: Array, to_c: Array, rule: tuple[Array, Array]) -> Array:
    middle_c, half_k = (from_c + to_c) / 2, (to_c - from_c) / 2
    mean = np.zeros_like(middle_c)
    for node, weight in zip(*rule, strict=True):
        mean += weight / 2 * law.rate_at(middle_c + node * half_k)
    return mean


def _rate(law: Law, celsius: float) -> float:
    _plausible(celsius, "celsius")
    return float(law.rate_at(np.array(celsius, dtype=np.float64)))


def _equivalent_hours(law: Law, steps: Steps) -> float:
    total = 0.0
    for number, (hours, celsius) in enumerate(steps):
        if not (math.isfinite(hours) and hours >= 0):
            raise ImplausibleCure(f"{hours:g} hours is no duration.", pointer=f"#/{number}/hours")
        total += hours * _rate(law, celsius)
    return total


def _positive(value: float, field: str, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        shown = f"{value:g} {unit}".strip()
        raise ImplausibleCure(f"{field} must be above zero, not {shown}.", pointer=f"#/{field}")


def _plausible(celsius: float, field: str) -> None:
    low_c, high_c = LAW_RANGE_C
    if not low_c <= celsius <= high_c:  # also refuses NaN
        raise ImplausibleCure(
            f"{celsius:g} °C is outside {low_c:g} to {high_c:g} °C, where the law means something.",
            pointer=f"#/{field}",
        )
