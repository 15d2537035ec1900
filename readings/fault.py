"""Where an element is damaged: from readings at its ends to metres from the cold splice.

A fraction is electrical: of the ohms (or the capacitance) between lead A and lead B, counted from
A. It becomes a place only with the way the element is built, which `places` knows. Readings that
contradict each other are refused with the reason, since a wrong place costs a good floor.

Null the test leads first: their ohms do not cancel, a common gain error of the meter does.
"""

import math
from dataclasses import dataclass
from typing import Literal

from config.errors import DomainError
from config.sentence import Sentence
from readings import wording
from readings.number import not_negative, positive
from readings.uncertainty import independent, propagate

COVERAGE_FACTOR = 2.0
ROUNDING = 1e-9  # of the loop: what adding decimal fractions may leave over

LARGEST_TOLERANCE = 0.5  # of the element: wider than that says nothing of where
BY_LENGTH = ("open_core", "reflectometer")
"""Methods that divide the heating cable by its length, not by the ohms of core and leads."""

Construction = Literal["single", "twin-equal", "twin-return"]
End = Literal["A", "B", "unknown"]


class InconsistentReadings(DomainError):
    """Readings that no single fault explains."""

    slug = "readings-inconsistent"


class FaultUnclear(DomainError):
    """What was recorded of a fault does not say where it is."""

    slug = "fault-unclear"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultEstimate:
    """Where along the ohms from A to B, from 0 to 1, with its standard uncertainty.

    `fault_ohms` is the resistance of the fault itself, None where the method does not tell.
    `turns_back` marks a short between two cores: the ohms to it were counted out and back.
    """

    fraction: float
    because: str
    u_fraction: float = 0.0
    fault_ohms: float | None = None
    u_fault_ohms: float | None = None
    ohms_to_fault: float | None = None
    turns_back: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A candidate: metres of cable from the cold splice, and where to look around it.

    `from_m` to `to_m` is the stretch that holds the fault 19 times in 20.
    """

    metres: float
    u_metres: float
    from_m: float
    to_m: float
    part: Literal["heating", "cold-lead"]
    core: str
    because: str


def core_to_ground(
    loop_ohms: float,
    from_a_ohms: float,
    from_b_ohms: float,
    *,
    u_loop_ohms: float = 0.0,
    u_from_a_ohms: float = 0.0,
    u_from_b_ohms: float = 0.0,
) -> FaultEstimate:
    """One core, one fault to ground, read from each end with the other end open.

    A = x·L + F and B = (1 - x)·L + F, so x = (A - B + L) / 2L and F = (A + B - L) / 2. The `u_` are
    standard uncertainties of the three readings, taken as independent.

    Raises ImplausibleNumber; InconsistentReadings where the fault would have less than no ohms or
    lie outside the element by more than the readings can be wrong.
    """
    loop = positive(loop_ohms, "loop_ohms")
    a = not_negative(from_a_ohms, "from_a_ohms")
    b = not_negative(from_b_ohms, "from_b_ohms")
    found = propagate(
        lambda loop, a, b: ((a - b + loop) / (2 * loop), (a + b - loop) / 2),
        independent((loop, a, b), (u_loop_ohms, u_from_a_ohms, u_from_b_ohms)),
    )
    (x, fault), u_x, u_fault = found.values, found.standard(0), found.standard(1)
    if fault < -max(COVERAGE_FACTOR * u_fault, ROUNDING * loop):
        raise InconsistentReadings(
            f"Both ends together read {wording.ohms(a + b)}, less than the {wording.ohms(loop)} of "
            "the core between them. No single fault does that: a wrong joint, two faults, or a "
            "wrong reading. Measure all three again.",
            pointer="#/from_a_ohms",
        )
    fraction = _inside(x, u_x, "The ends differ by more than the whole core")
    fault = max(fault, 0.0)
    return FaultEstimate(
        fraction=fraction,
        u_fraction=u_x,
        fault_ohms=fault,
        u_fault_ohms=u_fault,
        ohms_to_fault=fraction * loop,
        because=f"From A {wording.ohms(a)}, from B {wording.ohms(b)}, core {wording.ohms(loop)}: "
        f"the fault lies {wording.figure(fraction, 0.001)} of the way from A and has "
        f"{wording.ohms(fault)} itself.",
    )


def bridge(
    loop_ohms: float,
    arm_a: float,
    arm_b: float,
    *,
    u_loop_ohms: float = 0.0,
    u_arm_a: float = 0.0,
    u_arm_b: float = 0.0,
) -> FaultEstimate:
    """A Murray loop: two arms balance the two parts of the core, whatever ohms the fault has.

    `arm_a` is the arm at end A; arms may be unequal and in any one unit. On a slide wire of 1 000
    divisions that reads 332, they are 332 and 668. The fraction is arm_a / (arm_a + arm_b).
    """
    loop = positive(loop_ohms, "loop_ohms")
    arms = positive(arm_a, "arm_a"), positive(arm_b, "arm_b")
    found = propagate(
        lambda loop, a, b: (a / (a + b), loop * a / (a + b)),
        independent((loop, *arms), (u_loop_ohms, u_arm_a, u_arm_b)),
    )
    fraction, ohms_to_fault = found.values
    return FaultEstimate(
        fraction=fraction,
        u_fraction=found.standard(0),
        ohms_to_fault=ohms_to_fault,
        because=f"The bridge balances at {wording.figure(fraction, 0.001)} of the loop of "
        f"{wording.ohms(loop)}: {wording.ohms(ohms_to_fault)} from A.",
    )


def bridge_with_dial(
    loop_ohms: float,
    dial_ohms: float,
    arm_ratio: float = 1.0,
    *,
    u_loop_ohms: float = 0.0,
    u_dial_ohms: float = 0.0,
) -> FaultEstimate:
    """A Varley loop: a dial in series with the part from A balances the rest of the loop.

    (loop - x) / (x + dial) = arm_ratio, x in ohms from A.
    """
    loop, dial = positive(loop_ohms, "loop_ohms"), not_negative(dial_ohms, "dial_ohms")
    ratio = positive(arm_ratio, "arm_ratio")
    found = propagate(
        lambda loop, dial: (_ohms_from_a(loop, dial, ratio) / loop,),
        independent((loop, dial), (u_loop_ohms, u_dial_ohms)),
    )
    fraction = _inside(
        found.values[0], found.standard(0), "The dial shows more than the whole loop could balance"
    )
    return FaultEstimate(
        fraction=fraction,
        u_fraction=found.standard(0),
        ohms_to_fault=fraction * loop,
        because=f"With {wording.ohms(dial)} on the dial the fault lies "
        f"{wording.ohms(fraction * loop)} from A.",
    )


def core_to_core(
    healthy_ohms: float,
    measured_ohms: float,
    *,
    u_healthy_ohms: float = 0.0,
    u_measured_ohms: float = 0.0,
) -> FaultEstimate:
    """A short between the two cores of a twin element, read from the cold end.

    The current turns back at the short, so the fraction of the healthy ohms is the fraction of the
    cable's length. A short that has ohms of its own lies nearer than that: this is the farthest.
    """
    healthy = positive(healthy_ohms, "healthy_ohms")
    measured = not_negative(measured_ohms, "measured_ohms")
    found = propagate(
        lambda h, m: (m / h,),
        independent((healthy, measured), (u_healthy_ohms, u_measured_ohms)),
    )
    fraction = _inside(
        found.values[0],
        found.standard(0),
        "More ohms than the healthy element are not a short between its cores",
    )
    return FaultEstimate(
        fraction=fraction,
        u_fraction=found.standard(0),
        ohms_to_fault=fraction * healthy,
        turns_back=True,
        because=f"{wording.ohms(measured)} of {wording.ohms(healthy)}: the short lies at most "
        f"{wording.figure(fraction, 0.001)} of the way from the cold splice.",
    )


def open_core(
    capacitance_a: float,
    capacitance_b: float,
    *,
    u_capacitance_a: float = 0.0,
    u_capacitance_b: float = 0.0,
) -> FaultEstimate:
    """A broken core: its two parts divide the capacitance to the screen as they divide its length.

    Both capacitances in one unit, each read from its end with everything else grounded.
    """
    a, b = positive(capacitance_a, "capacitance_a"), positive(capacitance_b, "capacitance_b")
    found = propagate(
        lambda a, b: (a / (a + b),), independent((a, b), (u_capacitance_a, u_capacitance_b))
    )
    return FaultEstimate(
        fraction=found.values[0],
        u_fraction=found.standard(0),
        because=f"Of the capacitance {wording.figure(found.values[0], 0.001)} is on the side of A, "
        "and so is that share of the core.",
    )


def estimated(
    fraction: float,
    tolerance: float,
    *,
    method: str,
    construction: Construction,
    measured_from: End,
) -> FaultEstimate:
    """A fraction that was found before, as an estimate counted from A.

    `fraction` is counted from the end it was measured from; `tolerance` is what stands behind the
    ±, 19 times in 20, in the same measure. A short between cores and the echo in a twin are
    counted from the cold splice, whichever lead was A.

    Raises FaultUnclear for a fraction outside 0 to 1, and a tolerance of nothing or above a half.
    """
    if not 0 <= fraction <= 1:  # nan neither
        raise FaultUnclear(
            Sentence(
                "A fault at {fraction} of the element lies outside it: 0 is at the end that it was "
                "measured from, 1 at the other.",
                fraction=f"{fraction:g}",
            ),
            pointer="#/fraction",
        )
    if not 0 < tolerance <= LARGEST_TOLERANCE:
        raise FaultUnclear(
            Sentence(
                "A tolerance of ±{tolerance} of the element says nothing: it is above 0, since no "
                "meter is exact, and at most {most}.",
                tolerance=f"{tolerance:g}",
                most=f"{LARGEST_TOLERANCE:g}",
            ),
            pointer="#/tolerance",
        )
    turns_back = method == "core_to_core" or (
        method == "reflectometer" and construction != "single"
    )
    from_a = 1 - fraction if measured_from == "B" and not turns_back else fraction
    return FaultEstimate(
        fraction=from_a,
        u_fraction=tolerance / COVERAGE_FACTOR,
        turns_back=turns_back,
        because=Sentence(
            "Found at {fraction} of the way, ± {tolerance}, 19 times in 20.",
            fraction=wording.figure(fraction, 0.001),
            tolerance=wording.plus_minus(tolerance),
        ),
    )


def places(
    estimate: FaultEstimate,
    *,
    loop_ohms: float,
    length_m: float,
    construction: Construction,
    lead_a_ohms: float = 0.0,
    lead_b_ohms: float = 0.0,
    ends_known: bool = True,
) -> tuple[Place, ...]:
    """Where on the cable the fault may be: the candidates, best known first, then nearest first.

    `loop_ohms` is what the fraction is of, cold leads included; `lead_a_ohms` and `lead_b_ohms`
    are their conductors, one each. `length_m` is the heating part, in metres of cable.

    - `single`: one core that runs from A to B, so the share of its ohms is the share of its length.
      If nobody knows which end was A (`ends_known`), both ends are candidates.
    - `twin-equal`: the path runs out and back in two equal cores. Half of the ohms is already the
      far end; a fault beyond it lies on the way back, in the other core.
    - `twin-return`: the return core has next to no ohms. A fault in the heating core is found like
      that of a single core, from the end of A; one in the return core shows as the far end,
      wherever it is, so it is a second candidate that is as long as the cable. If nobody knows
      which lead is that of the heating core, the fraction counts from either.

    A short between cores turns the current back and is one place in either kind of twin.

    Raises ImplausibleNumber, InconsistentReadings if the leads have more ohms than the loop or the
    method does not fit the construction.
    """
    loop, length = positive(loop_ohms, "loop_ohms"), positive(length_m, "length_m")
    leads = not_negative(lead_a_ohms, "lead_a_ohms"), not_negative(lead_b_ohms, "lead_b_ohms")
    heating = loop - sum(leads)
    if heating <= 0:
        raise InconsistentReadings(
            "The cold leads alone would have more ohms than the whole loop. Check their length.",
            pointer="#/lead_a_ohms",
        )
    from_a = (estimate.fraction * loop - leads[0]) / heating
    from_b = ((1 - estimate.fraction) * loop - leads[1]) / heating
    u = estimate.u_fraction * loop / heating
    if estimate.turns_back:
        if construction == "single":
            raise InconsistentReadings(
                "An element of one core has no second core to be shorted to.",
                pointer="#/construction",
            )
        return (_place(from_a - leads[1] / heating, u, length, "both cores"),)
    if construction == "twin-equal":
        core = "the core of A" if from_a <= from_b else "the core of B"
        return (_place(2 * min(from_a, from_b), 2 * u, length, core),)
    if construction == "single":
        there = _place(from_a, u, length, "the core, counted from A")
        if ends_known:
            return (there,)
        back = _place(from_b, u, length, "the core, if the ends were swapped")
        return tuple(sorted({there, back}, key=lambda place: place.metres))
    shares = (from_a,) if ends_known else (from_a, from_b)
    found = {place for share in shares for place in _beside_return(share, u, length)}
    return tuple(sorted(found, key=lambda place: (place.u_metres, place.metres)))


def _beside_return(share: float, u: float, length: float) -> tuple[Place, ...]:
    """Candidates in a twin whose return core has next to no ohms, for a share of the other."""
    there = _place(share, u, length, "the heating core")
    if share + COVERAGE_FACTOR * u < 1:
        return (there,)
    anywhere = Place(
        metres=length / 2,
        u_metres=length / math.sqrt(12),
        from_m=0.0,
        to_m=length,
        part="heating",
        core="the return core",
        because="The return core has next to no ohms: a fault in it reads as the far end, "
        "wherever it is. Use the bridge or the capacitance instead.",
    )
    return there, anywhere


def _place(share: float, u_share: float, length_m: float, core: str) -> Place:
    metres, u = share * length_m, u_share * length_m
    if metres < 0:
        return Place(
            metres=0.0,
            u_metres=u,
            from_m=0.0,
            to_m=max(0.0, metres + COVERAGE_FACTOR * u),
            part="cold-lead",
            core=core,
            because="The fault lies before the cold splice, in the lead or at the splice itself.",
        )
    metres = min(metres, length_m)
    spread = COVERAGE_FACTOR * u
    return Place(
        metres=metres,
        u_metres=u,
        from_m=max(0.0, metres - spread),
        to_m=min(length_m, metres + spread),
        part="heating",
        core=core,
        because=f"{wording.figure(metres, 0.1)} m from the cold splice in {core}, "
        f"± {wording.plus_minus(spread)} m.",
    )


def _ohms_from_a(loop: float, dial: float, arm_ratio: float) -> float:
    return (loop - arm_ratio * dial) / (1 + arm_ratio)


def _inside(x: float, u: float, otherwise: str) -> float:
    """`x` as a fraction from 0 to 1; refused where it lies outside by more than 2 u."""
    if not -max(COVERAGE_FACTOR * u, ROUNDING) <= x <= 1 + max(COVERAGE_FACTOR * u, ROUNDING):
        raise InconsistentReadings(
            f"{otherwise}. No single fault does that. Measure again with the leads nulled."
        )
    return min(max(x, 0.0), 1.0)
