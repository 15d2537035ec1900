"""Insulation: two kinds of reading that are never mixed up.

An ohmmeter that shows over-range between a core and ground is a first look: it finds a dead short,
nothing finer. A test at voltage reads megohms and is what proves insulation. More is better, and a
tester's over-range is a lower bound. Local code or the maker may ask for more than the table here.
"""

from dataclasses import dataclass, replace
from typing import Literal

from config.errors import DomainError
from readings import verdict, wording
from readings.number import not_negative, positive
from readings.uncertainty import rectangular
from readings.verdict import Verdict

EXTRA_LOW_VOLTS = 50.0
LOW_VOLTS = 500.0
SHORT_MEGOHMS = 1e-6  # below an ohm a tester shows a dead short, no leak to reckon

# A class A device for the protection of people trips at 6 mA or more and not below 4 mA.
# Source: NEC article 100 (informational note) and UL 943, second-hand.
CLASS_A_HOLDS_BELOW_MA, CLASS_A_TRIPS_FROM_MA = 4.0, 6.0


class NotExtraLow(DomainError):
    """A voltage that no SELV or PELV circuit has."""

    slug = "implausible-number"


@dataclass(frozen=True, slots=True, kw_only=True)
class Minimum:
    """The d.c. volts to test at and the megohms that are needed."""

    test_volts: float
    megohms: float
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PolarisationIndex:
    """How the reading grew from one minute to ten; None where the tester was over range."""

    index: float | None
    because: str


def minimum(nominal_volts: float, selv: bool | None = None) -> Minimum:
    """What a circuit of this nominal voltage must show.

    `selv` says whether it is SELV or PELV; left out, up to 50 V it is taken to be.

    Raises ImplausibleNumber, NotExtraLow.
    Source: IEC 60364-6, table 6.1 (values seen second-hand).
    """
    volts = positive(nominal_volts, "nominal_volts")
    if selv and volts > EXTRA_LOW_VOLTS:
        raise NotExtraLow(
            f"{volts:g} V is not SELV or PELV, which end at {EXTRA_LOW_VOLTS:g} V.",
            pointer="#/nominal_volts",
        )
    if selv if selv is not None else volts <= EXTRA_LOW_VOLTS:
        test_volts, megohms, kind = 250.0, 0.5, "SELV or PELV"
    elif volts <= LOW_VOLTS:
        test_volts, megohms, kind = 500.0, 1.0, f"circuits up to {LOW_VOLTS:g} V"
    else:
        test_volts, megohms, kind = 1000.0, 1.0, f"circuits above {LOW_VOLTS:g} V"
    return Minimum(
        test_volts=test_volts,
        megohms=megohms,
        because=f"IEC 60364-6 asks {kind} for {wording.megohms(megohms)} at {test_volts:g} V d.c. "
        "Local code or the maker may ask for more.",
    )


def judge_at_voltage(
    *,
    megohms: float | None,
    over_range_megohms: float | None = None,
    half_width_megohms: float = 0.0,
    test_volts: float,
    needed: Minimum,
    supply_volts: float,
    confidence: float = verdict.CONFIDENCE,
) -> Verdict:
    """Judge a test at voltage against `needed`.

    Give either `megohms` with the tester's half-width, or, where it showed over-range, the end of
    its range as `over_range_megohms`. A test below the voltage asked for proves nothing good.
    """
    positive(test_volts, "test_volts")
    if (megohms is None) == (over_range_megohms is None):
        raise verdict.NoLimits(
            "Give the megohms, or the end of the range that was exceeded.", pointer="#/megohms"
        )
    if megohms is None:
        found = _judge_bound(positive(over_range_megohms, "over_range_megohms"), needed)
    else:
        found = _judge_number(
            not_negative(megohms, "megohms"),
            rectangular(half_width_megohms),
            needed,
            supply_volts,
            confidence,
        )
    if found.outcome != "fail" and test_volts < needed.test_volts:
        return replace(
            found,
            outcome="undecided",
            because=f"{found.because} But it was tested at {test_volts:g} V, and "
            f"{needed.test_volts:g} V are asked for.",
            next_step=f"Set the tester to {needed.test_volts:g} V and test again.",
        )
    return found


def judge_first_look(
    *, ohms: float | None, range_name: str, pair: str = "Lead to ground"
) -> Verdict:
    """Judge an ohmmeter between a core and ground: `ohms` is None where it showed over-range.

    Any number is a fault. Over-range passes as a first look, and says that it is no more.
    """
    if ohms is None:
        return Verdict(
            outcome="pass",
            because=f"{pair}: over-range on the {range_name} range, as expected. This is a first "
            "look; a test at voltage proves the insulation.",
            next_step="Test the insulation at voltage when this stage asks for it.",
        )
    read = not_negative(ohms, "ohms")
    return Verdict(
        outcome="fail",
        because=f"{pair}: {wording.ohms(read)}. Over-range is expected, a number is a path to "
        "ground.",
        next_step="Do not cover. Do not switch on. Take your hands off the probes, free and dry "
        "both ends, and measure again; if it stays, look for the fault.",
        value=read,
    )


def polarisation_index(
    *, at_1_min_megohms: float | None, at_10_min_megohms: float | None
) -> PolarisationIndex:
    """Ten-minute reading over one-minute reading; None is over-range.

    Comes from the windings of machines (IEEE 43, from memory): on a heating element a falling
    figure is a sign of moisture, a level is no limit.
    """
    if at_1_min_megohms is None or at_10_min_megohms is None:
        return PolarisationIndex(
            index=None,
            because="The tester was over range, so there is no index. That is as good as it gets.",
        )
    index = positive(at_10_min_megohms, "at_10_min_megohms") / positive(
        at_1_min_megohms, "at_1_min_megohms"
    )
    told = f"Polarisation index {wording.figure(index, 0.01)}"
    return PolarisationIndex(
        index=index,
        because=f"{told}: the reading fell while the voltage stood. Look for moisture at the "
        "ends and joints."
        if index < 1
        else f"{told}: the reading held or rose while the voltage stood.",
    )


def leakage_ma(volts: float, megohms: float) -> float:
    """Milliamperes that `volts` drive through `megohms`."""
    return positive(volts, "volts") / positive(megohms, "megohms") / 1000


def ohms_that_leak(volts: float, milliamperes: float) -> float:
    """The ohms that pass `milliamperes` at `volts`."""
    return positive(volts, "volts") / positive(milliamperes, "milliamperes") * 1000


def class_a_trip(milliamperes: float) -> Literal["must not", "may", "must"]:
    """Whether a class A ground-fault device trips at this leakage."""
    leak = not_negative(milliamperes, "milliamperes")
    if leak < CLASS_A_HOLDS_BELOW_MA:
        return "must not"
    return "must" if leak >= CLASS_A_TRIPS_FROM_MA else "may"


def _judge_bound(bound: float, needed: Minimum) -> Verdict:
    told = f"Over {wording.megohms(bound)}"
    if bound >= needed.megohms:
        return Verdict(
            outcome="pass",
            because=f"{told}. At least {wording.megohms(needed.megohms)} is needed, and this "
            "tester can tell.",
            low=needed.megohms,
        )
    return Verdict(
        outcome="undecided",
        because=f"{told}, but at least {wording.megohms(needed.megohms)} is needed. "
        "This range cannot tell.",
        next_step="Choose a range that reaches further and test again.",
        low=needed.megohms,
    )


def _judge_number(
    megohms: float, u: float, needed: Minimum, supply_volts: float, confidence: float
) -> Verdict:
    found = verdict.judge(megohms, u, low=needed.megohms, confidence=confidence)
    read, least = wording.megohms(megohms), wording.megohms(needed.megohms)
    if found.outcome == "pass":
        return replace(
            found, because=f"{read}. At least {least} is needed, and this tester can tell."
        )
    if found.outcome == "undecided":
        return replace(
            found,
            because=f"{read} ± {wording.plus_minus(2 * u)} MΩ may be above or below the {least} "
            "that is needed. This tester cannot tell.",
            next_step="Clean and dry both ends and test again, or use a finer tester.",
        )
    if megohms < SHORT_MEGOHMS:
        leak = "a path to ground that the tester shows as zero"
    else:
        leak = f"a leak of {wording.figure(leakage_ma(supply_volts, megohms))} mA at the supply"
    return replace(
        found,
        because=f"{read}, {leak}. At least {least} is needed.",
        next_step="Do not cover. Do not switch on. Dry both ends and test again; if it stays, "
        "look for the fault.",
    )
