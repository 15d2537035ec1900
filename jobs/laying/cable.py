"""Lay one cable in one piece of floor: a course over a lattice, drawn out to use up its wire.

Many lattices are tried (direction, pitch, place of the rows), as they cost next to nothing; the
few that fit the floor and the wire best are drawn out. Millimetres.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from math import ceil, cos, pi, sin

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.affinity import rotate

from jobs.laying.check_wire import nearest_to_itself, overbent
from jobs.laying.field import BoolArray, Field, covered_share, depth_at, field
from jobs.laying.lattice import absorbed, corners_of, course
from jobs.laying.leads import FAR, Ways
from jobs.laying.measures import COVER_TOLERANCE_MM
from jobs.laying.plan import FloatArray, LaidWire, rounded
from jobs.laying.problem import Element
from jobs.laying.relax import STRAIGHT_MM, relaxed, resampled

PITCHES = (0.97, 0.985, 1.0, 1.015, 1.03, 1.045)
LEAST_NODES = 8
FILL_AIM = 0.985
FILL_COST = 1.0
LEFT_COST = 1.5
CORNER_COST = 0.12
CROWD_COST = 0.5
CROWDED = 1.2
SQUARE_STEP_MM = 200.0
SQUARE_LEAST_MM2 = 0.04e6
STEP_MM = 12.0
GAP_SPARE_MM = 1.0
BEND_SPARE = 1.04
APPROACH_MM = 140.0
LEAD_SPARE_MM = 60.0
EDGE_PITCHES = 0.95
"""A ring is cut no deeper in the floor: farther in, a pass would lie in the lead's way."""

LEAST_COURSE = 0.92
"""A course shorter than this share of the wire cannot be drawn out to its length."""

LENGTH_AIM = 0.0015
LENGTH_MOST = 0.004
MOST_FAILED = 2
SIMPLIFY_MM = 0.05


@dataclass(frozen=True, slots=True)
class Phase:
    """Rounds of drawing out at one step between points; the last `settle` only obey the rules."""

    step_mm: float
    rounds: int
    settle: int


COARSE = Phase(22.0, 70, 5)
FINE = Phase(STEP_MM, 30, 15)
SETTLE = Phase(STEP_MM, 25, 25)


@dataclass(frozen=True, slots=True)
class Start:
    """Where a ring is cut: between node `at` and the next; `lead_mm` is the lead's length there."""

    at: int
    lead_mm: float


@dataclass(frozen=True, slots=True)
class Course:
    """A ring over a lattice in its own frame: `nodes` (n, 2), turned by `angle` in the room."""

    score: float
    angle: float
    along_y: bool
    nodes: FloatArray


def lay_cable(
    piece: Polygon,
    element: Element,
    spacing_mm: float,
    *,
    reach: Ways,
    lead_mm: float,
    most_w_per_m2: float,
) -> Iterator[LaidWire]:
    """Yield ways to lay `element` over `piece`, the most promising first.

    `spacing_mm` is the even spread that it is judged by; `reach` are the ways from the control
    that keep off the heatable area, and `lead_mm` is how long the lead may be.
    """
    failed = 0
    fields = {angle: field(_turned(piece, -angle)) for angle in directions(piece)}
    for found in _by_turns(courses(fields, element, spacing_mm, most_w_per_m2)):
        start = cut_at(found, fields[found.angle], element, reach, lead_mm)
        if start is None:
            continue
        nodes = np.roll(found.nodes, -(start.at + 1), axis=0)
        floor = fields[found.angle]
        if (path := drawn_out(nodes, floor, element, spacing_mm)) is None:
            failed += 1
            if failed == MOST_FAILED:
                return
            continue
        laid = rounded(_spin(path, found.angle))
        yield LaidWire(element, laid, (), ((0.0, element.wire_mm),))


def _by_turns(found: Sequence[Course]) -> Iterator[Course]:
    """The best course first, then the best of the other direction, and so on by turns.

    Courses of one direction are much alike: what one of them cannot do, the next rarely can.
    """
    if not found:
        return
    first = [each for each in found if each.along_y == found[0].along_y]
    second = [each for each in found if each.along_y != found[0].along_y]
    for pair in zip_longest(first, second):
        yield from (each for each in pair if each is not None)


def directions(piece: Polygon) -> list[float]:
    """Return the angles in radians, 0 to below a quarter turn, along which most edge runs."""
    coords = np.asarray(piece.exterior.coords)
    step = np.diff(coords, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    angle = np.arctan2(step[:, 1], step[:, 0]) % (pi / 2)
    bins = np.round(angle / (pi / 180)).astype(int) % 90
    total = np.bincount(bins, weights=length, minlength=90)
    best = int(np.argmax(total))
    near = (bins == best) & (length > 0)
    longest = int(np.argmax(np.where(near, length, 0)))
    return [float(angle[longest])]


def courses(
    fields: dict[float, Field], element: Element, spacing_mm: float, most_w_per_m2: float
) -> list[Course]:
    """Return rings over many lattices, the one that should fit best first."""
    found: dict[tuple[int, float], Course] = {}
    for angle, floor in fields.items():
        bins = _floor_bins(floor)
        for share in PITCHES:
            pitch = max(share * spacing_mm, element.gap_mm + GAP_SPARE_MM)
            for lattice in _lattices(floor, pitch):
                for each in _courses_on(lattice, angle, element):
                    crowd = _crowding(each.nodes, pitch, floor, bins, element, most_w_per_m2)
                    rated = replace(each, score=each.score + CROWD_COST * crowd)
                    found.setdefault((len(rated.nodes), round(rated.score, 7)), rated)
    return sorted(found.values(), key=lambda each: each.score)


@dataclass(frozen=True, slots=True)
class _Lattice:
    """Places of columns and rows, which nodes are on the floor, and whether rows run along y."""

    xs: FloatArray
    ys: FloatArray
    pitch: float
    inside: BoolArray
    along_y: bool


def _lattices(floor: Field, pitch: float) -> Iterator[_Lattice]:
    """Lattices with rows along x and along y, in the middle of the floor's box or moved."""
    nx, ny = floor.grid.shape
    size = ((nx - 5) * floor.cell, (ny - 5) * floor.cell)
    origin = (floor.left + 2 * floor.cell, floor.low + 2 * floor.cell)
    for along_y in (False, True):
        across = 0 if along_y else 1
        over = size[across] % pitch
        shifts = {over / 2, (over + pitch) / 2, 0.25 * pitch, 0.5 * pitch, 0.75 * pitch}
        for shift in sorted(shifts):
            first = [pitch / 2, pitch / 2]
            first[across] = shift
            xs, ys = (
                origin[axis] + first[axis] + pitch * np.arange(ceil(size[axis] / pitch) + 1)
                for axis in (0, 1)
            )
            nodes = np.stack(np.meshgrid(xs, ys, indexing="ij"), axis=-1)
            inside = depth_at(floor, nodes.reshape(-1, 2)).reshape(nodes.shape[:2]) > 0
            yield _Lattice(xs, ys, pitch, inside, along_y)


def _courses_on(lattice: _Lattice, angle: float, element: Element) -> Iterator[Course]:
    """Rings over one lattice, with what speaks against each as its score."""
    inside = np.ascontiguousarray(lattice.inside.T) if lattice.along_y else lattice.inside
    nodes = int(inside.sum())
    for parity in (0, 1):
        for lean in (1, -1):
            way = course(inside, parity=parity, lean=lean)
            if len(way) < LEAST_NODES:
                continue
            way = absorbed(way, inside, nodes)
            fill = len(way) * lattice.pitch / element.wire_mm
            if fill < LEAST_COURSE:
                continue
            score = (
                FILL_COST * abs(fill - FILL_AIM)
                + LEFT_COST * (nodes - len(way)) / nodes
                + CORNER_COST * corners_of(way) / len(way)
            )
            if lattice.along_y:
                way = way[:, ::-1]
            xy = np.stack([lattice.xs[way[:, 0]], lattice.ys[way[:, 1]]], axis=1)
            yield Course(score, angle, lattice.along_y, xy)


def _floor_bins(floor: Field) -> FloatArray:
    """Floor in mm² in every square of 200 mm."""
    inside = np.argwhere(floor.grid > 0)
    bins = (inside * floor.cell / SQUARE_STEP_MM).astype(int)
    size = (np.array(floor.grid.shape) * floor.cell / SQUARE_STEP_MM).astype(int) + 1
    area = np.zeros(size)
    np.add.at(area, (bins[:, 0], bins[:, 1]), floor.cell**2)
    return area


def _crowding(
    nodes: FloatArray,
    pitch: float,
    floor: Field,
    bins: FloatArray,
    element: Element,
    most_w_per_m2: float,
) -> float:
    """By how much the densest square of 400 mm is over what may lie in it, as a fraction."""
    at = ((nodes - (floor.left, floor.low)) / SQUARE_STEP_MM).astype(int)
    wire = np.zeros_like(bins)
    np.add.at(wire, (at[:, 0], at[:, 1]), pitch)
    wire, area = _by_four(wire), _by_four(bins)
    counts = area >= SQUARE_LEAST_MM2
    if not counts.any():
        return 0.0
    densest = float((wire[counts] * element.watts_per_mm * 1e6 / area[counts]).max())
    return max(0.0, densest / (CROWDED * most_w_per_m2) - 1)


def _by_four(cells: FloatArray) -> FloatArray:
    total: FloatArray = cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]
    return total


def cut_at(
    found: Course, floor: Field, element: Element, reach: Ways, lead_mm: float
) -> Start | None:
    """Return where to cut a ring: near the edge and the control, with straight wire after it.

    A cut across a half-turn leaves two passes side by side and is worth a little more lead.
    """
    nodes = found.nodes
    ahead = np.roll(nodes, -1, axis=0) - nodes
    pitch = float(np.hypot(*ahead[0]))
    unit = np.round(ahead / pitch).astype(int)
    need = ceil((STRAIGHT_MM - 0.4 * pitch) / pitch)
    straight = np.ones(len(nodes), dtype=bool)
    for k in range(2, need + 1):
        straight &= (np.roll(unit, -k, axis=0) == np.roll(unit, -1, axis=0)).all(axis=1)
    if element.ends == "both":
        for k in range(2, need + 1):
            straight &= (np.roll(unit, k, axis=0) == np.roll(unit, 1, axis=0)).all(axis=1)
    middle = nodes + ahead / 2
    straight &= depth_at(floor, middle) < EDGE_PITCHES * pitch
    facing = _spin(middle, found.angle)
    flat = reach.distance.ravel()
    best: Start | None = None
    best_cost = FAR
    turned = (unit != np.roll(unit, -1, axis=0)).any(axis=1) & (
        unit != np.roll(unit, 1, axis=0)
    ).any(axis=1)
    for at in np.flatnonzero(straight):
        cells = reach.near(facing[at], APPROACH_MM)
        if not len(cells):
            continue
        lead = float(flat[cells].min()) + APPROACH_MM / 2
        cost = lead + (0.0 if turned[at] else 250.0)
        if lead < lead_mm - LEAD_SPARE_MM and cost < best_cost:
            best, best_cost = Start(int(at), lead), cost
    return best


def drawn_out(
    nodes: FloatArray, floor: Field, element: Element, spacing_mm: float
) -> FloatArray | None:
    """Return the wire drawn out from an opened ring, or None if the rules cannot be kept."""
    wire = element.wire_mm
    path = nodes
    phases = [COARSE, FINE]
    for _attempt in range(3):
        for phase in phases:
            path = relaxed(
                path,
                floor.edges,
                floor.grid,
                floor.left,
                floor.low,
                floor.cell,
                wire,
                spacing_mm,
                element.gap_mm + GAP_SPARE_MM,
                element.min_bend_mm * BEND_SPARE,
                phase.step_mm,
                phase.rounds,
                element.ends == "both",
                phase.settle,
            )
        smooth = smoothed(path)
        off = LineString(smooth).length / element.wire_mm - 1
        sound = (
            nearest_to_itself(smooth, element.gap_mm - 0.8) is None
            and overbent(smooth, element.min_bend_mm) is None
        )
        if sound and abs(off) < LENGTH_AIM:
            return smooth
        wire *= 1 - off
        phases = [SETTLE]
    return smooth if sound and abs(off) < LENGTH_MOST else None


def smoothed(path: FloatArray) -> FloatArray:
    """Put a vertex on the arc between each two, and drop those that straight wire does not need."""
    step = np.diff(path, axis=0)
    turn = np.zeros(len(path))
    turn[1:-1] = np.arctan2(
        step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0],
        (step[:-1] * step[1:]).sum(axis=1),
    )
    rise = (turn[:-1] + turn[1:]) / 2 / 8
    normal = np.stack([step[:, 1], -step[:, 0]], axis=1)
    middle = (path[:-1] + path[1:]) / 2 + rise[:, None] * normal
    fine = np.empty((2 * len(path) - 1, 2))
    fine[::2], fine[1::2] = path, middle
    kept: FloatArray = shapely.get_coordinates(LineString(fine).simplify(SIMPLIFY_MM))
    return kept


def covered_of(path: FloatArray, floor: Field, spacing_mm: float) -> float:
    """Return the share of a floor that a path in its frame covers, by its grid of cells."""
    return covered_share(
        resampled(path, STEP_MM),
        floor.grid,
        floor.left,
        floor.low,
        floor.cell,
        spacing_mm / 2 + COVER_TOLERANCE_MM,
    )


def _turned(piece: Polygon, angle: float) -> Polygon:
    return rotate(piece, angle, origin=(0, 0), use_radians=True)


def _spin(points: FloatArray, angle: float) -> FloatArray:
    c, s = cos(angle), sin(angle)
    spun: FloatArray = points @ np.array([[c, s], [-s, c]])
    return spun
