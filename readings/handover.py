"""The first heating: do the volts and amperes say what the ohms said?

Volts and amperes are read on a live circuit: that is a licensed electrician's work.
"""

from collections.abc import Sequence
from dataclasses import replace

from readings import verdict, wording
from readings.element import Tag, expected
from readings.instruments import Range
from readings.number import positive, refused
from readings.uncertainty import Estimates, independent, propagate, repeated
from readings.verdict import Verdict

# A supply within this fraction of its nominal voltage is in order.
# Source: IEC 60038 and EN 50160, ±10 % (from memory).
SUPPLY_TOLERANCE = 0.10


def load_ohms(
    volts: Sequence[float], amps: Sequence[float], volt_range: Range, amp_range: Range
) -> Estimates:
    """V/I and V·I with their covariance, from one pair of readings or several taken together.

    Repeats bring their spread and correlation, the meters their limits of error on top.
    """
    if not volts or len(volts) != len(amps):
        raise refused("volts", "and amperes are read in pairs, at least one")
    for v, i in zip(volts, amps, strict=True):
        positive(v, "volts")
        positive(i, "amps")
    meters = (
        volt_range.standard_uncertainty_ohms(max(volts)),
        amp_range.standard_uncertainty_ohms(max(amps)),
    )
    read = independent((volts[0], amps[0]), meters)
    if len(volts) > 1:
        spread = repeated(volts, amps)
        read = replace(
            spread,
            covariance=tuple(
                tuple(a + b for a, b in zip(row, other, strict=True))
                for row, other in zip(spread.covariance, read.covariance, strict=True)
            ),
        )
    return propagate(lambda v, i: (v / i, v * i), read)


def judge_supply(*, volts: float, meter: Range, nominal_volts: float) -> Verdict:
    """Judge the supply against its nominal voltage."""
    nominal = positive(nominal_volts, "nominal_volts")
    low, high = nominal * (1 - SUPPLY_TOLERANCE), nominal * (1 + SUPPLY_TOLERANCE)
    found = verdict.judge(
        positive(volts, "volts"), meter.standard_uncertainty_ohms(volts), low, high
    )
    read = f"Supply: {wording.figure(volts, meter.resolution_ohms)} V"
    limits = wording.between(low, high, "V")
    return _worded(
        found,
        passed=f"{read} lies inside {limits}, and this meter can tell.",
        undecided=f"{read} may be inside or outside {limits}. This meter cannot tell.",
        failed=f"{read} lies outside {limits}.",
    )


def judge_load(
    tag: Tag,
    *,
    volts: Sequence[float],
    amps: Sequence[float],
    volt_range: Range,
    amp_range: Range,
    floor_c: float | None,
) -> Verdict:
    """Judge the current that an element takes, as the ohms that it means, against its tag."""
    found_ohms = load_ohms(volts, amps, volt_range, amp_range)
    wanted = expected(tag, floor_c)
    ohms, watts = found_ohms.values
    found = verdict.judge(ohms, found_ohms.standard(0), wanted.low, wanted.high)
    read = (
        f"Load: {wording.figure(amps[0], amp_range.resolution_ohms)} A at "
        f"{wording.figure(volts[0], volt_range.resolution_ohms)} V are {wording.ohms(ohms)} and "
        f"{watts:.0f} W"
    )
    limits = wording.between(wanted.low, wanted.high, "Ω")
    return _worded(
        found,
        passed=f"{read}, inside {limits}, and these meters can tell.",
        undecided=f"{read}, which may be inside or outside {limits}. These meters cannot tell.",
        failed=f"{read}, outside {limits}.",
    )


def _worded(found: Verdict, *, passed: str, undecided: str, failed: str) -> Verdict:
    because, next_step = {
        "pass": (passed, ""),
        "undecided": (undecided, "Measure again with a finer meter."),
        "fail": (failed, "Switch it off and lock it off. A licensed electrician finds out why."),
    }[found.outcome]
    return replace(found, because=because, next_step=next_step)
