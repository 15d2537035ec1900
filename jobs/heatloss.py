"""What a warm floor gives against what its room loses: comfort heating, or enough to live by.

Watts, square metres, kelvin. Steady state, by the surfaces and air change that were stated.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Literal

from config.errors import DomainError
from config.sentence import Sentence

AIR_WH_PER_M3K = 0.34
"""Heat that a cubic metre of air carries: about 1.2 kg/m3 times 1 010 J/(kg K)."""

OUTPUT_FACTOR, OUTPUT_EXPONENT = 8.92, 1.1
"""Output of a floor by its mean excess over the room: q = 8.92 dT^1.1.

EN 1264-2, also ISO 11855-2:2021 equation 1; written for water-based systems, but the surface does
not know what warms it.
"""

OCCUPIED_C, EDGE_C, BATHROOM_EXCESS_K = 29.0, 35.0, 9.0
"""Highest floor surface by zone: EN 1264, as design pages sum it up."""

COVERING_LIMIT_C: Mapping[str, float] = {
    "tile": 33.0,  # common practice, no source
    "stone": 33.0,  # common practice, no source
    "wood": 27.0,  # guidelines for wood and cork floors over floor heating; common practice
    "laminate": 27.0,  # common practice, no source
    "vinyl": 27.0,  # common practice, no source
    "carpet": 27.0,  # common practice, no source
}
"""Highest surface of a covering whose maker prints none."""

U_W_PER_M2K: Mapping[str, float] = {
    "solid masonry wall, bare": 1.7,
    "cavity wall, unfilled": 1.4,
    "cavity wall, filled": 0.5,
    "timber frame wall, insulated": 0.4,
    "wall, insulated outside": 0.25,
    "single glazing": 5.0,
    "double glazing, old": 2.8,
    "double glazing, coated": 1.3,
    "triple glazing": 0.8,
    "outside door": 2.0,
    "flat roof, bare": 2.0,
    "roof, insulated": 0.25,
    "floor on ground, bare": 0.7,
    "floor on ground, insulated": 0.25,
    "floor over unheated room": 1.0,
}
"""Heat that passes a construction per kelvin; common practice, no source. A stated value rules."""

MAIN_RESERVE = 1.1
"""Output over loss from which a floor may be the main heating; common practice, no source."""


class UnusableHeat(DomainError):
    """Figures from which no loss or output follows."""

    slug = "heat-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A surface that loses heat: its U-value by construction, or stated.

    `other_c` is the temperature behind it, None for outdoors.
    """

    construction: str
    area_m2: float
    u_w_per_m2k: float | None = None
    other_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """What a room loses. `parts` are (what, watts), the largest first."""

    watts: float
    parts: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """What a floor gives upwards. `limited_by` says what holds it back.

    `surface_c` is the mean surface at that output; `under_c` the temperature under the covering.
    """

    watts: float
    w_per_m2: float
    surface_c: float
    under_c: float
    limited_by: Literal["element", "floor limit", "covering limit"]
    downward_watts: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatAnswer:
    """Whether the floor can be the main heating. `says` is for the office, `because` the sums."""

    role: Literal["main heating", "comfort only"]
    says: str
    because: tuple[str, ...]
    not_checked: tuple[str, ...]


def floor_limit_c(zone: str, *, room_c: float, covering: str = "tile") -> float:
    """Return the highest mean surface in a zone (`occupied`, `edge`, `bathroom`) and covering.

    An unknown covering counts as the most delicate.
    """
    zones = {"occupied": OCCUPIED_C, "edge": EDGE_C, "bathroom": room_c + BATHROOM_EXCESS_K}
    if zone not in zones:
        raise UnusableHeat(f"“{zone}” is no zone of a floor.", pointer="#/zone")
    return min(zones[zone], COVERING_LIMIT_C.get(covering, min(COVERING_LIMIT_C.values())))


def surface_output_w_per_m2(excess_k: float) -> float:
    """Return what a floor gives at a mean surface excess over the room (EN 1264-2)."""
    return float(OUTPUT_FACTOR * max(0.0, excess_k) ** OUTPUT_EXPONENT)


def surface_excess_k(w_per_m2: float) -> float:
    """Return the mean surface excess at which a floor gives `w_per_m2`."""
    return float((max(0.0, w_per_m2) / OUTPUT_FACTOR) ** (1 / OUTPUT_EXPONENT))


def room_loss(
    surfaces: Sequence[Surface],
    *,
    volume_m3: float,
    air_changes_per_hour: float,
    room_c: float,
    outdoor_c: float,
) -> Loss:
    """Return the watts that hold a room at `room_c`: sum of U A dT, and of the air that changes.

    Raises UnusableHeat for an unknown construction without a stated U-value, or figures below 0.
    """
    _not_below(0, volume_m3=volume_m3, air_changes_per_hour=air_changes_per_hour)
    _finite(room_c=room_c, outdoor_c=outdoor_c)
    parts = []
    for at, surface in enumerate(surfaces):
        u = surface.u_w_per_m2k
        if u is None:
            if surface.construction not in U_W_PER_M2K:
                raise UnusableHeat(
                    Sentence(
                        "No U-value is known for “{construction}”; state it.",
                        construction=surface.construction,
                    ),
                    pointer=f"#/surfaces/{at}/u_w_per_m2k",
                )
            u = U_W_PER_M2K[surface.construction]
        _not_below(0, area_m2=surface.area_m2, u_w_per_m2k=u)
        behind = outdoor_c if surface.other_c is None else surface.other_c
        parts.append((surface.construction, u * surface.area_m2 * (room_c - behind)))
    air = AIR_WH_PER_M3K * air_changes_per_hour * volume_m3 * (room_c - outdoor_c)
    parts.append(("air change", air))
    return Loss(
        watts=sum(watts for _, watts in parts),
        parts=tuple(sorted(parts, key=lambda part: -part[1])),
    )


def floor_output(
    *,
    watts: float,
    heated_m2: float,
    room_c: float,
    floor_limit: float,
    covering_m2k_per_w: float,
    insulation_m2k_per_w: float,
    below_c: float,
    under_limit_c: float | None = None,
) -> Output:
    """Return what `watts` under a covering give to the room, held by the floor's limits.

    Resistances in m2 K/W: of the covering, and of all below the element down to `below_c`.
    `under_limit_c` is the highest temperature under the covering that it may bear, if printed.
    Raises UnusableHeat for an area or insulation not above 0, or a limit not above the room.
    """
    _not_below(0, watts=watts, covering_m2k_per_w=covering_m2k_per_w)
    _above(0, heated_m2=heated_m2, insulation_m2k_per_w=insulation_m2k_per_w)
    _finite(room_c=room_c, below_c=below_c)
    if floor_limit <= room_c:
        raise UnusableHeat(
            Sentence(
                "The floor may be {limit} °C at most, the room is {room} °C: no heat goes up.",
                limit=f"{floor_limit:g}",
                room=f"{room_c:g}",
            ),
            pointer="#/floor_limit",
        )
    up, limited = (
        _upward(watts / heated_m2, room_c, covering_m2k_per_w, insulation_m2k_per_w, below_c),
        "element",
    )
    bounds = [(surface_output_w_per_m2(floor_limit - room_c), "floor limit")]
    if under_limit_c is not None:
        bounds.append((_at_under(under_limit_c, room_c, covering_m2k_per_w), "covering limit"))
    for most, name in bounds:
        if up > most:
            up, limited = most, name
    surface_c = room_c + surface_excess_k(up)
    under_c = surface_c + up * covering_m2k_per_w
    return Output(
        watts=up * heated_m2,
        w_per_m2=up,
        surface_c=surface_c,
        under_c=under_c,
        limited_by=limited,  # type: ignore[arg-type]
        downward_watts=max(0.0, (under_c - below_c) / insulation_m2k_per_w * heated_m2),
    )


def answer(loss: Loss, output: Output, *, room_c: float, outdoor_c: float) -> HeatAnswer:
    """Hold a floor's output against its room's loss."""
    enough = output.watts >= MAIN_RESERVE * loss.watts
    share = output.watts / loss.watts if loss.watts > 0 else float("inf")
    figures = {
        "output": f"{output.watts:.0f}",
        "loss": f"{loss.watts:.0f}",
        "outside": f"{outdoor_c:g}",
        "inside": f"{room_c:g}",
    }
    if enough:
        says = Sentence(
            "This floor can be the main heating. It gives {output} W; the room loses {loss} W at "
            "{outside} °C outside and {inside} °C inside.",
            **figures,
        )
    else:
        says = Sentence(
            "This floor is for comfort; the room needs other heat besides. It gives {output} W; "
            "the room loses {loss} W at {outside} °C outside and {inside} °C inside.",
            **figures,
        )
    limits = {
        "element": Sentence("the element's power"),
        "floor limit": Sentence("the highest floor temperature"),
        "covering limit": Sentence("the highest temperature under the covering"),
    }
    because = [
        Sentence("{what}: {watts} W", what=_named(what), watts=f"{watts:.0f}")
        for what, watts in loss.parts
    ]
    because += [
        Sentence(
            "Upwards {up} W/m² at a surface of {surface} °C, held by {limit} (EN 1264-2, written "
            "for water-based systems)",
            up=f"{output.w_per_m2:.0f}",
            surface=f"{output.surface_c:.1f}",
            limit=limits[output.limited_by],
        ),
        Sentence(
            "Under the covering {under} °C; {down} W go down",
            under=f"{output.under_c:.1f}",
            down=f"{output.downward_watts:.0f}",
        ),
    ]
    if isfinite(share):
        because.append(
            Sentence(
                "Output is {share} of the loss; {asked} is asked of a main heating",
                share=f"{share:.0%}",
                asked=f"{MAIN_RESERVE:.0%}",
            )
        )
    return HeatAnswer(
        role="main heating" if enough else "comfort only",
        says=says,
        because=tuple(because),
        not_checked=(
            Sentence("sun, people and lamps, which help"),
            Sentence("heating up after a cold night, which takes more"),
            Sentence("thermal bridges"),
        ),
    )


def _named(what: str) -> str:
    """A surface by the words that it is known by, else as somebody called it."""
    return Sentence(what) if what in U_W_PER_M2K or what == "air change" else what


def _upward(
    supplied: float, room_c: float, covering: float, insulation: float, below_c: float
) -> float:
    """The watts per m² that go up of what is supplied, the rest going down; by bisection.

    Supplied = up + (room + excess(up) + up R - below) / R_down, which rises with up.
    """
    low, high = 0.0, supplied + max(0.0, (below_c - room_c) / insulation)
    for _ in range(60):
        up = (low + high) / 2
        under = room_c + surface_excess_k(up) + up * covering
        if up + (under - below_c) / insulation > supplied:
            high = up
        else:
            low = up
    return low


def _at_under(under_limit_c: float, room_c: float, covering: float) -> float:
    """The watts per m² at which it is `under_limit_c` under the covering; by bisection."""
    low, high = 0.0, 1000.0
    for _ in range(60):
        up = (low + high) / 2
        if room_c + surface_excess_k(up) + up * covering > under_limit_c:
            high = up
        else:
            low = up
    return low


def _finite(**figures: float) -> None:
    for name, figure in figures.items():
        if not isfinite(figure):
            raise UnusableHeat(f"{name} is not a number.", pointer=f"#/{name}")


def _not_below(least: float, **figures: float) -> None:
    _finite(**figures)
    for name, figure in figures.items():
        if figure < least:
            raise UnusableHeat(
                f"{name} is {figure:g}; it cannot be below {least:g}.", pointer=f"#/{name}"
            )


def _above(least: float, **figures: float) -> None:
    _finite(**figures)
    for name, figure in figures.items():
        if figure <= least:
            raise UnusableHeat(
                f"{name} is {figure:g}; it must be above {least:g}.", pointer=f"#/{name}"
            )
