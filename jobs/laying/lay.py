"""Lay a room: choose, draw out, connect, judge; the best plan that the rules allow.

Nothing leaves here that `violations` rejects.
"""

from collections.abc import Iterator
from itertools import islice

from shapely import Polygon

from config.errors import DomainError
from jobs.laying.cable import directions, lay_cable
from jobs.laying.check import violations
from jobs.laying.choose import Choice, choices, pieces_of
from jobs.laying.connect import connect
from jobs.laying.divide import divided
from jobs.laying.leads import Ways, ways
from jobs.laying.mat import lay_mats
from jobs.laying.measures import Measures, best_area, measure
from jobs.laying.plan import LaidWire, LayingPlan
from jobs.laying.problem import Element, Room

GOOD = 0.985
"""Covered over best at which the search for another plan ends."""

MOST_CHOICES = 4
TRIES_PER_CHOICE = 2
LEAD_OFF_WIRE_MM = 20.0


class NothingToLay(DomainError):
    """No element of the catalogue can be laid in this room; the detail says what is in the way."""

    slug = "nothing-to-lay"


def lay(room: Room) -> LayingPlan:
    """Return the plan that warms most of what could be warmed.

    Raises NothingToLay if no element can be laid by the rules.
    """
    best: tuple[float, LayingPlan] | None = None
    for plan, measures in _plans(room):
        rated = measures.covered_of_best
        if best is None or rated > best[0] + 1e-6:
            best = (rated, plan)
        if rated >= GOOD:
            break
    if best is None:
        raise NothingToLay(_in_the_way(room))
    return best[1]


def alternatives(room: Room, *, most: int = 3) -> list[LayingPlan]:
    """Return up to `most` plans of different elements, the one that warms most first.

    The others warm less, with fewer turns or with less wire. Raises NothingToLay.
    """
    found: dict[tuple[str, ...], tuple[LayingPlan, Measures]] = {}
    for plan, measures in _plans(room):
        key = tuple(sorted(laid.element for laid in plan.elements))
        if key not in found or measures.covered_m2 > found[key][1].covered_m2:
            found[key] = (plan, measures)
    if not found:
        raise NothingToLay(_in_the_way(room))
    ranked = sorted(found.values(), key=lambda entry: -entry[1].covered_m2)
    kept = [ranked[0]]
    for plan, measures in ranked[1:]:
        fewer = all(measures.turns_per_m2 < other.turns_per_m2 - 0.05 for _, other in kept)
        less = all(_wire(room, plan) < _wire(room, other) - 1 for other, _ in kept)
        if fewer or less:
            kept.append((plan, measures))
    return [plan for plan, _ in kept[:most]]


def _wire(room: Room, plan: LayingPlan) -> float:
    return sum(entry.wire_mm for laid in plan.elements if (entry := room.element(laid.element)))


def _plans(room: Room) -> Iterator[tuple[LayingPlan, Measures]]:
    """Yield plans without violations, with their measures."""
    if room.area.is_empty:
        return
    kinds = {entry.kind for entry in room.elements}
    if "cable" in kinds:
        yield from _judged(room, _cables(room))
    if "mat" in kinds:
        yield from _judged(room, iter(lay_mats(room)))


def _judged(
    room: Room, laid: Iterator[tuple[LaidWire, ...]]
) -> Iterator[tuple[LayingPlan, Measures]]:
    for wires in laid:
        plan = connect(room, wires)
        if plan is not None and not violations(room, plan):
            yield plan, measure(room, plan)


def _cables(room: Room) -> Iterator[tuple[LaidWire, ...]]:
    """Yield wires for the most promising choices of cables."""
    reach = ways(room, [], off=room.area.buffer(LEAD_OFF_WIRE_MM), swings=True)
    pieces = pieces_of(room)
    for choice in choices(room, pieces)[:MOST_CHOICES]:
        yield from islice(_lay_choice(room, choice, pieces, reach), TRIES_PER_CHOICE)


def _lay_choice(
    room: Room, choice: Choice, pieces: list[Polygon], reach: Ways
) -> Iterator[tuple[LaidWire, ...]]:
    """Yield wires for one choice; each part of floor moves on to its next way at each round."""
    parts: list[tuple[Polygon, Element]] = []
    for piece, elements in zip(pieces, choice.per_piece, strict=False):
        if elements:
            parts += _parts(piece, elements, choice.spacing_mm)
    laid = [
        lay_cable(
            part,
            element,
            choice.spacing_mm,
            reach=reach,
            lead_mm=room.cold_lead_mm,
            most_w_per_m2=room.max_w_per_m2,
        )
        for part, element in parts
    ]
    while True:
        wires = [next(each, None) for each in laid]
        if any(wire is None for wire in wires):
            return
        yield tuple(wire for wire in wires if wire is not None)


def _parts(
    piece: Polygon, elements: tuple[Element, ...], spacing_mm: float
) -> list[tuple[Polygon, Element]]:
    """Give each of several cables its part of a piece of floor."""
    wanted = [element.wire_mm * spacing_mm / piece.area for element in elements]
    total = sum(wanted)
    shares = [share / max(total, 1.0) for share in wanted] if total > 0.97 else wanted
    if total > 0.97:
        shares = [share / total for share in wanted]
    gap = max(element.gap_mm for element in elements)
    for parts in divided(piece, shares, gap, directions(piece)[0]):
        return list(zip(parts, elements, strict=True))
    return []


def _in_the_way(room: Room) -> str:
    """Say in one sentence why nothing can be laid."""
    area = room.area.area
    if area <= 0:
        return "The margins leave no heatable floor in this room."
    if not best_area(room.elements, area, room.may_use, room.max_w_per_m2):
        least = min(e.wire_mm * e.spacing_mm for e in room.elements) / 1e6
        return (
            f"The heatable floor is {area / 1e6:.2f} m², less than the smallest element of the "
            f"catalogue needs (about {least:.2f} m²)."
        )
    return (
        f"No element can be laid: no start is within the {room.cold_lead_mm / 1000:.1f} m of lead "
        "that are left, or the floor is too narrow for its wire."
    )
