"""Choose the elements that fill a floor without a remainder, before anything is laid.

Areas are mm², lengths mm. What is predicted here is only good enough to say what to try first.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement, product
from math import log

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from jobs.laying.measures import COVER_TOLERANCE_MM, spacings
from jobs.laying.problem import LEAST_SPACING_MM, Element, Room

FIT_MM = 1.5
"""A spacing this much over the least can be laid; tighter, turns have no room."""

STRICTLY_WARM = 0.965
"""Share of a floor within half a spacing of a well laid wire; the power is spread over it."""

MEAN_FACTOR = 1.02
OVERLAP = 0.99
CLEARLY_LESS = 0.1
MOST_PIECES = 4
LEAST_CORE_MM2 = 2e4
EDGE_MM = 25.0
"""How far a part reaches beyond its wide core into corners and passages."""

COUNTS_AS_EQUAL = 0.004
"""Predictions this near are equal: fewer elements and a spacing near the nominal one decide."""

MUCH_POWER = 0.9
"""Part of the allowed power at an even spread above which many squares get too much of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Cables for each piece of floor, largest piece first. `predicted` is the share to be warmed.

    `spacing_mm` is the even spread over the whole floor, by which every cable is judged;
    `laid_mm` the one over the pieces that get any, at which it will be laid.
    """

    per_piece: tuple[tuple[Element, ...], ...]
    spacing_mm: float
    laid_mm: float
    predicted: float

    @property
    def elements(self) -> tuple[Element, ...]:
        """All elements of the choice."""
        return tuple(element for some in self.per_piece for element in some)


def pieces_of(room: Room, *, wide: bool) -> list[Polygon]:
    """Return the pieces of the heatable area, largest first.

    `wide` cuts them where two wires cannot lie side by side: what a loop of cable can fill.
    """
    parts = _polygons(room.area)
    if wide:
        gap = min((e.gap_mm for e in room.elements if e.kind == "cable"), default=LEAST_SPACING_MM)
        parts = [part for piece in parts for part in _wide_parts(piece, gap)]
    return sorted(parts, key=lambda part: -part.area)


def _wide_parts(piece: Polygon, gap_mm: float) -> list[Polygon]:
    """Cut a piece where two wires cannot lie side by side, if that leaves more than one part."""
    half = gap_mm / 2 + FIT_MM
    cores = [core for core in _polygons(piece.buffer(-half)) if core.area > LEAST_CORE_MM2]
    if len(cores) < 2:
        return [piece]
    parts: list[Polygon] = []
    for core in sorted(cores, key=lambda core: -core.area):
        part: BaseGeometry = piece.intersection(core.buffer(half + EDGE_MM))
        for other in parts:
            part = part.difference(other.buffer(gap_mm + FIT_MM))
        parts += sorted(_polygons(part), key=lambda each: -each.area)[:1]
    return parts


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if isinstance(part, Polygon) and part.area > 0]


def choices(
    room: Room, pieces: Sequence[Polygon], most: Sequence[int] | None = None
) -> list[Choice]:
    """Return the choices of cables for the pieces of a room, the most promising first.

    `most` is how many cables each piece can take at most: where leads come to it.
    """
    areas = [piece.area for piece in pieces][:MOST_PIECES]
    limits = [room.may_use] * len(areas) if most is None else list(most)
    cables = tuple(entry for entry in room.elements if entry.kind == "cable")
    found: list[Choice] = []
    most_warm = 0.0
    for number in range(1, room.may_use + 1):
        for some in combinations_with_replacement(cables, number):
            if _reach(some, room.area.area) < most_warm - CLEARLY_LESS:
                continue
            if (choice := _best_assignment(room, some, areas, limits)) is not None:
                found.append(choice)
                most_warm = max(most_warm, choice.predicted)
    return sorted(found, key=lambda choice: _rank(choice, room.max_w_per_m2))


def _rank(choice: Choice, most_w_per_m2: float) -> tuple[float, bool, int, float]:
    nominal = sum(e.spacing_mm for e in choice.elements) / len(choice.elements)
    w_per_mm2 = max(e.watts_per_mm for e in choice.elements) / choice.laid_mm
    return (
        -round(choice.predicted / COUNTS_AS_EQUAL),
        w_per_mm2 * 1e6 > MUCH_POWER * most_w_per_m2,
        len(choice.elements),
        abs(log(choice.laid_mm / nominal)),
    )


def _best_assignment(
    room: Room, some: Sequence[Element], areas: Sequence[float], limits: Sequence[int]
) -> Choice | None:
    """Give each element to a piece of floor so that most is warmed; None if they do not fit."""
    total = room.area.area
    wire = sum(e.wire_mm for e in some)
    watts = sum(e.watts for e in some)
    spread = min(wire * max(e.most_spacing_mm for e in some), sum(areas))
    if watts > MEAN_FACTOR * room.max_w_per_m2 * STRICTLY_WARM * spread / 1e6:
        return None
    if wire * min(e.gap_mm + FIT_MM for e in some) > total:
        return None
    spacing = spacings(some, total)[0]
    best: tuple[float, tuple[int, ...]] | None = None
    for places in _places(len(some), len(areas)):
        if any(places.count(at) > limit for at, limit in enumerate(limits)):
            continue
        if not _fits(room, some, places, areas):
            continue
        warm = sum(
            min(area, OVERLAP * (spacing + 2 * COVER_TOLERANCE_MM) * _wire(some, places, at))
            for at, area in enumerate(areas)
        )
        if best is None or warm > best[0] + 1:
            best = (warm, places)
    if best is None:
        return None
    return Choice(
        per_piece=tuple(
            tuple(e for e, place in zip(some, best[1], strict=True) if place == at)
            for at in range(len(areas))
        ),
        spacing_mm=spacing,
        laid_mm=min(spacing, sum(areas[at] for at in set(best[1])) / wire),
        predicted=best[0] / total,
    )


def _reach(some: Sequence[Element], total: float) -> float:
    """The share of a floor that these cables could warm if it were one piece."""
    return (
        sum(e.wire_mm for e in some) * (spacings(some, total)[0] + 2 * COVER_TOLERANCE_MM) / total
    )


def _places(elements: int, pieces: int) -> Iterator[tuple[int, ...]]:
    return product(range(pieces), repeat=elements)


def _fits(
    room: Room, some: Sequence[Element], places: Sequence[int], areas: Sequence[float]
) -> bool:
    """Whether each piece has room for the wire and the watts that it is given."""
    for at, area in enumerate(areas):
        own = [e for e, place in zip(some, places, strict=True) if place == at]
        if not own:
            continue
        if sum(e.wire_mm * (e.gap_mm + FIT_MM) for e in own) > area:
            return False
        if sum(e.watts for e in own) > MEAN_FACTOR * room.max_w_per_m2 * area / 1e6:
            return False
    return True


def _wire(some: Iterable[Element], places: Iterable[int], at: int) -> float:
    return sum(e.wire_mm for e, place in zip(some, places, strict=True) if place == at)
