"""The circuit that feeds heating elements, worked out by the rules of a code profile.

Volts, amperes, watts, metres. What comes out is worked out by these rules; a licensed electrician
decides.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, isfinite
from typing import Literal

from config.errors import DomainError
from config.sentence import Sentence
from jobs.code_profiles import COPPER_K, CodeProfile, Conductor, Source

CAUTION = Sentence(
    "Worked out by these rules; a licensed electrician decides. "
    "Isolate and prove dead before any work on this circuit."
)

DUST = 1e-9
"""Share by which a sum of floats may miss a standard size that it is exactly."""

Outcome = Literal["holds", "fails", "required", "look up"]


class ImpossibleCircuit(DomainError):
    """Figures from which no circuit can be worked out."""

    slug = "circuit-impossible"


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One element as its tag says; the densities are left out where they are not known."""

    name: str
    watts: float
    volts: float
    w_per_m2: float | None = None
    w_per_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What is there, or planned, to feed the elements; None is not known.

    `one_way_m` is the run from panel to control. `other_a` is what else hangs on the circuit.
    `breaker_a` and `conductor` are those in place.
    """

    volts: float
    one_way_m: float | None = None
    breaker_a: float | None = None
    conductor: str | None = None
    other_a: float = 0
    control_rating_a: float | None = None
    leakage_ma: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule held against the figures. "look up" means that the rule's figure was not seen."""

    rule: str
    outcome: Outcome
    because: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """One circuit: `continuous_a` is what breaker and conductor are chosen by.

    The drop is None where the run's length is not known.
    """

    loads: tuple[str, ...]
    amps: float
    continuous_a: float
    breaker_a: float
    conductor: str
    drop_volts: float | None
    drop_fraction: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitCheck:
    """`controls` is how many controls of the given rating the elements need, if it is known."""

    profile: str
    circuits: tuple[Circuit, ...]
    controls: int | None
    findings: tuple[Finding, ...]
    not_checked: tuple[str, ...]
    caution: str = CAUTION


def current_a(watts: float, volts: float) -> float:
    """Return the current of a resistive load, in amperes."""
    _at_least(0, watts=watts)
    _above(0, volts=volts)
    return watts / volts


def continuous_a(amps: float, factor: float) -> float:
    """Return the current by which breaker and conductor are chosen: `amps` times `factor`."""
    _at_least(0, amps=amps)
    _above(0, factor=factor)
    return amps * factor


def breaker_a(amps: float, sizes: Iterable[float]) -> float:
    """Return the least standard size that is not below `amps`; exactly a size stays there.

    Raises ImpossibleCircuit if no size is large enough.
    """
    _at_least(0, amps=amps)
    sizes = sorted(sizes)
    _above(0, **{f"size {at + 1}": size for at, size in enumerate(sizes)})
    for size in sizes:
        if size >= amps * (1 - DUST):
            return size
    raise ImpossibleCircuit(
        f"No breaker of {', '.join(f'{size:g}' for size in sizes) or 'any size'} A "
        f"carries {amps:.2f} A. Divide the load over more circuits.",
        pointer="#/amps",
    )


def voltage_drop(
    amps: float,
    one_way_m: float,
    *,
    ohms_per_m: float | None = None,
    cmil: float | None = None,
    k: float = COPPER_K,
) -> float:
    """Return the volts lost on a two-wire run, there and back: 2 x amps x length x resistance.

    `one_way_m` is the length one way. Give the conductor either as `ohms_per_m` of one wire (its
    resistance at its working temperature) or as `cmil` with `k` in ohm-circular-mils per foot
    (12.9: copper near 75 °C).
    """
    if (ohms_per_m is None) == (cmil is None):
        raise ImpossibleCircuit("Give the conductor as ohms per metre or as circular mils.")
    if ohms_per_m is None:
        assert cmil is not None
        _above(0, cmil=cmil, k=k)
        ohms_per_m = k / cmil / 0.3048
    _at_least(0, amps=amps, one_way_m=one_way_m, ohms_per_m=ohms_per_m)
    return 2 * amps * one_way_m * ohms_per_m


def copper_ohms_per_m(area_mm2: float, *, rho: float = 0.017241) -> float:
    """Return the resistance of one wire; `rho` in ohm mm2/m (0.017241: copper at 20 °C)."""
    _above(0, area_mm2=area_mm2, rho=rho)
    return rho / area_mm2


def box_fill_in3(
    *,
    conductors: Mapping[str, int],
    grounds: Sequence[str],
    devices: Sequence[str],
    inside_clamps: bool,
    volume_in3: Mapping[str, float],
    each_ground_above_four: bool = True,
) -> float:
    """Return the cubic inches that a box must offer (NEC 314.16(B)).

    `conductors` counts those that enter, by size; `grounds` lists the size of each grounding
    conductor, `devices` the largest conductor at each device. Clamps inside take one volume of the
    largest conductor, all grounds together one of the largest ground (and each above four a
    quarter more, NEC 2020 on), each device two. Raises ImpossibleCircuit for an unknown size.
    """
    named = (*conductors, *grounds, *devices)
    if unknown := sorted({size for size in named if size not in volume_in3}):
        raise ImpossibleCircuit(f"No box volume is known for {', '.join(unknown)}.")
    _at_least(0, **dict(conductors))
    fill = sum(count * volume_in3[size] for size, count in conductors.items())
    if inside_clamps and named:
        fill += max(volume_in3[size] for size in named)
    if grounds:
        largest = max(volume_in3[size] for size in grounds)
        fill += largest
        if each_ground_above_four:
            fill += max(0, len(grounds) - 4) * largest / 4
    return fill + sum(2 * volume_in3[size] for size in devices)


def check(loads: Sequence[Load], supply: Supply, code_profile: CodeProfile) -> CircuitCheck:
    """Work out circuits for `loads` and hold them against `code_profile`.

    The number of circuits and of controls is the least possible: no element is divided. Raises
    ImpossibleCircuit if there is no load, or one that no circuit of the profile carries.
    """
    if not loads:
        raise ImpossibleCircuit(Sentence("There is no element to feed."), pointer="#/loads")
    _above(0, volts=supply.volts)
    _at_least(0, one_way_m=supply.one_way_m or 0, other_a=supply.other_a)
    amps = [_amps_on(load, supply) for load in loads]
    factor = code_profile.continuous_factor
    capacity = code_profile.largest_circuit_a / factor
    first = capacity - supply.other_a
    for load, drawn in zip(loads, amps, strict=True):
        if drawn > capacity * (1 + DUST):
            raise ImpossibleCircuit(
                Sentence(
                    "{name} draws {drawn} A; a circuit of this profile carries {capacity} A for "
                    "hours. Choose smaller elements.",
                    name=load.name,
                    drawn=f"{drawn:.1f}",
                    capacity=f"{capacity:.1f}",
                ),
                pointer="#/loads",
            )
    groups = least_groups(amps, capacity, first=max(0.0, first))
    circuits, findings = [], list(_voltages(loads, supply, code_profile))
    for at, group in enumerate(groups):
        if not group:
            continue  # nothing fits beside what hangs on the circuit in place
        drawn = sum(amps[index] for index in group) + (supply.other_a if at == 0 else 0.0)
        circuit = _circuit([loads[index].name for index in group], drawn, supply, code_profile)
        circuits.append(circuit)
        findings += _of_circuit(circuit, at, len(groups), supply, code_profile)
    controls, of_controls = _controls(loads, amps, supply)
    return CircuitCheck(
        profile=code_profile.name,
        circuits=tuple(circuits),
        controls=controls,
        findings=(
            *findings,
            *of_controls,
            *_leakage(supply, code_profile),
            *_densities(loads, code_profile),
        ),
        not_checked=(*_unknown(supply), *code_profile.not_checked),
    )


def least_groups(
    sizes: Sequence[float], capacity: float, *, first: float | None = None
) -> list[list[int]]:
    """Divide `sizes` into the fewest groups that each add up to `capacity` at most.

    `first` is the room in the first group, if that has less; that group may stay empty. Returns
    lists of indices; every size must fit a group of its own. Exact: tries all that could be
    better, largest first.
    """
    order = sorted(range(len(sizes)), key=lambda index: -sizes[index])
    best: list[list[int]] = [[]] + [[index] for index in order]
    slack = capacity * DUST
    fewest = ceil((sum(sizes) - slack) / capacity)

    def place(at: int, groups: list[list[int]], left: list[float]) -> None:
        nonlocal best
        if len(groups) >= len(best) or len(best) <= fewest:
            return
        if at == len(order):
            best = [list(group) for group in groups]
            return
        size = sizes[order[at]]
        tried: set[float] = set()
        for group, room in enumerate(left):
            if size <= room + slack and room not in tried:
                tried.add(room)
                groups[group].append(order[at])
                left[group] -= size
                place(at + 1, groups, left)
                left[group] += size
                groups[group].pop()
        place(at + 1, [*groups, [order[at]]], [*left, capacity - size])

    place(0, [[]], [capacity if first is None else first])
    return [sorted(group) for group in best]


def _amps_on(load: Load, supply: Supply) -> float:
    """The current at the supply's voltage: the ohms stay, so watts go with volts squared."""
    return current_a(load.watts, load.volts) * supply.volts / load.volts


def _circuit(names: list[str], amps: float, supply: Supply, profile: CodeProfile) -> Circuit:
    needed = continuous_a(amps, profile.continuous_factor)
    size = breaker_a(needed, profile.breaker_sizes_a)
    conductor = _conductor(needed, size, supply, profile)
    drop = None
    if supply.one_way_m is not None:
        drop = voltage_drop(amps, supply.one_way_m, ohms_per_m=conductor.ohms_per_m)
    return Circuit(
        loads=tuple(names),
        amps=amps,
        continuous_a=needed,
        breaker_a=size,
        conductor=conductor.name,
        drop_volts=drop,
        drop_fraction=None if drop is None else drop / supply.volts,
    )


def _conductor(needed_a: float, breaker: float, supply: Supply, profile: CodeProfile) -> Conductor:
    """The conductor in place, else the least that carries the current behind its breaker."""
    for conductor in profile.conductors:
        if supply.conductor == conductor.name:
            return conductor
    if supply.conductor is not None:
        raise ImpossibleCircuit(
            f"{supply.conductor} is not a conductor of the profile {profile.name}.",
            pointer="#/supply/conductor",
        )
    for conductor in profile.conductors:
        carries = conductor.ampacity_a >= needed_a * (1 - DUST)
        if carries and conductor.largest_breaker_a >= breaker:
            return conductor
    raise ImpossibleCircuit(f"No conductor of the profile carries {needed_a:.1f} A.")


def _of_circuit(
    circuit: Circuit, at: int, count: int, supply: Supply, profile: CodeProfile
) -> list[Finding]:
    name = Sentence("Circuit {number}: ", number=at + 1) if count > 1 else ""
    in_place = supply.breaker_a if at == 0 else None
    sized = Sentence(
        "{name}{amps} A × {factor} = {needed} A, next standard breaker {breaker} A.",
        name=name,
        amps=f"{circuit.amps:.2f}",
        factor=f"{profile.continuous_factor:g}",
        needed=f"{circuit.continuous_a:.2f}",
        breaker=f"{circuit.breaker_a:g}",
    )
    found = [_finding(Sentence("Breaker"), True, sized, profile.breaker_source)]
    if in_place is not None:
        found.append(
            _finding(
                Sentence("Breaker in place"),
                in_place >= circuit.continuous_a * (1 - DUST),
                Sentence(
                    "{name}{there} A in place, {needed} A needed.",
                    name=name,
                    there=f"{in_place:g}",
                    needed=f"{circuit.continuous_a:.2f}",
                ),
                profile.continuous_source,
            )
        )
    breaker = circuit.breaker_a if in_place is None else max(circuit.breaker_a, in_place)
    conductor = next(one for one in profile.conductors if one.name == circuit.conductor)
    found.append(
        _finding(
            Sentence("Conductor"),
            conductor.ampacity_a >= circuit.continuous_a * (1 - DUST)
            and conductor.largest_breaker_a >= breaker,
            Sentence(
                "{name}{conductor} copper carries {carries} A behind a breaker of up to {most} A; "
                "{needed} A behind {breaker} A.",
                name=name,
                conductor=conductor.name,
                carries=f"{conductor.ampacity_a:g}",
                most=f"{conductor.largest_breaker_a:g}",
                needed=f"{circuit.continuous_a:.2f}",
                breaker=f"{breaker:g}",
            ),
            profile.conductor_source,
        )
    )
    if circuit.drop_volts is not None and circuit.drop_fraction is not None:
        found.append(
            _finding(
                Sentence("Voltage drop"),
                circuit.drop_fraction <= profile.voltage_drop_limit,
                Sentence(
                    "{name}{drop} V over {way} m one way, {share} of {volts} V; up to {most}.",
                    name=name,
                    drop=f"{circuit.drop_volts:.2f}",
                    way=f"{supply.one_way_m:g}",
                    share=f"{circuit.drop_fraction:.1%}",
                    volts=f"{supply.volts:g}",
                    most=f"{profile.voltage_drop_limit:.0%}",
                ),
                profile.voltage_drop_source,
            )
        )
    return found


def _voltages(loads: Sequence[Load], supply: Supply, profile: CodeProfile) -> Iterable[Finding]:
    for load in loads:
        ratio = supply.volts / load.volts
        yield _finding(
            Sentence("Voltage"),
            abs(ratio - 1) <= profile.voltage_window,
            Sentence(
                "{name} is made for {made} V; on {volts} V it gives {gives} W of its {watts} W.",
                name=load.name,
                made=f"{load.volts:g}",
                volts=f"{supply.volts:g}",
                gives=f"{load.watts * ratio**2:.0f}",
                watts=f"{load.watts:g}",
            ),
            profile.voltage_source,
        )


def _controls(
    loads: Sequence[Load], amps: Sequence[float], supply: Supply
) -> tuple[int | None, list[Finding]]:
    rating = supply.control_rating_a
    if rating is None:
        return None, []
    _above(0, control_rating_a=rating)
    source = Source(text=Sentence("the control's own rating"), looked_up=True)
    too_large = [
        load.name for load, drawn in zip(loads, amps, strict=True) if drawn > rating * (1 + DUST)
    ]
    total = sum(amps)
    if too_large:
        because = Sentence(
            "{names} draws more than {rating} A: switch it by a relay.",
            names=", ".join(too_large),
            rating=f"{rating:g}",
        )
        return None, [_finding(Sentence("Control"), False, because, source)]
    count = len(least_groups(amps, rating))
    figures = {"total": f"{total:.2f}", "rating": f"{rating:g}", "count": f"{count}"}
    because = Sentence("{total} A on a control rated {rating} A.", **figures)
    if count > 1:
        because = Sentence(
            "{total} A on a control rated {rating} A: {count} controls, or one with a relay.",
            **figures,
        )
    return count, [_finding(Sentence("Control"), count == 1, because, source)]


def _leakage(supply: Supply, profile: CodeProfile) -> list[Finding]:
    required = Finding(
        rule=Sentence("Leakage protection"),
        outcome="required",
        because=Sentence("{rule}.", rule=Sentence(profile.leakage_rule)),
        source=str(profile.leakage_source),
    )
    inspected = Finding(
        rule=Sentence("Before covering"),
        outcome="required",
        because=Sentence("{rule}.", rule=Sentence(profile.inspection_rule)),
        source=str(profile.inspection_source),
    )
    if supply.leakage_ma is None:
        return [required, inspected]
    in_place = _finding(
        Sentence("Leakage protection in place"),
        supply.leakage_ma <= profile.leakage_ma,
        Sentence(
            "Trips at {there} mA; {most} mA or less is required.",
            there=f"{supply.leakage_ma:g}",
            most=f"{profile.leakage_ma:g}",
        ),
        profile.leakage_source,
    )
    return [required, in_place, inspected]


def _densities(loads: Sequence[Load], profile: CodeProfile) -> Iterable[Finding]:
    for load in loads:
        for rule, unit, value, most, source in (
            (Sentence("Power over floor"), "W/m²", load.w_per_m2, profile.most_w_per_m2,
             profile.most_w_per_m2_source),
            (Sentence("Power of the wire"), "W/m", load.w_per_m, profile.most_w_per_m,
             profile.most_w_per_m_source),
        ):  # fmt: skip
            if value is not None and most is not None and source is not None:
                because = Sentence(
                    "{name}: {value} {unit}, up to {most} {unit}.",
                    name=load.name,
                    value=f"{value:.1f}",
                    most=f"{most:.1f}",
                    unit=unit,
                )
                yield _finding(rule, value <= most * (1 + DUST), because, source)


def _unknown(supply: Supply) -> Iterable[str]:
    if supply.breaker_a is None:
        yield Sentence("the breaker in place")
    if supply.conductor is None:
        yield Sentence("the supply conductor in place")
    if supply.one_way_m is None:
        yield Sentence("voltage drop (the length of the run is not known)")
    if supply.control_rating_a is None:
        yield Sentence("the control's rating")
    if supply.leakage_ma is None:
        yield Sentence("whether leakage protection is in place")


def _finding(rule: str, holds: bool, because: str, source: Source) -> Finding:
    """A rule whose figure was not looked up can warn, but cannot be said to hold."""
    outcome: Outcome = ("holds" if source.looked_up else "look up") if holds else "fails"
    return Finding(rule=rule, outcome=outcome, because=because, source=str(source))


def _at_least(least: float, **figures: float) -> None:
    for name, figure in figures.items():
        if not isfinite(figure) or figure < least:
            raise ImpossibleCircuit(
                f"{name} is {figure:g}; it cannot be below {least:g}.", pointer=f"#/{name}"
            )


def _above(least: float, **figures: float) -> None:
    for name, figure in figures.items():
        if not isfinite(figure) or figure <= least:
            raise ImpossibleCircuit(
                f"{name} is {figure:g}; it must be above {least:g}.", pointer=f"#/{name}"
            )
