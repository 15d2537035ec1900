"""Pass, fail or undecided: what a reading proves about limits.

The decision rule, after JCGM 106:2012 (8.3, guarded acceptance) and ILAC-G8:09/2019 (4.2.3): the
true value is taken as normal about the reading with its standard uncertainty. `pass` needs a
probability of conformity of at least `confidence`, `fail` a probability of nonconformity of at
least `confidence`; between them the reading is `undecided`. Seen from one limit that is a guard
band of 1.645 u at 0.95 on both sides of it.

The edge belongs to the verdict: a reading exactly on the acceptance limit passes, one exactly on
the rejection limit fails. Without uncertainty a reading on the limit itself passes. A reading
outside its limits never passes.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

from config.errors import DomainError
from readings import wording
from readings.number import finite, not_negative, refused
from readings.uncertainty import Component

CONFIDENCE = 0.95
ROUNDING = 1e-12  # of a probability: a reading on the acceptance limit must pass on any machine

Outcome = Literal["pass", "fail", "undecided"]


class NoLimits(DomainError):
    """Nothing to judge against, or limits that leave no room."""

    slug = "not-acceptable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """An outcome with its reason, what to do next, and the figures behind it.

    `value`, `standard_uncertainty`, `low` and `high` share a unit; `value` is None where the meter
    showed no number. `probability` is that of conformity, `components` the sources of doubt.
    """

    outcome: Outcome
    because: str
    next_step: str = ""
    probability: float | None = None
    value: float | None = None
    standard_uncertainty: float | None = None
    low: float | None = None
    high: float | None = None
    confidence: float = CONFIDENCE
    components: tuple[Component, ...] = ()

    @property
    def expanded_uncertainty(self) -> float | None:
        """U with k = 2."""
        return None if self.standard_uncertainty is None else 2 * self.standard_uncertainty


def probability_inside(
    value: float,
    standard_uncertainty: float,
    low: float | None = None,
    high: float | None = None,
) -> float:
    """The probability that the true value lies within the limits, ends included.

    The true value is normal about `value`. Leave a limit out for a one-sided tolerance.

    Raises NoLimits without any limit or without room between them, ImplausibleNumber.
    Source: JCGM 106:2012, 7.2 and 7.4.
    """
    return _probabilities(value, standard_uncertainty, low, high)[0]


def judge(
    value: float,
    standard_uncertainty: float,
    low: float | None = None,
    high: float | None = None,
    confidence: float = CONFIDENCE,
) -> Verdict:
    """Judge a value against its limits by the rule at the head of this module.

    `confidence` is from 0.5 (no guard band) to below 1. Raises as `probability_inside`.
    """
    needed = _confidence(confidence)
    inside, outside = _probabilities(value, standard_uncertainty, low, high)
    within = (low is None or value >= low) and (high is None or value <= high)
    outcome: Outcome = "undecided"
    if within and inside >= needed - ROUNDING:
        outcome = "pass"
    elif outside >= needed - ROUNDING:
        outcome = "fail"
    return Verdict(
        outcome=outcome,
        because=_because(outcome, value, standard_uncertainty, low, high),
        probability=inside,
        value=value,
        standard_uncertainty=standard_uncertainty,
        low=low,
        high=high,
        confidence=needed,
    )


def acceptance(
    standard_uncertainty: float,
    low: float | None = None,
    high: float | None = None,
    confidence: float = CONFIDENCE,
) -> tuple[float, float] | None:
    """The readings that pass, from and to (an open side is infinite); None where none can."""
    u = not_negative(standard_uncertainty, "standard_uncertainty")
    bottom, top = _limits(low, high)
    needed = _confidence(confidence)
    if u == 0:
        return bottom, top
    guard = NormalDist().inv_cdf(needed) * u
    if bottom == -math.inf or top == math.inf:
        return bottom + guard, top - guard
    middle = (bottom + top) / 2
    if probability_inside(middle, u, bottom, top) < needed - ROUNDING:
        return None
    # Both limits count in a narrow band, so the edge lies further in than one guard band.
    passes, fails = 0.0, (top - bottom) / 2
    for _ in range(60):
        away = (passes + fails) / 2
        if probability_inside(middle + away, u, bottom, top) >= needed:
            passes = away
        else:
            fails = away
    return middle - passes, middle + passes


def _probabilities(
    value: float, standard_uncertainty: float, low: float | None, high: float | None
) -> tuple[float, float]:
    """Probability inside and outside; each is summed on its own, so that small ones stay exact."""
    x = finite(value, "value")
    u = not_negative(standard_uncertainty, "standard_uncertainty")
    bottom, top = _limits(low, high)
    if u == 0:
        return (1.0, 0.0) if bottom <= x <= top else (0.0, 1.0)
    scale = u * math.sqrt(2)
    below, above = math.erfc((x - bottom) / scale) / 2, math.erfc((top - x) / scale) / 2
    outside = min(below + above, 1.0)
    if x < bottom:
        inside = (math.erfc((bottom - x) / scale) - math.erfc((top - x) / scale)) / 2
    elif x > top:
        inside = (math.erfc((x - top) / scale) - math.erfc((x - bottom) / scale)) / 2
    else:
        inside = (math.erf((x - bottom) / scale) + math.erf((top - x) / scale)) / 2
    return inside, outside


def _limits(low: float | None, high: float | None) -> tuple[float, float]:
    if low is None and high is None:
        raise NoLimits("There is no limit to judge against. Give the tag's ohms and tolerance.")
    bottom = -math.inf if low is None else finite(low, "low")
    top = math.inf if high is None else finite(high, "high")
    if bottom >= top:
        raise NoLimits(
            f"The lower limit {bottom:g} is not below the upper limit {top:g}.", pointer="#/low"
        )
    return bottom, top


def _confidence(confidence: float) -> float:
    needed = finite(confidence, "confidence")
    if not 0.5 <= needed < 1:
        raise refused("confidence", f"must be from 0.5 to below 1, not {needed:g}")
    return needed


def _because(
    outcome: Outcome, value: float, u: float, low: float | None, high: float | None
) -> str:
    read = f"{wording.figure(value)} ± {wording.plus_minus(2 * u)}"
    limits = wording.between(low, high)
    return {
        "pass": f"{read} lies inside the limits ({limits}), and the measurement can tell.",
        "fail": f"{read} lies outside the limits ({limits}).",
        "undecided": f"{read} may be inside or outside the limits ({limits}). "
        "The measurement cannot tell.",
    }[outcome]
