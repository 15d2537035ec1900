"""What to order for a room: each material in whole packages, with waste and rounding shown.

Decimal arithmetic throughout: waste first, whole packages last.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal
from math import isfinite
from typing import Literal

from config.errors import DomainError
from config.sentence import Sentence

Use = Literal[
    "mortar", "adhesive", "leveller", "screed", "grout", "primer", "membrane", "board", "tape",
    "covering", "lead", "conduit", "box", "control", "sensor", "element",
]  # fmt: skip
Basis = Literal["coverage", "trowel", "volume", "mass", "length", "pieces"]

DUST = Decimal("1e-12")
"""Share of a package that float arithmetic may add to a sum which is exactly whole."""

BOX_LEAD_MM = 203
"""Free lead left in the box: 8 in; common practice, no source."""

TROWEL_FT2_PER_50_LB: Mapping[str, tuple[float, float]] = {
    "1/4 x 1/4 in": (80, 100),
    "1/4 x 3/8 in": (60, 80),
    "1/2 x 1/2 in": (40, 50),
}
"""Floor that a 50 lb bag of tile mortar covers behind a square-notched trowel, low and high.

Source: Engineer Fix, "How much thinset do I need per square foot". The figure printed on the bag
rules; without one, the low end.
"""

PIECES = "pieces"
_UNITS: Mapping[Basis, str] = {
    "coverage": "m²",
    "trowel": "m²",
    "volume": "l",
    "mass": "kg",
    "length": "m",
    "pieces": PIECES,
}


class UnusableQuantity(DomainError):
    """Figures from which no number of packages follows."""

    slug = "quantity-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """A material as it is bought. `holds` is in the unit of `basis`.

    coverage, trowel: m² that one package covers; volume: litres of bed that it yields; mass: kg,
    with `kg_per_m2_mm`; length: m; pieces: how many. `coats` counts for coverage only.
    """

    name: str
    use: Use
    basis: Basis
    holds: float
    package: str = "package"
    waste_fraction: float = 0.0
    kg_per_m2_mm: float | None = None
    coats: int = 1
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomMeasures:
    """What the quantities of one room are worked out from; m², m and mm.

    `floor_m2` lies between the walls; `bed_m2` gets mortar, membrane and covering (the floor less
    built-ins and fixtures that stay). `depth_mm` is the mean depth of a course by its use.
    `lead_run_m` is the way of the longest lead at floor level and up to the control; `lead_m` is
    what the element's lead has; None is not known.
    """

    floor_m2: float
    bed_m2: float
    perimeter_m: float
    depth_mm: Mapping[str, float] = field(default_factory=dict)
    seams_m: float = 0.0
    lead_run_m: float | None = None
    lead_m: float | None = None
    leads: int = 1
    controls: int = 1
    relays: int = 0
    sensors: int = 1
    conduit_m: float = 0.0
    elements: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of an order. `needed` is before waste, `exact` the packages before rounding."""

    use: Use
    name: str
    needed: Decimal
    unit: str
    waste_fraction: Decimal
    holds: Decimal
    exact: Decimal
    packages: int
    package: str
    left_over: Decimal
    because: str

    @property
    def amount(self) -> str:
        """What is needed, with its unit."""
        return _amount(self.needed, self.unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOff:
    """The order for a room, and what could not be counted because something is not known."""

    lines: tuple[Line, ...]
    not_counted: tuple[str, ...]


def packages(area_m2: float, coverage_m2_per_package: float, waste_fraction: float = 0.0) -> int:
    """Return how many whole packages cover `area_m2` and its waste (0.1 means 10 % more).

    Raises UnusableQuantity for a negative area, no coverage, or a waste that is not a fraction.
    """
    _check_waste(waste_fraction)
    return _whole(
        _exact(
            _decimal(area_m2, least=0, name="area_m2"),
            _decimal(coverage_m2_per_package, above=0, name="coverage_m2_per_package"),
            _decimal(waste_fraction, least=0, name="waste_fraction"),
        )
    )


def cable_length_m(area_m2: float, spacing_mm: float) -> float:
    """Return the metres of wire that fill an area at an even spacing: L = A / s."""
    _decimal(area_m2, least=0, name="area_m2")
    _decimal(spacing_mm, above=0, name="spacing_mm")
    return area_m2 / (spacing_mm / 1000)


def density_w_per_m2(w_per_m: float, spacing_mm: float) -> float:
    """Return the power over the floor of wire at an even spacing: q = w / s."""
    _decimal(w_per_m, least=0, name="w_per_m")
    _decimal(spacing_mm, above=0, name="spacing_mm")
    return w_per_m / (spacing_mm / 1000)


def trowel_package(trowel: str, package_kg: float, *, name: str, use: Use = "adhesive") -> Package:
    """Return a bag of mortar by its notch, where the bag prints no coverage: the low end."""
    if trowel not in TROWEL_FT2_PER_50_LB:
        known = ", ".join(TROWEL_FT2_PER_50_LB)
        raise UnusableQuantity(f"No coverage is known for {trowel}; known: {known}.")
    low_ft2, _ = TROWEL_FT2_PER_50_LB[trowel]
    holds = low_ft2 * 0.09290304 * package_kg / 22.6796185
    return Package(
        name=name,
        use=use,
        basis="trowel",
        holds=holds,
        package="bag",
        because=f"notch {trowel}, the low end of what such bags cover",
    )


def take_off(room: RoomMeasures, materials: Iterable[Package]) -> TakeOff:
    """Return the order for a room: a line for each of `materials` of which something is needed.

    Raises UnusableQuantity for a material that cannot be reckoned the way it is described.
    """
    lines, not_counted = [], []
    for material in materials:
        needed, because = _needed(room, material)
        if needed is None:
            not_counted.append(Sentence("{name}: {why}.", name=material.name, why=because))
        elif needed > 0:
            lines.append(_line(material, needed, because))
    return TakeOff(lines=tuple(lines), not_counted=tuple(not_counted))


def _line(material: Package, needed: Decimal, because: str) -> Line:
    _check_waste(material.waste_fraction)
    waste = _decimal(material.waste_fraction, least=0, name="waste_fraction")
    holds = _decimal(material.holds, above=0, name="holds")
    exact = _exact(needed, holds, waste)
    number = _whole(exact)
    unit = _UNITS[material.basis]
    steps: list[str] = [because]
    if waste:
        steps.append(
            Sentence(
                "{share} % waste makes {makes}",
                share=_figure(waste * 100),
                makes=_amount(needed * (1 + waste), unit),
            )
        )
    steps.append(_rounding(material, exact, number))
    if material.because:
        steps.append(material.because)
    return Line(
        use=material.use,
        name=material.name,
        needed=needed,
        unit=unit,
        waste_fraction=waste,
        holds=holds,
        exact=exact,
        packages=number,
        package=material.package,
        left_over=number * holds - needed * (1 + waste),
        because=_in_turn(steps),
    )


def _rounding(material: Package, exact: Decimal, number: int) -> Sentence:
    """From what is needed to whole packages, as somebody at a counter would say it."""
    if material.basis == "pieces" and material.holds == 1:
        return Sentence("bought one by one: order {number}", number=number)
    rounded = (
        Sentence("exactly {number}", number=number)
        if _figure(exact) == str(number)
        else Sentence("{exact}, rounded up to {number}", exact=_figure(exact), number=number)
    )
    return Sentence(
        "at {holds} per {package} that is {rounded}",
        holds=_amount(Decimal(str(material.holds)), _UNITS[material.basis]),
        package=material.package,
        rounded=rounded,
    )


def _amount(value: Decimal, unit: str) -> str:
    """A figure with its unit; pieces are counted without one."""
    return _figure(value) if unit == PIECES else f"{_figure(value)} {unit}"


def _in_turn(steps: list[str]) -> Sentence:
    """Steps of a sum as one sentence."""
    first, *rest = steps
    said = first if isinstance(first, Sentence) else Sentence("{text}", text=first)
    for step in rest:
        said = Sentence("{first}; {next}", first=said, next=step)
    return Sentence("{steps}.", steps=said)


def _needed(room: RoomMeasures, material: Package) -> tuple[Decimal | None, str]:
    """How much of a material a room needs, in the unit of its basis, and the sum behind it.

    None where something is not known; then the sentence says what.
    """
    match material.basis:
        case "pieces":
            return _pieces(room, material)
        case "length":
            return _length(room, material)
        case "coverage" | "trowel":
            area, what = _area(room, material)
            needed = area * material.coats
            if material.coats > 1:
                what = Sentence(
                    "{what} in {coats} coats: {all} m²",
                    what=what,
                    coats=material.coats,
                    all=_figure(needed),
                )
            return needed, what
        case "volume" | "mass":
            return _bed(room, material)


def _area(room: RoomMeasures, material: Package) -> tuple[Decimal, str]:
    if material.use in ("primer", "leveller", "screed"):
        return _decimal(room.floor_m2, least=0, name="floor_m2"), Sentence(
            "{area} m² of floor", area=f"{room.floor_m2:g}"
        )
    return _decimal(room.bed_m2, least=0, name="bed_m2"), Sentence(
        "{area} m² to cover", area=f"{room.bed_m2:g}"
    )


def _bed(room: RoomMeasures, material: Package) -> tuple[Decimal | None, str]:
    """Litres are m² times mm; kilograms take the consumption that the bag prints."""
    if material.use not in room.depth_mm:
        return None, Sentence("the depth of the {use} is not known", use=Sentence(material.use))
    mm = room.depth_mm[material.use]
    depth = _decimal(mm, least=0, name="depth_mm")
    area, what = _area(room, material)
    litres = area * depth
    what = Sentence("{what}, {mm} mm deep", what=what, mm=f"{mm:g}")
    if material.basis == "volume":
        return litres, Sentence("{what}: {litres} l", what=what, litres=_figure(litres))
    if material.kg_per_m2_mm is None:
        raise UnusableQuantity(
            f"{material.name} needs its kilograms per square metre and millimetre.",
            pointer="#/kg_per_m2_mm",
        )
    per = _decimal(material.kg_per_m2_mm, above=0, name="kg_per_m2_mm")
    return litres * per, Sentence(
        "{what}, {per} kg per m² and mm: {mass} kg",
        what=what,
        per=_figure(per),
        mass=_figure(litres * per),
    )


def _length(room: RoomMeasures, material: Package) -> tuple[Decimal | None, str]:
    match material.use:
        case "tape":
            metres = room.perimeter_m + room.seams_m
            what = Sentence(
                "{walls} m along the walls and {seams} m of seams: {all} m",
                walls=f"{room.perimeter_m:g}",
                seams=f"{room.seams_m:g}",
                all=f"{metres:g}",
            )
        case "conduit":
            metres = room.conduit_m
            what = Sentence("{metres} m of tube", metres=f"{metres:g}")
        case "lead":
            return _lead(room)
        case _:
            raise UnusableQuantity(f"{material.name} is not reckoned by length.", pointer="#/basis")
    return _decimal(metres, least=0, name="metres"), what


def _lead(room: RoomMeasures) -> tuple[Decimal | None, str]:
    if room.lead_m is None or room.lead_run_m is None:
        return None, Sentence("the way to the control or the length of the lead is not known")
    way = _decimal(room.lead_run_m, least=0, name="lead_run_m") + Decimal(BOX_LEAD_MM) / 1000
    short = way - _decimal(room.lead_m, least=0, name="lead_m")
    missing = max(Decimal(0), short) * room.leads
    what = Sentence(
        "{leads} × ({way} m to the control, {box} mm of it in the box, less the {lead} m of lead)"
        ": {all} m",
        leads=room.leads,
        way=_figure(way),
        box=BOX_LEAD_MM,
        lead=f"{room.lead_m:g}",
        all=_figure(missing),
    )
    return missing, what


def _pieces(room: RoomMeasures, material: Package) -> tuple[Decimal, str]:
    match material.use:
        case "element":
            count = room.elements.get(material.name, 0)
            what = Sentence("{count} in the laying plan", count=count)
        case "control":
            count = room.controls
            what = Sentence("{count}, one for each control circuit", count=count)
        case "sensor":
            count = room.sensors
            what = Sentence(
                "{count} in this floor, a spare only if it is recorded as a sensor", count=count
            )
        case "box":
            joins = room.leads if _lead(room)[0] else 0
            count = room.controls + room.relays + joins
            what = Sentence(
                "{controls} for controls, {relays} for relays, {joins} for longer leads: {count}",
                controls=room.controls,
                relays=room.relays,
                joins=joins,
                count=count,
            )
        case _:
            raise UnusableQuantity(f"{material.name} is not counted in pieces.", pointer="#/basis")
    return _decimal(count, least=0, name="count"), what


def _exact(needed: Decimal, holds: Decimal, waste: Decimal) -> Decimal:
    return needed * (1 + waste) / holds


def _whole(exact: Decimal) -> int:
    """The next whole number, but not for the dust that floats left behind."""
    nearest = exact.to_integral_value(rounding=ROUND_HALF_EVEN)
    if abs(exact - nearest) <= DUST * max(Decimal(1), nearest):
        return int(nearest)
    return int(exact.to_integral_value(rounding=ROUND_CEILING))


def _check_waste(waste_fraction: float) -> None:
    if waste_fraction > 1:
        raise UnusableQuantity(
            f"Waste is a fraction: 0.1 means 10 %; {waste_fraction:g} would more than double it.",
            pointer="#/waste_fraction",
        )


def _decimal(
    value: float, *, name: str, least: float | None = None, above: float | None = None
) -> Decimal:
    if not isfinite(value):
        raise UnusableQuantity(f"{name} is not a number.", pointer=f"#/{name}")
    if (least is not None and value < least) or (above is not None and value <= above):
        bound = f"{least:g} or more" if least is not None else f"above {above:g}"
        raise UnusableQuantity(f"{name} is {value:g}; it must be {bound}.", pointer=f"#/{name}")
    return Decimal(str(value))


def _figure(value: Decimal) -> str:
    """Three decimals at most, without trailing zeros."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
