"""Narrow places of a floor, and how a wire goes through them from one ring to the next.

Millimetres, in the frame of the lattice. A loop goes through twice, side by side; twin core may
go through once and end behind.
"""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from jobs.laying.plan import FloatArray

LEAST_CORE_MM2 = 2e4
TOUCH_MM = 1.5
NEAR_MM = 400.0
EDGE_TRIES = 6
KEPT_NODES = 5
"""Nodes at the start of a way that are not turned round: the splice lies there."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A narrow place: from mouth to mouth, how wide it is, and its floor."""

    one: FloatArray
    other: FloatArray
    width_mm: float
    neck: Polygon


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
    parts = _polygons(floor.intersection(piece))
    return max(parts, key=lambda part: part.area) if parts else piece


def through_twice(
    rings: Sequence[FloatArray], places: Sequence[Passage], piece: Polygon, gap_mm: float
) -> FloatArray:
    """Return the longest ring, joined with those that two wires reach through a passage."""
    joined, rest = rings[0], list(rings[1:])
    again = True
    while again:
        again = False
        for place in places:
            half = min(place.width_mm - 2, max(gap_mm + 1, 0.8 * place.width_mm)) / 2
            if 2 * half < gap_mm:
                continue
            for at, ring in enumerate(rest):
                if (both := _bridged(joined, ring, place, half, piece)) is not None:
                    joined, again = both, True
                    del rest[at]
                    break
    return joined


def through_once(
    rings: Sequence[FloatArray], places: Sequence[Passage], piece: Polygon
) -> Iterator[FloatArray]:
    """Yield open ways over the two longest rings, joined by one wire through a passage."""
    for first, second in ((rings[0], rings[1]), (rings[1], rings[0])):
        for place in places:
            for near, far in ((place.one, place.other), (place.other, place.one)):
                yield from _one_way(first, second, near, far, piece)


def through_from(
    way: FloatArray, other: FloatArray, place: Passage, piece: Polygon
) -> FloatArray | None:
    """Return `way` led to a passage, through it and over the ring behind it, or None.

    The start of the way stays where it is; its end is moved to the passage by turning round
    stretches of it, as few as will do.
    """
    for near, far in ((place.one, place.other), (place.other, place.one)):
        entries = _edges_near(other, far, piece)
        if not entries or (led := _led_to(way, near, piece)) is None:
            continue
        entry = _opened(other, entries[0])
        onward = min((entry, entry[::-1]), key=lambda e: float(np.hypot(*(e[0] - far))))
        return np.vstack([led, near, far, onward])
    return None


def _led_to(way: FloatArray, mouth: FloatArray, piece: Polygon) -> FloatArray | None:
    """Return the nodes of a way in an order that ends near a mouth, its start kept.

    The end is joined to a neighbour in the lattice, and the way is cut just behind that: what
    followed is walked backwards and ends at the cut. Ends are searched breadth first.
    """
    floor = piece.buffer(TOUCH_MM)
    reach = np.hypot(*(way - mouth).T)
    goals = {
        int(at)
        for at in np.argsort(reach, kind="stable")[:EDGE_TRIES]
        if reach[at] < NEAR_MM and floor.covers(LineString([way[at], mouth]))
    }
    pitch = float(np.hypot(*(way[1] - way[0])))
    seen = {len(way) - 1}
    waiting = deque([np.arange(len(way))])
    while waiting and goals:
        order = waiting.popleft()
        nodes = way[order]
        if int(order[-1]) in goals and LineString([*nodes, mouth]).is_simple:
            return nodes
        apart = np.abs(nodes - nodes[-1]).sum(axis=1)
        for at in np.flatnonzero(apart[KEPT_NODES:-2] < 1.1 * pitch) + KEPT_NODES:
            end = int(order[at + 1])
            if end not in seen:
                seen.add(end)
                waiting.append(np.concatenate([order[: at + 1], order[at + 1 :][::-1]]))
    return None


def _one_way(
    first: FloatArray, second: FloatArray, near: FloatArray, far: FloatArray, piece: Polygon
) -> Iterator[FloatArray]:
    entries = _edges_near(second, far, piece)
    if not entries:
        return
    entry = _opened(second, entries[0])
    for edge in _edges_near(first, near, piece):
        for way in (_opened(first, edge), _opened(first, edge)[::-1]):
            onward = min((entry, entry[::-1]), key=lambda e: float(np.hypot(*(e[0] - far))))
            whole = np.vstack([way, near, far, onward])
            if LineString(whole).is_simple:
                yield whole


def _bridged(
    ring: FloatArray, other: FloatArray, place: Passage, half: float, piece: Polygon
) -> FloatArray | None:
    """Join two rings by two wires through a passage, `half` to either side of its middle."""
    for near, far in ((place.one, place.other), (place.other, place.one)):
        here, there = _edges_near(ring, near, piece), _edges_near(other, far, piece)
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


def _edges_near(ring: FloatArray, mouth: FloatArray, piece: Polygon) -> list[int]:
    """Edges of a ring from which a straight way to a mouth stays on the floor, nearest first."""
    middle = (ring + np.roll(ring, -1, axis=0)) / 2
    reach = np.hypot(*(middle - mouth).T)
    order = np.argsort(reach, kind="stable")[:EDGE_TRIES]
    floor = piece.buffer(TOUCH_MM)
    return [
        int(at)
        for at in order
        if reach[at] < NEAR_MM and floor.covers(LineString([middle[at], mouth]))
    ]


def _opened(ring: FloatArray, edge: int) -> FloatArray:
    """The ring as a way that ends where edge `edge` begins."""
    return np.roll(ring, -(edge + 1), axis=0)


def _closed_length(way: FloatArray) -> float:
    step = np.roll(way, -1, axis=0) - way
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if isinstance(part, Polygon) and part.area > 0]
