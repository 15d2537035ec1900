"""Narrow places of a floor, and how a wire goes through them from one ring to the next.

Millimetres, in the frame of the lattice. A loop goes through twice, side by side. A wire that
need not come back goes through once: twin core ends behind, single core has its second lead there.
"""

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from jobs.laying.plan import FloatArray

LEAST_CORE_MM2 = 2e4
TOUCH_MM = 1.5
EDGE_MM = 0.2
"""Corners of a floor's edge nearer than this to the line between their neighbours are dropped."""

NEAR_MM = 400.0
EDGE_TRIES = 6
MOST_RINGS = 6
MOST_STARTS = 3
MOST_ENDS = 4
SPLICE_NODES = 5
"""Nodes at the start of a way that are not turned round: the splice lies there."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A narrow place: from mouth to mouth, how wide it is, and its floor."""

    one: FloatArray
    other: FloatArray
    width_mm: float
    neck: Polygon


@dataclass(frozen=True, slots=True)
class Chain:
    """Rings (n, 2) to be gone over in turn; `gates` are the mouths between each and the next."""

    rings: tuple[FloatArray, ...]
    gates: tuple[tuple[FloatArray, FloatArray], ...] = ()

    @property
    def nodes(self) -> FloatArray:
        """All nodes, in no order that a wire could take."""
        return np.vstack(self.rings)


def passages(piece: Polygon, least_width_mm: float) -> list[Passage]:
    """Return the places narrower than `least_width_mm` between two wider parts of a piece."""
    half = least_width_mm / 2
    cores = [core for core in _polygons(piece.buffer(-half)) if core.area > LEAST_CORE_MM2]
    if len(cores) < 2:
        return []
    wide = [core.buffer(half + TOUCH_MM / 2).intersection(piece) for core in cores]
    necks = _polygons(piece.difference(shapely.union_all(wide)))
    found = []
    for neck in necks:
        touching = [part for part in wide if part.distance(neck) < TOUCH_MM]
        if len(touching) != 2:
            continue
        one, other = (
            np.array(neck.buffer(TOUCH_MM).intersection(part).centroid.coords[0])
            for part in touching
        )
        middle = shapely.Point((one + other) / 2)
        width = 2 * piece.boundary.distance(middle) if piece.covers(middle) else 0.0
        found.append(Passage(one, other, float(width), neck))
    return found


def drawable(piece: Polygon, places: Sequence[Passage], least_width_mm: float) -> Polygon:
    """Return the floor of a piece without slots too narrow for a wire to turn back in.

    Passages stay, however narrow: a wire that goes on need not turn. Corners come out round, as
    a wire cannot follow them anyway.
    """
    half = least_width_mm / 2
    wide = piece.buffer(-half).buffer(half, quad_segs=6)
    floor = shapely.union_all([wide, *(place.neck.buffer(TOUCH_MM) for place in places)])
    parts = _polygons(floor.intersection(piece).simplify(EDGE_MM))
    return max(parts, key=lambda part: part.area) if parts else piece


def passable(piece: Polygon) -> Polygon:
    """Return a piece of floor a hair wider, so that what runs along its edge is on it."""
    floor = piece.buffer(TOUCH_MM)
    shapely.prepare(floor)
    return floor


def through_twice(
    rings: Sequence[FloatArray], places: Sequence[Passage], floor: Polygon, gap_mm: float
) -> list[FloatArray]:
    """Return the rings, joined with the first those that two wires side by side can reach."""
    joined, rest = rings[0], list(rings[1:])
    again = True
    while again:
        again = False
        for place in places:
            half = min(place.width_mm - 2, max(gap_mm + 1, 0.8 * place.width_mm)) / 2
            if 2 * half < gap_mm:
                continue
            for at, ring in enumerate(rest):
                if (both := _bridged(joined, ring, place, half, floor)) is not None:
                    joined, again = both, True
                    del rest[at]
                    break
    return [joined, *rest]


def chains(rings: Sequence[FloatArray], places: Sequence[Passage], floor: Polygon) -> list[Chain]:
    """Return the ways to go from ring to ring through passages, those with most nodes first.

    No ring and no passage is gone through twice; each chain is there from either end.
    """
    some = rings[:MOST_RINGS]
    onward: list[list[tuple[int, int, FloatArray, FloatArray]]] = [[] for _ in some]
    for number, place in enumerate(places):
        for near, far in ((place.one, place.other), (place.other, place.one)):
            here = [at for at, ring in enumerate(some) if _edges_near(ring, near, floor)]
            there = [at for at, ring in enumerate(some) if _edges_near(ring, far, floor)]
            for one in here:
                onward[one] += [(number, other, near, far) for other in there if other != one]
    found: list[Chain] = []
    waiting: deque[tuple[tuple[int, ...], tuple[tuple[int, FloatArray, FloatArray], ...]]] = deque(
        ((at,), ()) for at in range(len(some))
    )
    while waiting:
        order, gates = waiting.popleft()
        found.append(
            Chain(
                tuple(some[at] for at in order),
                tuple((near, far) for _, near, far in gates),
            )
        )
        for number, other, near, far in onward[order[-1]]:
            if other not in order and all(number != used for used, *_ in gates):
                waiting.append(((*order, other), (*gates, (number, near, far))))
    return sorted(found, key=lambda chain: -sum(len(ring) for ring in chain.rings))


def through_once(
    chain: Chain,
    firsts: Iterable[FloatArray],
    lasts: Iterable[FloatArray] | None,
    floor: Polygon,
) -> Iterator[FloatArray]:
    """Yield open ways over the rings of a chain.

    `firsts` are open ways over its first ring, each with a good start; `lasts` those over its
    last ring, each beginning where the wire may end (None: it may end anywhere). Starts and ends
    stay; in between, stretches are turned round until the way leads through the passages.
    """
    (out, _), (_, entry) = chain.gates[0], chain.gates[-1]
    between: list[FloatArray] = []
    for ring, (_, into), (onward, _) in zip(
        chain.rings[1:-1], chain.gates, chain.gates[1:], strict=False
    ):
        leg = next(_led(beside(ring, into, floor), onward, floor, kept=0), None)
        if leg is None:
            return
        between += [into[None], leg, onward[None]]
    if lasts is None:
        ends = list(islice(beside(chain.rings[-1], entry, floor), 1))
    else:
        led = _led(lasts, entry, floor, kept=SPLICE_NODES)
        ends = [way[::-1] for way in islice(led, MOST_ENDS)]
    for first in islice(_led(firsts, out, floor, kept=SPLICE_NODES), MOST_STARTS if ends else 0):
        for last in ends:
            way = np.vstack([first, out[None], *between, entry[None], last])
            if LineString(way).is_simple:
                yield way


def beside(ring: FloatArray, mouth: FloatArray, floor: Polygon) -> Iterator[FloatArray]:
    """Yield open ways over a ring that begin at a mouth, the nearest first."""
    for edge in _edges_near(ring, mouth, floor):
        way = _opened(ring, edge)
        yield from sorted((way, way[::-1]), key=lambda w: float(np.hypot(*(w[0] - mouth))))


def _led(
    ways: Iterable[FloatArray], mouth: FloatArray, floor: Polygon, *, kept: int
) -> Iterator[FloatArray]:
    """The ways that can be led to a mouth, so led."""
    led = (_led_to(way, mouth, floor, kept) for way in ways)
    return (way for way in led if way is not None)


def _led_to(way: FloatArray, mouth: FloatArray, floor: Polygon, kept: int) -> FloatArray | None:
    """Return the nodes of a way in an order that ends near a mouth, its first `kept` unchanged.

    The end is joined to a neighbour in the lattice, and the way is cut just behind that: what
    followed is walked backwards and ends at the cut. Ends are searched breadth first.
    """
    goals = set(_seen_from(mouth, way, floor))
    pitch = float(np.median(np.abs(np.diff(way, axis=0)).sum(axis=1)))
    seen = {len(way) - 1}
    waiting = deque([np.arange(len(way))])
    while waiting and goals:
        order = waiting.popleft()
        nodes = way[order]
        if int(order[-1]) in goals and LineString([*nodes, mouth]).is_simple:
            return nodes
        apart = np.abs(nodes - nodes[-1]).sum(axis=1)
        for at in np.flatnonzero(apart[kept:-2] < 1.1 * pitch) + kept:
            end = int(order[at + 1])
            if end not in seen:
                seen.add(end)
                waiting.append(np.concatenate([order[: at + 1], order[at + 1 :][::-1]]))
    return None


def _bridged(
    ring: FloatArray, other: FloatArray, place: Passage, half: float, floor: Polygon
) -> FloatArray | None:
    """Join two rings by two wires through a passage, `half` to either side of its middle."""
    for near, far in ((place.one, place.other), (place.other, place.one)):
        here, there = _edges_near(ring, near, floor), _edges_near(other, far, floor)
        if not here or not there:
            continue
        run = far - near
        across = np.array([-run[1], run[0]]) / max(float(np.hypot(*run)), 1e-9) * half
        way, beyond = _opened(ring, here[0]), _opened(other, there[0])
        ways = [
            np.vstack([way, near + side, far + side, on, far - side, near - side])
            for side in (across, -across)
            for on in (beyond, beyond[::-1])
        ]
        if apart := [way for way in ways if LineString(way).is_simple]:
            return min(apart, key=_closed_length)
    return None


def _edges_near(ring: FloatArray, mouth: FloatArray, floor: Polygon) -> list[int]:
    """Edges of a ring from which a straight way to a mouth stays on the floor, nearest first."""
    return _seen_from(mouth, (ring + np.roll(ring, -1, axis=0)) / 2, floor)


def _seen_from(mouth: FloatArray, points: FloatArray, floor: Polygon) -> list[int]:
    """The few points nearest to a mouth, if a straight way to it stays on the floor."""
    reach = np.hypot(points[:, 0] - mouth[0], points[:, 1] - mouth[1])
    nearest = np.argsort(reach, kind="stable")[:EDGE_TRIES]
    nearest = nearest[reach[nearest] < NEAR_MM]
    if not len(nearest):
        return []
    ways = np.stack([points[nearest], np.broadcast_to(mouth, (len(nearest), 2))], axis=1)
    seen: list[int] = nearest[shapely.covers(floor, shapely.linestrings(ways))].tolist()
    return seen


def _opened(ring: FloatArray, edge: int) -> FloatArray:
    """The ring as a way that ends where edge `edge` begins."""
    return np.roll(ring, -(edge + 1), axis=0)


def _closed_length(way: FloatArray) -> float:
    step = np.roll(way, -1, axis=0) - way
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if isinstance(part, Polygon) and part.area > 0]
