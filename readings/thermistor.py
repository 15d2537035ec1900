"""Floor sensors: from ohms to degrees Celsius and back.

Three ways to write down an NTC probe (Steinhart-Hart, beta, a table) and the platinum probe. Each
curve has `celsius_at(ohms)` and `ohms_at(celsius)`, which undo each other. Logarithms are natural,
kelvin is Celsius + 273.15. A curve refuses what lies outside it; it never guesses.
"""

import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from config.errors import DomainError
from readings.number import ABSOLUTE_ZERO_C, finite, positive, refused, temperature_c

KELVIN = -ABSOLUTE_ZERO_C
HOTTEST_TABLE_C = 1000.0  # above it, ohms and degrees of a point were swapped
LOWEST_LN_OHMS, HIGHEST_LN_OHMS = math.log(1e-6), math.log(1e15)


class CurveNotUsable(DomainError):
    """Coefficients or points that do not describe a probe."""

    slug = "curve-not-usable"


class OutsideCurve(DomainError):
    """Ohms or degrees for which this curve says nothing."""

    slug = "outside-curve"


class Curve(Protocol):
    """What every sensor curve answers; errors are OutsideCurve and ImplausibleNumber."""

    def celsius_at(self, ohms: float) -> float:
        """Degrees Celsius of a probe that shows `ohms`."""

    def ohms_at(self, celsius: float) -> float:
        """Ohms of a probe at `celsius`."""

    def __hash__(self) -> int:
        """Of its figures: what was worked out for a curve can be kept."""


def from_points(points: Iterable[tuple[float, float]]) -> Curve:
    """The curve of a data sheet's points `(celsius, ohms)`, as many as it prints.

    Two points are read by beta, three by Steinhart-Hart, more as a table.
    """
    rows = _falling(points)
    if len(rows) == 2:
        return Beta.through(rows)
    return SteinhartHart.through(rows) if len(rows) == 3 else Table(rows)


@dataclass(frozen=True, slots=True)
class SteinhartHart:
    """1/T = a + b ln R + c (ln R)³, T in kelvin, R in ohms.

    Good between the points it was fitted through, a guess beyond them. With `b` or `c` below zero
    the cubic turns around; only the part that rises with ln R, where a thermistor can be, is used.

    Source: Steinhart and Hart, "Calibration curves for thermistors", Deep-Sea Research 15 (1968).
    """

    a: float
    b: float
    c: float

    def __post_init__(self) -> None:
        for name in ("a", "b", "c"):
            finite(getattr(self, name), name)
        if self.b <= 0 and self.c <= 0:
            raise CurveNotUsable(
                "With b and c not above zero the ohms would rise with the temperature. "
                "Check the signs and the powers of ten of the coefficients.",
                pointer="#/b",
            )

    @classmethod
    def through(cls, points: Iterable[tuple[float, float]]) -> "SteinhartHart":
        """The curve through exactly three points `(celsius, ohms)`, in any order."""
        three = _falling(points)
        if len(three) != 3:
            raise CurveNotUsable(
                f"Steinhart-Hart needs exactly three points, not {len(three)}. "
                "With more, use a table.",
                pointer="#/points",
            )
        logs = [math.log(ohms) for _, ohms in three]
        inverse = [1 / (celsius + KELVIN) for celsius, _ in three]
        divisor = (logs[2] - logs[1]) * sum(logs)
        if divisor == 0 or logs[0] == logs[1]:
            raise CurveNotUsable(
                "These three points do not fix a curve. Take points that lie further apart.",
                pointer="#/points",
            )
        near = (inverse[1] - inverse[0]) / (logs[1] - logs[0])
        far = (inverse[2] - inverse[0]) / (logs[2] - logs[0])
        c = (far - near) / divisor
        b = near - c * (logs[0] ** 2 + logs[0] * logs[1] + logs[1] ** 2)
        curve = cls(inverse[0] - logs[0] * (b + logs[0] ** 2 * c), b, c)
        low, high = curve._branch()
        if not (low <= logs[2] and logs[0] <= high):
            raise CurveNotUsable(
                "No Steinhart-Hart curve runs through these three points without turning "
                "around. Check them for a wrong figure.",
                pointer="#/points",
            )
        return curve

    def celsius_at(self, ohms: float) -> float:
        """Degrees Celsius at `ohms`."""
        y = math.log(positive(ohms, "ohms"))
        low, high = self._branch()
        inverse = self._inverse_kelvin(y)
        if not low <= y <= high or inverse <= 0:
            raise _outside_ohms(ohms)
        return 1 / inverse - KELVIN

    def ohms_at(self, celsius: float) -> float:
        """Ohms at `celsius`: the cubic solved by Newton's method, kept inside a bracket."""
        target = 1 / (temperature_c(celsius, "celsius") + KELVIN)
        low, high = self._branch()
        if not self._inverse_kelvin(low) <= target <= self._inverse_kelvin(high):
            raise _outside_celsius(celsius)
        y = min(max(math.log(10_000.0), low), high)
        for _ in range(200):
            excess = self._inverse_kelvin(y) - target
            if excess > 0:
                high = y
            else:
                low = y
            slope = self.b + 3 * self.c * y * y
            step = y - excess / slope if slope > 0 else low
            following = step if low < step < high else (low + high) / 2
            if abs(following - y) <= 2e-16 * max(1.0, abs(y)):
                break
            y = following
        return math.exp(following)

    def _inverse_kelvin(self, y: float) -> float:
        return self.a + y * (self.b + self.c * y * y)

    def _branch(self) -> tuple[float, float]:
        """The ln R between which 1/T rises with ln R."""
        if self.b > 0 and self.c >= 0:
            return LOWEST_LN_OHMS, HIGHEST_LN_OHMS
        turn = math.sqrt(-self.b / (3 * self.c))
        if self.c > 0:
            return turn, max(turn, HIGHEST_LN_OHMS)
        return max(-turn, LOWEST_LN_OHMS), min(turn, HIGHEST_LN_OHMS)


@dataclass(frozen=True, slots=True)
class Beta:
    """R = ref_ohms · exp(beta_k · (1/T − 1/T_ref)): two figures of a data sheet.

    Half a kelvin wrong some 20 K away from its reference, where Steinhart-Hart is not.
    """

    ref_ohms: float
    ref_c: float
    beta_k: float

    def __post_init__(self) -> None:
        positive(self.ref_ohms, "ref_ohms")
        temperature_c(self.ref_c, "ref_c")
        positive(self.beta_k, "beta_k")

    @classmethod
    def through(cls, points: Iterable[tuple[float, float]]) -> "Beta":
        """The curve through exactly two points `(celsius, ohms)`, referred to the colder one."""
        two = _falling(points)
        if len(two) != 2:
            raise CurveNotUsable(
                f"Beta needs exactly two points, not {len(two)}.", pointer="#/points"
            )
        (cold_c, cold_ohms), (warm_c, warm_ohms) = two
        span = 1 / (cold_c + KELVIN) - 1 / (warm_c + KELVIN)
        return cls(cold_ohms, cold_c, math.log(cold_ohms / warm_ohms) / span)

    @classmethod
    def from_coefficient(cls, ref_ohms: float, ref_c: float, percent_per_k: float) -> "Beta":
        """The curve that falls by `percent_per_k` per kelvin at `ref_c` (good for some kelvins)."""
        kelvin = temperature_c(ref_c, "ref_c") + KELVIN
        return cls(ref_ohms, ref_c, positive(percent_per_k, "percent_per_k") / 100 * kelvin**2)

    def celsius_at(self, ohms: float) -> float:
        """Degrees Celsius at `ohms`."""
        ratio = math.log(positive(ohms, "ohms")) - math.log(self.ref_ohms)
        inverse = 1 / (self.ref_c + KELVIN) + ratio / self.beta_k
        if inverse <= 0:
            raise _outside_ohms(ohms)
        return 1 / inverse - KELVIN

    def ohms_at(self, celsius: float) -> float:
        """Ohms at `celsius`."""
        kelvin = temperature_c(celsius, "celsius") + KELVIN
        y = math.log(self.ref_ohms) + self.beta_k * (1 / kelvin - 1 / (self.ref_c + KELVIN))
        if not LOWEST_LN_OHMS <= y <= HIGHEST_LN_OHMS:
            raise _outside_celsius(celsius)
        return math.exp(y)


@dataclass(frozen=True, slots=True)
class Table:
    """Points `(celsius, ohms)`; between two of them ln R is straight in 1/T, as with beta.

    Points may come in any order. Nothing is said outside the first and the last of them.
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        rows = _falling(self.points)
        if len(rows) < 2:
            raise CurveNotUsable(
                f"A table needs at least two points, not {len(rows)}.", pointer="#/points"
            )
        object.__setattr__(self, "points", rows)

    def celsius_at(self, ohms: float) -> float:
        """Degrees Celsius at `ohms`."""
        wanted = positive(ohms, "ohms")
        warmest, coldest = self.points[-1][1], self.points[0][1]
        if not warmest <= wanted <= coldest:
            raise OutsideCurve(
                f"{wanted:g} Ω lies outside this table ({warmest:g} to {coldest:g} Ω). "
                "Measure again; if it stays, look for a broken or shorted sensor or "
                "another sensor type.",
                pointer="#/ohms",
            )
        at = bisect_left(self.points, -wanted, lo=1, hi=len(self.points) - 1, key=lambda p: -p[1])
        # Clamped, since the last bit of a logarithm must not carry an end beyond itself.
        return min(max(self._segment(at).celsius_at(wanted), self.points[0][0]), self.points[-1][0])

    def ohms_at(self, celsius: float) -> float:
        """Ohms at `celsius`."""
        wanted = temperature_c(celsius, "celsius")
        coldest, warmest = self.points[0][0], self.points[-1][0]
        if not coldest <= wanted <= warmest:
            raise OutsideCurve(
                f"{wanted:g} °C lies outside this table ({coldest:g} to {warmest:g} °C). "
                "Use a table that reaches there.",
                pointer="#/celsius",
            )
        at = bisect_left(self.points, wanted, lo=1, hi=len(self.points) - 1, key=lambda p: p[0])
        return min(max(self._segment(at).ohms_at(wanted), self.points[-1][1]), self.points[0][1])

    def _segment(self, at: int) -> Beta:
        return Beta.through(self.points[at - 1 : at + 1])


@dataclass(frozen=True, slots=True)
class Platinum:
    """A platinum probe, 100 or 1000 ohms at 0 °C, from -200 to 850 °C.

    R = R0 (1 + A t + B t²), and below 0 °C also + C (t - 100) t³.
    Source: IEC 60751 (A, B as repeated in open libraries, C from memory).
    """

    ohms_at_0_c: float

    A = 3.9083e-3
    B = -5.775e-7
    C = -4.183e-12
    COLDEST_C, HOTTEST_C = -200.0, 850.0

    def __post_init__(self) -> None:
        positive(self.ohms_at_0_c, "ohms_at_0_c")

    def ohms_at(self, celsius: float) -> float:
        """Ohms at `celsius`."""
        t = temperature_c(celsius, "celsius")
        if not self.COLDEST_C <= t <= self.HOTTEST_C:
            raise _outside_celsius(celsius)
        return self._ohms(t)

    def celsius_at(self, ohms: float) -> float:
        """Degrees Celsius at `ohms`."""
        wanted = positive(ohms, "ohms")
        if not self._ohms(self.COLDEST_C) <= wanted <= self._ohms(self.HOTTEST_C):
            raise _outside_ohms(ohms)
        t = (wanted / self.ohms_at_0_c - 1) / self.A
        for _ in range(20):  # Newton; the curve is nearly straight, so some five steps do
            cold = self.C * (4 * t - 300) * t * t if t < 0 else 0.0
            step = (self._ohms(t) - wanted) / (self.ohms_at_0_c * (self.A + 2 * self.B * t + cold))
            t -= step
            if abs(step) < 1e-12:
                break
        return t

    def _ohms(self, t: float) -> float:
        cold = self.C * (t - 100) * t**3 if t < 0 else 0.0
        return self.ohms_at_0_c * (1 + self.A * t + self.B * t * t + cold)


def _falling(points: Iterable[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """The points sorted by temperature; refused unless their ohms fall all the way."""
    rows: list[tuple[float, float]] = []
    try:
        pairs: Sequence[tuple[float, float]] = [(celsius, ohms) for celsius, ohms in points]
    except (TypeError, ValueError):
        raise CurveNotUsable(
            "Points are pairs of degrees Celsius and ohms.", pointer="#/points"
        ) from None
    for celsius, ohms in pairs:
        row = temperature_c(celsius, "celsius"), positive(ohms, "ohms")
        if row[0] > HOTTEST_TABLE_C:
            raise refused("celsius", f"is {row[0]:g} °C. Points are (celsius, ohms): swapped?")
        rows.append(row)
    rows.sort()
    for (cold_c, cold_ohms), (warm_c, warm_ohms) in pairwise(rows):
        if cold_c == warm_c:
            raise CurveNotUsable(f"{cold_c:g} °C is given twice.", pointer="#/points")
        if cold_ohms <= warm_ohms:
            raise CurveNotUsable(
                f"The ohms of an NTC sensor fall as it warms, but go from {cold_ohms:g} at "
                f"{cold_c:g} °C to {warm_ohms:g} at {warm_c:g} °C. Look for a wrong figure.",
                pointer="#/points",
            )
    return tuple(rows)


def _outside_ohms(ohms: float) -> OutsideCurve:
    return OutsideCurve(
        f"{ohms:g} Ω is no temperature on this curve. Measure again; if it stays, look for a "
        "broken or shorted sensor or another sensor type.",
        pointer="#/ohms",
    )


def _outside_celsius(celsius: float) -> OutsideCurve:
    return OutsideCurve(
        f"This curve says nothing at {celsius:g} °C. Check the temperature.", pointer="#/celsius"
    )
