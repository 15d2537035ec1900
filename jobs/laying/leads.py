"""Ways over the floor that keep off the wire: cold leads to the control and the sensor's tube.

Ways are searched on a grid of cells and then drawn tight. Millimetres.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon, unary_union
from shapely.geometry.base import BaseGeometry

from jobs.laying.check_wire import ALONG, along, chainages
from jobs.laying.compiled import compiled
from jobs.laying.field import depth_at, field
from jobs.laying.plan import LaidWire
from jobs.laying.problem import Element, Room
from jobs.outline import Point

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CELL_MM = 10.0
LARGE_CELL_MM = 13.0
LARGE_MM2 = 15e6
CLEAR_MM = 20.3
"""What leads and tube keep from wire: the 20 mm that are due, and rounding."""

CELL_CLEAR_MM = 21.5
FLOOR_INSET_MM = 4.0
APPROACH_MM = 140.0
"""A lead may come near wire in its last 150 mm."""

SENSOR_DEPTH_MM = 200.0
"""A sensor lies at least this far inside the heated floor if it can (common practice)."""

SHALLOW_COST = 15.0
UNEVEN_MM = 3.0
SEEN_MM = 150.0
MOST_PLACES = 3000
FAR = 1e18


@dataclass(frozen=True, slots=True)
class Ways:
    """Distances from the control over the cells of a floor; `before` leads back to it."""

    free: BoolArray
    distance: FloatArray
    before: NDArray[np.int64]
    left: float
    low: float
    cell: float

    def centres(self, index: NDArray[np.int64]) -> FloatArray:
        """The centres of cells given by flat indices, (n, 2)."""
        ny = self.free.shape[1]
        x = self.left + (index // ny + 0.5) * self.cell
        y = self.low + (index % ny + 0.5) * self.cell
        return np.stack([x, y], axis=1)

    def near(self, point: FloatArray, within_mm: float) -> NDArray[np.int64]:
        """Flat indices of reachable cells within a distance of a point."""
        nx, ny = self.free.shape
        cx, cy = (point[0] - self.left) / self.cell - 0.5, (point[1] - self.low) / self.cell - 0.5
        span = int(within_mm / self.cell) + 1
        x = np.arange(max(0, int(cx) - span), min(nx, int(cx) + span + 2))
        y = np.arange(max(0, int(cy) - span), min(ny, int(cy) + span + 2))
        gx, gy = np.meshgrid(x, y, indexing="ij")
        near = (gx - cx) ** 2 + (gy - cy) ** 2 <= (within_mm / self.cell) ** 2
        index: NDArray[np.int64] = (gx * ny + gy)[near]
        return index[self.distance.ravel()[index] < FAR]


def ways(
    room: Room, paths: Sequence[FloatArray], *, off: BaseGeometry | None, swings: bool
) -> Ways:
    """Search the floor from the control, off the paths and off `off`; `swings`: under doors too."""
    floor: BaseGeometry = walkable(room, swings=swings).buffer(-FLOOR_INSET_MM)
    if off is not None:
        floor = floor.difference(off)
    x0, y0, x1, y1 = room.floor.bounds
    cell = CELL_MM if room.floor.area < LARGE_MM2 else LARGE_CELL_MM
    nx, ny = int((x1 - x0) / cell) + 1, int((y1 - y0) / cell) + 1
    x, y = x0 + (np.arange(nx) + 0.5) * cell, y0 + (np.arange(ny) + 0.5) * cell
    gx, gy = np.meshgrid(x, y, indexing="ij")
    shapely.prepare(floor)
    free: BoolArray = np.asarray(shapely.contains_xy(floor, gx, gy))
    for path in paths:
        _block(free, _fine(path), x0, y0, cell, CELL_CLEAR_MM)
    distance, before = _search(free, x0, y0, cell, room.control[0], room.control[1])
    return Ways(free=free, distance=distance, before=before, left=x0, low=y0, cell=cell)


def _fine(path: FloatArray) -> FloatArray:
    """Points along a path, 4 mm apart."""
    at = chainages(path)
    return along(path, at, np.arange(0.0, at[-1] + 4.0, 4.0))


def walkable(room: Room, *, swings: bool) -> BaseGeometry:
    """The floor on which a lead (`swings`) or a tube may lie."""
    blocked = [
        Polygon(keep_out.outline)
        for keep_out in room.keep_outs
        if not (swings and keep_out.kind == "door_swing")
    ]
    return room.floor.difference(unary_union(blocked)) if blocked else room.floor


def lead_to(
    room: Room, found: Ways, splice: FloatArray, wires: MultiLineString
) -> tuple[Point, ...] | None:
    """Return a lead from the control to `splice`, or None if there is none that is short enough."""
    flat = found.distance.ravel()
    cells = found.near(splice, APPROACH_MM - 5)
    if not len(cells):
        return None
    centres = found.centres(cells)
    reach = np.hypot(*(centres - splice).T)
    floor = walkable(room, swings=True).buffer(0.5)
    shapely.prepare(floor)
    for at in np.argsort(flat[cells] + 1.2 * reach)[:60]:
        gap = centres[at] - splice
        run = float(reach[at])
        if run < 1:
            continue
        last = LineString([centres[at], splice + gap * (0.6 / run)])
        if last.intersects(wires) or not floor.covers(last):
            continue
        tight = drawn_tight([room.control, *_back(found, int(cells[at]))], floor, wires)
        lead = (*tight, (float(splice[0]), float(splice[1])))
        if LineString(lead).length <= room.cold_lead_mm:
            return _without_repeats(lead)
    return None


def sensor_place(room: Room, wires: Sequence[LaidWire]) -> tuple[Point, tuple[Point, ...]] | None:
    """Return the sensor's place midway between two passes, and its tube from the control."""
    found = ways(room, [wire.path for wire in wires], off=None, swings=False)
    lines = MultiLineString([LineString(wire.path) for wire in wires])
    floor = walkable(room, swings=False).buffer(0.5)
    shapely.prepare(floor)
    shapely.prepare(lines)
    for middle in _middles(room, wires, found):
        cells = found.near(middle, found.cell * 1.6)
        reach = np.hypot(*(found.centres(cells) - middle).T)
        for at in np.argsort(reach, kind="stable")[:6]:
            way = [
                room.control,
                *_back(found, int(cells[at])),
                (float(middle[0]), float(middle[1])),
            ]
            if _clear(way[-2], way[-1], floor, lines):
                tube = _without_repeats(drawn_tight(way, floor, lines))
                return tube[-1], tube
    return None


def _middles(room: Room, wires: Sequence[LaidWire], found: Ways) -> Iterator[FloatArray]:
    """Places midway between two passes that the tube can reach, the best first.

    Best is deep enough in the heated floor, then near to the control along the tube.
    """
    away = np.ones_like(found.free)
    for wire in wires:
        reach = wire.element.most_spacing_mm / 2 + 15
        _block(away, _fine(wire.path), found.left, found.low, found.cell, reach)
    cells = np.flatnonzero((found.distance.ravel() < FAR) & ~away.ravel())
    places = found.centres(cells)
    depth = depth_at(field(room.area), places)
    inside = depth > 0
    cells, places, depth = cells[inside], places[inside], depth[inside]
    cost = found.distance.ravel()[cells] + SHALLOW_COST * np.maximum(0, SENSOR_DEPTH_MM - depth)
    passes = _Passes.of(wires)
    for at in np.argsort(cost, kind="stable")[:MOST_PLACES]:
        if (middle := passes.midway(places[at])) is not None:
            yield middle


@dataclass(frozen=True, slots=True)
class _Passes:
    """Every segment of wire with its owner and the chainage of its start, in a search tree."""

    segments: NDArray[np.object_]
    owner: NDArray[np.int64]
    start: FloatArray
    tree: shapely.STRtree
    elements: tuple[Element, ...]

    @classmethod
    def of(cls, wires: Sequence[LaidWire]) -> "_Passes":
        lines = [np.stack([wire.path[:-1], wire.path[1:]], axis=1) for wire in wires]
        segments = np.asarray(shapely.linestrings(np.concatenate(lines)))
        return cls(
            segments=segments,
            owner=np.concatenate([np.full(len(line), at) for at, line in enumerate(lines)]),
            start=np.concatenate([chainages(wire.path)[:-1] for wire in wires]),
            tree=shapely.STRtree(segments),
            elements=tuple(wire.element for wire in wires),
        )

    def two_nearest(self, place: FloatArray) -> tuple[Element, FloatArray, FloatArray] | None:
        """The element that lies nearest, and the nearest points of the two nearest passes."""
        here = shapely.Point(place)
        near = self.tree.query(here, predicate="dwithin", distance=SEEN_MM)
        if len(near) < 2:
            return None
        foot = shapely.line_locate_point(self.segments[near], here)
        feet = shapely.get_coordinates(shapely.line_interpolate_point(self.segments[near], foot))
        apart = np.hypot(*(feet - place).T)
        first = int(np.argmin(apart))
        at, who = self.start[near] + foot, self.owner[near]
        element = self.elements[who[first]]
        other = (who != who[first]) | (np.abs(at - at[first]) >= ALONG * element.gap_mm)
        if not other.any():
            return None
        second = np.flatnonzero(other)[int(np.argmin(apart[other]))]
        return element, feet[first], feet[second]

    def midway(self, place: FloatArray) -> FloatArray | None:
        """Move a place to midway between its two passes; None if that is no place for a sensor."""
        if (around := self.two_nearest(place)) is None:
            return None
        middle = (around[1] + around[2]) / 2
        if (around := self.two_nearest(middle)) is None:
            return None
        element, first, second = around
        one, two = first - middle, second - middle
        near, far = float(np.hypot(*one)), float(np.hypot(*two))
        if far - near > UNEVEN_MM or float(one @ two) > -0.8 * near * far:
            return None
        most = element.most_spacing_mm / 2 + 14
        least = max(element.gap_mm / 2 - 4, CLEAR_MM + 1)
        return middle if least <= near and far <= most else None


def drawn_tight(way: Sequence[Point], floor: BaseGeometry, wires: BaseGeometry) -> list[Point]:
    """Drop the corners of a way that are not needed to keep on the floor and off the wires."""
    shapely.prepare(wires)
    tight = [way[0]]
    at = 0
    while at < len(way) - 1:
        step = len(way) - 1 - at
        while step > 1 and not _clear(way[at], way[at + step], floor, wires):
            step = step * 3 // 4 if step > 4 else step - 1
        at += step
        tight.append(way[at])
    return tight


def _clear(one: Point, other: Point, floor: BaseGeometry, wires: BaseGeometry) -> bool:
    line = LineString([one, other])
    return bool(floor.covers(line)) and not shapely.dwithin(wires, line, CLEAR_MM)


def _back(found: Ways, cell: int) -> list[Point]:
    """The way from the control to a cell, cell by cell."""
    before = found.before.ravel()
    way = []
    while cell >= 0:
        way.append(cell)
        cell = int(before[cell])
    return [(float(x), float(y)) for x, y in found.centres(np.array(way[::-1]))]


def _without_repeats(way: Sequence[Point]) -> tuple[Point, ...]:
    """Round to 0.01 mm and drop points that are then the same."""
    out: list[Point] = []
    for x, y in way:
        point = (round(float(x), 2), round(float(y), 2))
        if not out or point != out[-1]:
            out.append(point)
    return tuple(out)


@compiled
def _block(
    free: BoolArray, points: FloatArray, left: float, low: float, cell: float, clear: float
) -> None:
    """Take from `free` the cells whose centre is within `clear` of a point."""
    nx, ny = free.shape
    for i in range(len(points)):
        x, y = points[i, 0] - left, points[i, 1] - low
        for a in range(max(0, int((x - clear) / cell)), min(nx, int((x + clear) / cell) + 1)):
            dx = (a + 0.5) * cell - x
            for b in range(max(0, int((y - clear) / cell)), min(ny, int((y + clear) / cell) + 1)):
                dy = (b + 0.5) * cell - y
                if dx * dx + dy * dy < clear * clear:
                    free[a, b] = False


@compiled
def _search(
    free: BoolArray, left: float, low: float, cell: float, x: float, y: float
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Distances in mm from (x, y), which need not be in a free cell itself, by eight neighbours."""
    nx, ny = free.shape
    distance = np.full((nx, ny), 1e18)
    before = np.full((nx, ny), -1, dtype=np.int64)
    heap = [(0.0, -1, -1)]
    heappop(heap)
    cx, cy = int((x - left) / cell), int((y - low) / cell)
    for a in range(max(0, cx - 4), min(nx, cx + 5)):
        for b in range(max(0, cy - 4), min(ny, cy + 5)):
            if free[a, b]:
                d = np.hypot(left + (a + 0.5) * cell - x, low + (b + 0.5) * cell - y)
                if d <= 30.0:
                    distance[a, b] = d
                    heappush(heap, (d, a, b))
    while heap:
        d, a, b = heappop(heap)
        if d > distance[a, b]:
            continue
        for da in range(-1, 2):
            for db in range(-1, 2):
                p, q = a + da, b + db
                if p < 0 or q < 0 or p >= nx or q >= ny or not free[p, q]:
                    continue
                new = d + cell * np.sqrt(float(da * da + db * db))
                if new < distance[p, q] - 1e-9:
                    distance[p, q] = new
                    before[p, q] = a * ny + b
                    heappush(heap, (new, p, q))
    return distance, before
