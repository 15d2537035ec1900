"""The ohms of an element against its tag, at the temperature and with the meter at hand.

The tag holds at its own temperature. Its limits are brought to the temperature of the reading, the
heating alloy and the copper of the cold leads each by its own coefficient, and the reading is
judged against them with everything that it does not know about itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from readings import resistance, verdict, wording
from readings.instruments import Calibration, Range, suitable
from readings.number import finite, not_negative, positive, refused, temperature_c
from readings.uncertainty import Budget, Component, rectangular
from readings.verdict import Verdict

# Common practice, no source: how far a temperature may be off where somebody looked at a
# thermometer, and where nobody did and a room between cold and warm is assumed.
READ_HALF_WIDTH_K = 2.0
ASSUMED_HALF_WIDTH_K = 15.0
SLIPS = (0.001, 0.01, 0.1, 10.0, 100.0, 1000.0)  # a point in the wrong place

STOP = "Do not cover. Do not switch on."


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """What is printed on an element.

    `below` and `above` are fractions of the ohms: 0.05 and 0.1 mean -5 % and +10 %. `lead_ohms` is
    the part of `ohms` that is the copper of the cold leads; the rest has `alpha_per_k`.
    """

    ohms: float
    below: float
    above: float
    celsius: float = resistance.REFERENCE_C
    alpha_per_k: float = 0.0
    lead_ohms: float = 0.0

    def __post_init__(self) -> None:
        ohms = positive(self.ohms, "tag_ohms")
        if positive(self.below, "tolerance_below") >= 1:
            raise refused("tolerance_below", "is a fraction of the tag, below 1")
        positive(self.above, "tolerance_above")
        temperature_c(self.celsius, "tag_c")
        finite(self.alpha_per_k, "alpha_per_k")
        if not_negative(self.lead_ohms, "lead_ohms") >= ohms:
            raise refused("lead_ohms", "must be below the ohms of the tag, which include them")


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """The ohms and limits of a tag at `celsius`, and how they change per kelvin."""

    ohms: float
    low: float
    high: float
    celsius: float
    per_k: float


def expected(tag: Tag, celsius: float | None = None) -> Expected:
    """What an element must show at `celsius` (its tag's own temperature if nobody knows)."""
    at = tag.celsius if celsius is None else temperature_c(celsius, "celsius")
    grown = _factor(tag, at)
    wire = tag.ohms - tag.lead_ohms
    return Expected(
        ohms=tag.ohms * grown,
        low=tag.ohms * (1 - tag.below) * grown,
        high=tag.ohms * (1 + tag.above) * grown,
        celsius=at,
        per_k=wire * tag.alpha_per_k + tag.lead_ohms * resistance.COPPER_ALPHA_PER_K,
    )


def at_tag_temperature(tag: Tag, ohms: float, celsius: float | None) -> float:
    """A reading brought to the tag's temperature, to compare readings of different days."""
    return positive(ohms, "ohms") / _factor(tag, tag.celsius if celsius is None else celsius)


def together(tags: Sequence[Tag], wiring: Literal["series", "parallel"]) -> Tag:
    """The tag of several elements at one control, read as one.

    In parallel the limits follow from all elements being low, or all high. Coefficients are
    weighted by the ohms (series) or the conductance (parallel).
    """
    if not tags:
        raise refused("elements", "are missing; there is nothing to read together")
    if len({tag.celsius for tag in tags}) > 1:
        raise refused("tag_c", "must be the same for elements that are read together")

    def joined(ohms: Sequence[float]) -> float:
        return sum(ohms) if wiring == "series" else 1 / sum(1 / each for each in ohms)

    ohms = joined([tag.ohms for tag in tags])
    low = joined([tag.ohms * (1 - tag.below) for tag in tags])
    high = joined([tag.ohms * (1 + tag.above) for tag in tags])
    weights = [tag.ohms if wiring == "series" else 1 / tag.ohms for tag in tags]
    return Tag(
        ohms=ohms,
        below=1 - low / ohms,
        above=high / ohms - 1,
        celsius=tags[0].celsius,
        alpha_per_k=_mean([_alpha(tag) for tag in tags], weights),
    )


def uncertainty(
    tag: Tag,
    ohms: float,
    meter: Range,
    *,
    celsius: float | None,
    leads_ohms: float = 0.0,
) -> Budget:
    """What this reading does not know about itself, source by source, in ohms.

    `leads_ohms` is the most that test leads and contacts add to a reading.
    """
    k = ASSUMED_HALF_WIDTH_K if celsius is None else READ_HALF_WIDTH_K
    per_k = abs(expected(tag, celsius).per_k)
    parts = {
        "meter": meter.standard_uncertainty_ohms(ohms),
        # A meter without a digits term still shows no half counts.
        "last digit": 0.0 if meter.digits else rectangular(meter.resolution_ohms / 2),
        "test leads and contacts": rectangular(not_negative(leads_ohms, "leads_ohms") / 2),
        "temperature": rectangular(k * per_k),
    }
    return Budget(
        components=tuple(Component(name=name, standard=u) for name, u in parts.items() if u)
    )


def judge_element(
    tag: Tag,
    *,
    ohms: float | None,
    meter: Range,
    celsius: float | None,
    leads_ohms: float = 0.0,
    calibration: Calibration | None = None,
    other_ranges: Sequence[Range] = (),
    confidence: float = verdict.CONFIDENCE,
    pair: str = "Core to core",
) -> Verdict:
    """Judge a reading from core to core; `ohms` is None where the meter showed over-range.

    `celsius` is the element's temperature, None if nobody looked. `other_ranges` are those that
    the advice may name. Raises OverFullScale for a number that the range cannot have shown.
    """
    wanted = expected(tag, celsius)
    if ohms is None:
        return _judge_over_range(wanted, meter, other_ranges, pair)
    budget = uncertainty(tag, ohms, meter, celsius=celsius, leads_ohms=leads_ohms)
    # Leads and contacts can only add: the best estimate lies half of them below what was shown.
    value = max(not_negative(ohms, "ohms") - leads_ohms / 2, 0.0)
    found = replace(
        verdict.judge(value, budget.combined, wanted.low, wanted.high, confidence),
        components=budget.components,
    )
    read = wording.ohms(ohms, meter.resolution_ohms)
    limits = wording.between(wanted.low, wanted.high, "Ω")
    at = _temperature(wanted, celsius)
    if found.outcome == "pass":
        found = replace(
            found,
            because=f"{pair}: {read} lies inside {limits} ({at}), and this meter can tell: "
            f"±{wording.plus_minus(budget.expanded)} Ω.",
        )
        return distrusted(found, calibration)
    if found.outcome == "fail":
        return replace(
            found,
            because=f"{pair}: {read} ± {wording.plus_minus(budget.expanded)} Ω lies outside "
            f"{limits} ({at}). {_suspicion(ohms, wanted)}",
            next_step=f"{STOP} Measure again with clean, tight contacts; if it stays, look for "
            f"the fault.{_slip(ohms, wanted, meter)}",
        )
    return replace(
        found,
        because=f"{pair}: {read} on the {meter.name} range may be inside or outside {limits} "
        f"({at}): it is true to ±{wording.plus_minus(budget.expanded)} Ω. "
        f"{_blame(budget)} cannot tell.",
        next_step=_advice(wanted, budget, meter, other_ranges, confidence),
    )


def distrusted(found: Verdict, calibration: Calibration | None) -> Verdict:
    """A pass by a meter past its calibration proves nothing; a fail still stops the work."""
    if found.outcome != "pass" or calibration is None or calibration.trusted:
        return found
    why = f"{calibration.because[0].lower()}{calibration.because[1:]}"
    return replace(
        found,
        outcome="undecided",
        because=f"{found.because} But {why}",
        next_step="Measure again with a calibrated meter.",
    )


def _judge_over_range(
    wanted: Expected, meter: Range, others: Sequence[Range], pair: str
) -> Verdict:
    limits = wording.between(wanted.low, wanted.high, "Ω")
    told = f"{pair}: over-range on the {meter.name} range"
    base = Verdict(outcome="fail", because="", low=wanted.low, high=wanted.high)
    if meter.full_scale_ohms < wanted.high:
        best = _best(wanted, others, 0.0, verdict.CONFIDENCE)
        return replace(
            base,
            outcome="undecided",
            because=f"{told}, which ends below the {limits} that are allowed.",
            next_step=f"Set the meter to {best.name if best else 'a higher range'} "
            "and measure again.",
        )
    return replace(
        base,
        because=f"{told}, where {limits} is expected: the core is open, or a probe has no contact.",
        next_step=f"{STOP} Clean the contacts and measure again; if it stays, look for the break.",
    )


def _advice(
    wanted: Expected, budget: Budget, meter: Range, others: Sequence[Range], confidence: float
) -> str:
    """What would settle it, the easiest first: another range, the leads, the room, the meter."""
    rest = math.hypot(*(part.standard for part in budget.components if part.name != "meter"))
    better = _best(wanted, others, rest, confidence)
    if better and better.half_width_ohms(wanted.ohms) < meter.half_width_ohms(wanted.ohms):
        return f"Set the meter to {better.name} and measure again."
    if budget.largest.name == "temperature":
        return "Wait until the room is at an even temperature, read it, and measure again."
    if budget.largest.name == "test leads and contacts":
        return "Use shorter leads or null them, and measure again."
    return "Measure again; if it stays, use a finer meter."


def _best(
    wanted: Expected, ranges: Sequence[Range], other_u: float, confidence: float
) -> Range | None:
    rated = suitable(
        ranges,
        expected_ohms=wanted.ohms,
        low_ohms=wanted.low,
        high_ohms=wanted.high,
        other_u_ohms=other_u,
        confidence=confidence,
    )
    return rated[0].range if rated and rated[0].suits else None


def _blame(budget: Budget) -> str:
    return {
        "temperature": "Without a surer temperature the reading",
        "test leads and contacts": "With these leads the meter",
    }.get(budget.largest.name, "This range")


def _suspicion(ohms: float, wanted: Expected) -> str:
    if ohms < wanted.low:
        return "Too few ohms: part of the core may be bridged, or it is another element."
    return "Too many ohms: the core or a joint may be damaged, or it is another element."


def _slip(ohms: float, wanted: Expected, meter: Range) -> str:
    """A hint where the point may have slipped: 9 800 instead of 98.00."""
    for shift in SLIPS:
        if wanted.low <= ohms * shift <= wanted.high:
            return (
                f" If {wording.ohms(ohms, meter.resolution_ohms)} was a slip for "
                f"{wording.ohms(ohms * shift)}, send a correction."
            )
    return ""


def _temperature(wanted: Expected, celsius: float | None) -> str:
    told = f"tag {wording.ohms(wanted.ohms)} at {wording.celsius(wanted.celsius)}"
    return told if celsius is not None else f"{told}, assumed"


def _factor(tag: Tag, celsius: float) -> float:
    wire = (tag.ohms - tag.lead_ohms) * resistance.factor(celsius, tag.alpha_per_k, tag.celsius)
    lead = tag.lead_ohms * resistance.factor(celsius, resistance.COPPER_ALPHA_PER_K, tag.celsius)
    return (wire + lead) / tag.ohms


def _alpha(tag: Tag) -> float:
    wire = (tag.ohms - tag.lead_ohms) * tag.alpha_per_k
    return (wire + tag.lead_ohms * resistance.COPPER_ALPHA_PER_K) / tag.ohms


def _mean(values: Sequence[float], weights: Sequence[float]) -> float:
    return sum(v * w for v, w in zip(values, weights, strict=True)) / sum(weights)
