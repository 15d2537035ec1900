"""Lay a room: choose, draw out, connect, judge; the best plan that the rules allow.

Nothing leaves here that `violations` rejects.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Point as Place
from shapely import Polygon

from config.errors import DomainError
from jobs.laying.cable import Effort, lay_cable
from jobs.laying.check import TOLERANCE_MM, violations
from jobs.laying.choose import Choice, choices, pieces_of
from jobs.laying.connect import connect
from jobs.laying.courses import directions
from jobs.laying.divide import divided
from jobs.laying.judge import Judge
from jobs.laying.leads import Ways, ways
from jobs.laying.mat import lay_mats
from jobs.laying.measures import Measures, best_area, measure
from jobs.laying.mixed import lay_pair, pairs
from jobs.laying.plan import LaidWire, LayingPlan
from jobs.laying.pose import Pose, carried_back, posed
from jobs.laying.problem import Element, Room
from jobs.outline import off_wall

GOOD = 0.98
"""Covered over best, of what its choice promised, at which the search for another plan ends."""

FAIR = 0.97
"""The same for a plan that the next one did not beat."""

EFFORT_MM = 350_000.0
"""Wire drawn out in the search for a better plan: about a second and a half of it."""

MOST_CHOICES = 3
CHOICES_UNTIL_LAID = 9
TRIES_PER_CHOICE = 2

TRIES_UNTIL_LAID = 4
"""As long as no plan keeps the rules, more choices are tried, and more of each."""

RESERVE_MM = 1_500_000.0
"""More of it as long as no plan keeps the rules."""

PLAN_MM = 25_000.0
"""What connecting and judging a plan counts as."""

EFFORT_FOR_OTHERS_MM = 3_000_000.0
"""`EFFORT_MM` where plans of other elements are wanted too, on the largest floors."""

LEAD_OFF_WIRE_MM = 20.0
REACH_STEP_MM = 60
BESIDE_MM = 90.0
NEARLY_TOO_HOT = 0.98
"""Part of the allowed power at an even spread, above which no laying keeps within the limit."""

WHOLE = 0.96
"""A choice whose wire is this share of a piece or more is spread over all of it."""


class NothingToLay(DomainError):
    """No element of the catalogue can be laid in this room; the detail says what is in the way."""

    slug = "nothing-to-lay"


@dataclass(frozen=True, slots=True)
class _Trial:
    """Ways to lay one choice of elements, and the share of best that it may warm.

    `wire_mm` is what each way has to draw out. `spare`: only worth it as long as nothing is laid.
    """

    promise: float
    ways: Iterator[tuple[LaidWire, ...]]
    wire_mm: float
    spare: bool = False


@dataclass(frozen=True, slots=True)
class Laid:
    """A plan without violations, its measures, and the share of best that its choice promised."""

    plan: LayingPlan
    measures: Measures
    promise: float


def lay(room: Room) -> LayingPlan:
    """Return the plan that warms most of what could be warmed.

    Raises NothingToLay if no element can be laid by the rules.
    """
    best: Laid | None = None
    for laid in _plans(room, only_better=True):
        if best is None or laid.measures.covered_m2 > best.measures.covered_m2:
            best = laid
        if best.measures.covered_of_best >= (GOOD if laid is best else FAIR) * best.promise:
            break
    if best is None:
        raise NothingToLay(_in_the_way(room))
    return best.plan


def alternatives(
    room: Room,
    *,
    most: int = 3,
    better: Callable[[LayingPlan], None] | None = None,
    stopped: Callable[[], bool] = lambda: False,
) -> list[LayingPlan]:
    """Return up to `most` plans of different elements, the one that warms most first.

    The others warm less, with fewer turns or with less wire. `better` is told each plan that
    warms more than all before it; `stopped` is asked, once there is a plan, whether that will
    do. Raises NothingToLay.
    """
    warmest = 0.0
    found: dict[tuple[str, ...], Laid] = {}
    for laid in _plans(room, only_better=False, stopped=stopped):
        key = tuple(sorted(each.element for each in laid.plan.elements))
        if key not in found or laid.measures.covered_m2 > found[key].measures.covered_m2:
            found[key] = laid
        if better is not None and laid.measures.covered_m2 > warmest:
            warmest = laid.measures.covered_m2
            better(laid.plan)
    if not found:
        raise NothingToLay(_in_the_way(room))
    ranked = sorted(found.values(), key=lambda laid: -laid.measures.covered_m2)
    kept = ranked[:1]
    for laid in ranked[1:]:
        fewer = all(laid.measures.turns_per_m2 < k.measures.turns_per_m2 - 0.05 for k in kept)
        less = all(_wire(room, laid.plan) < _wire(room, k.plan) - 1 for k in kept)
        if fewer or less:
            kept.append(laid)
    return [laid.plan for laid in kept[:most]]


def _wire(room: Room, plan: LayingPlan) -> float:
    return sum(entry.wire_mm for laid in plan.elements if (entry := room.element(laid.element)))


def _plans(
    room: Room, *, only_better: bool, stopped: Callable[[], bool] = lambda: False
) -> Iterator[Laid]:
    """Yield plans without violations, the most promising first, within an effort.

    The search is made in the room's normal pose, and each plan judged in the room itself.
    `only_better`: leave out what promises no more than a plan that has been yielded.
    """
    if room.area.is_empty:
        return
    best = best_area(room.elements, room.area.area, room.may_use, room.max_w_per_m2)
    if best == 0:
        return
    turned, pose = posed(room)
    effort = Effort(EFFORT_MM if only_better else EFFORT_FOR_OTHERS_MM, RESERVE_MM)
    found = 0.0
    for trial in _trials(turned, pose, best, effort):
        if found and (trial.spare or effort.left_mm < trial.wire_mm):
            continue
        if only_better and trial.promise <= found:
            continue
        for number, wires in enumerate(trial.ways, 1):
            if found and stopped():
                return
            effort.spend(PLAN_MM)
            plan = connect(turned, wires)
            if plan is not None and not violations(room, plan := carried_back(plan, pose, room)):
                laid = Laid(plan, measure(room, plan), min(1.0, trial.promise))
                found = max(found, laid.measures.covered_of_best)
                effort.reserve_mm = 0.0
                yield laid
            if number >= (TRIES_PER_CHOICE if found else TRIES_UNTIL_LAID):
                break
        if not found and not effort.is_left:
            return


def _trials(room: Room, pose: Pose, best_mm2: float, effort: Effort) -> Iterator[_Trial]:
    """Yield what can be tried in a posed room, the most promising of each kind first.

    Cables go before mats, and both before a mat with a cable for what it leaves.
    """
    kinds = {entry.kind for entry in room.elements}
    spare: list[_Trial] = []
    judge = Judge(room, pose, room.area)
    if "cable" in kinds:
        reach = ways(room, [], off=room.area.buffer(LEAD_OFF_WIRE_MM), swings=True)
        whole, wide = pieces_of(room, wide=False), pieces_of(room, wide=True)
        for pieces in [whole] if len(wide) == len(whole) else [whole, wide]:
            some = list(_over_pieces(room, pieces, reach, judge, best_mm2, effort))
            spare += some[MOST_CHOICES:]
            yield from some[:MOST_CHOICES]
    if "mat" in kinds:
        for wires, share in lay_mats(room, pose):
            yield _Trial(share * room.area.area / best_mm2, iter([wires]), wire_mm=0.0)
    if {"cable", "mat"} <= kinds:
        for pair in pairs(room):
            yield _Trial(
                promise=pair.share * room.area.area / best_mm2,
                ways=lay_pair(room, pair, reach, judge, effort),
                wire_mm=pair.cable.wire_mm,
            )
    yield from (replace(trial, spare=True) for trial in spare)


def _over_pieces(
    room: Room,
    pieces: list[Polygon],
    reach: Ways,
    judge: Judge,
    best_mm2: float,
    effort: Effort,
) -> Iterator[_Trial]:
    """Yield the choices of cables for these pieces of floor, the most promising first."""
    pieces = [piece for piece in pieces if _reachable(piece, reach, room.cold_lead_mm)]
    most = [_most_cables(room, piece, reach) for piece in pieces]
    for choice in choices(room, pieces, most)[:CHOICES_UNTIL_LAID]:
        yield _Trial(
            promise=choice.predicted * room.area.area / best_mm2,
            ways=_lay_choice(room, choice, pieces, reach, judge, effort),
            wire_mm=sum(element.wire_mm for element in choice.elements),
        )


def _most_cables(room: Room, piece: Polygon, reach: Ways) -> int:
    """How many cables can share a piece so that a lead comes to each part."""
    gap = max(element.gap_mm for element in room.elements)
    for number in range(room.may_use, 1, -1):
        for parts in divided(piece, [1 / number] * number, gap, directions(piece)[0]):
            if all(_reachable(part, reach, room.cold_lead_mm) for part in parts):
                return number
    return 1


def _reachable(part: Polygon, reach: Ways, lead_mm: float) -> bool:
    """Whether a lead of this length comes to the edge of a part of the floor."""
    edge = part.exterior
    flat = reach.distance.ravel()
    for at in range(0, int(edge.length), REACH_STEP_MM):
        point = edge.interpolate(at)
        cells = reach.near(np.array([point.x, point.y]), BESIDE_MM)
        if len(cells) and flat[cells].min() + BESIDE_MM < lead_mm:
            return True
    return False


def _lay_choice(
    room: Room,
    choice: Choice,
    pieces: list[Polygon],
    reach: Ways,
    judge: Judge,
    effort: Effort,
) -> Iterator[tuple[LaidWire, ...]]:
    """Yield wires for one choice; each part of floor moves on to its next way at each round."""
    parts: list[tuple[Polygon, Element]] = []
    for piece, elements in zip(pieces, choice.per_piece, strict=False):
        if elements:
            parts += _parts(room, piece, elements, choice.spacing_mm, reach)
    if len(parts) < len(choice.elements):
        return
    laid = [
        lay_cable(
            part,
            element,
            choice.spacing_mm,
            reach=reach,
            lead_mm=room.cold_lead_mm,
            judge=judge,
            effort=effort,
        )
        for part, element in parts
    ]
    while True:
        wires = [next(each, None) for each in laid]
        if any(wire is None for wire in wires):
            return
        yield tuple(wire for wire in wires if wire is not None)


def _parts(
    room: Room, piece: Polygon, elements: Sequence[Element], spacing_mm: float, reach: Ways
) -> list[tuple[Polygon, Element]]:
    """Give each cable its part of a piece of floor, so that a lead comes to each; [] if none."""
    wanted = [element.wire_mm * spacing_mm / piece.area for element in elements]
    total = sum(wanted)
    shares = [share / total for share in wanted] if total > WHOLE else wanted
    gap = max(element.gap_mm for element in elements)
    for parts in divided(piece, shares, gap, directions(piece)[0]):
        if all(_reachable(part, reach, room.cold_lead_mm) for part in parts):
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
    walls = room.floor.exterior
    if walls.distance(Place(room.control)) > TOLERANCE_MM:
        return off_wall(room.outline, room.control, what="The control")
    density = min(e.watts * 1e6 / (e.wire_mm * _widest(e)) for e in room.elements)
    if density > NEARLY_TOO_HOT * room.max_w_per_m2:
        return (
            f"Wherever they lie, the elements give about {density:.0f} W/m², and this floor may "
            f"get {room.max_w_per_m2:.0f} W/m²: where turns lie close, that is too much."
        )
    return (
        f"No element can be laid: no start is within the {room.cold_lead_mm / 1000:.1f} m of lead "
        "that are left, or the floor is too narrow for its wire."
    )


def _widest(element: Element) -> float:
    """The widest spacing at which most of an element can lie: the pitch of a mat's mesh."""
    return element.spacing_mm if element.kind == "mat" else element.most_spacing_mm
