"""Lay one cable in one piece of floor: a course over a lattice, drawn out to use up its wire.

Many lattices are tried (direction, pitch, place of the rows), as they cost next to nothing; the
few that fit the floor and the wire best are drawn out. Millimetres.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import ceil, cos, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.affinity import rotate

from jobs.laying.check import SQUARE_MM
from jobs.laying.check_wire import bow, nearest_to_itself, overbent
from jobs.laying.courses import GAP_SPARE_MM, Course, Ground, courses, directions
from jobs.laying.field import Field, covered_share, depth_at, field
from jobs.laying.judge import Judge
from jobs.laying.leads import Ways
from jobs.laying.measures import COVER_TOLERANCE_MM
from jobs.laying.passage import beside, drawable, passable, passages, through_once
from jobs.laying.plan import FloatArray, LaidWire, rounded
from jobs.laying.pose import Pose
from jobs.laying.problem import Element
from jobs.laying.relax import STRAIGHT_MM, relaxed, resampled
from jobs.outline import Point

STEP_MM = 12.0
BEND_SPARE = 1.04
APPROACH_MM = 140.0
LEAD_SPARE_MM = 60.0
EDGE_PITCHES = 0.95
"""A ring is cut no deeper in the floor: farther in, a pass would lie in the lead's way."""

UNTURNED_COST_MM = 250.0
MOST_CUTS = 3
TOUCH = 0.02
"""Share of the first step of a way in which a lead may meet it."""

NARROW = 1.6
"""Places narrower than this many spacings may hold up a lattice, and are looked at one by one."""

SLOT = 1.02
"""A dead end narrower than this many gaps has no room for a turn and its two legs."""

SPLICE_MM = 150.0
BOW_MM = 1.8
LENGTH_AIM = 0.0015
LENGTH_MOST = 0.004
MOST_FAILED = 2
MOST_ATTEMPTS = 3
"""Where wire could not keep the rules, the next attempt lays none."""

MOST_UNOPENED = 4
"""Courses through a passage are much alike: when no lead comes to so many, it comes to none."""

SIMPLIFY_MM = 0.05
COURSES_MM = 20_000.0
DRAWN_MM = 15_000.0
"""What looking for courses, and one of them beside its wire, count as."""


@dataclass(frozen=True, slots=True)
class Phase:
    """Rounds of drawing out at one step between points; the last `settle` only obey the rules."""

    step_mm: float
    rounds: int
    settle: int


@dataclass(slots=True)
class Effort:
    """Wire in mm that may still be drawn out; `reserve_mm` more as long as nothing is laid."""

    left_mm: float
    reserve_mm: float = 0.0

    def spend(self, mm: float) -> None:
        """Count what took as long as drawing out this much wire."""
        self.left_mm -= mm

    @property
    def is_left(self) -> bool:
        """Whether the search may go on."""
        return self.left_mm > -self.reserve_mm


COARSE = Phase(22.0, 70, 5)
COARSE_LONG = Phase(24.0, 45, 5)
LONG_MM = 130_000.0
FINE = Phase(STEP_MM, 30, 15)
SETTLE = Phase(STEP_MM, 25, 25)


def lay_cable(
    piece: Polygon,
    element: Element,
    spacing_mm: float,
    *,
    reach: Ways,
    lead_mm: float,
    judge: Judge,
    effort: Effort,
) -> Iterator[LaidWire]:
    """Yield ways to lay `element` over `piece`, the most promising first.

    `spacing_mm` is the even spread that it is judged by; `reach` are the ways from the control
    that keep off the heatable area, and `lead_mm` is how long the lead may be. `judge` says where
    floor of the whole room would get too hot. Ends when no `effort` is left, or when wire
    breaks a rule again where none was laid for it: the floor is too tight there.
    """
    even = max(min(spacing_mm, piece.area / element.wire_mm), element.gap_mm)
    grounds = {angle: _ground(piece, angle, even, element) for angle in directions(piece)}
    kept_clear: dict[float, list[FloatArray]] = {angle: [] for angle in grounds}
    for _attempt in range(MOST_ATTEMPTS):
        faults: dict[float, list[FloatArray]] = {angle: [] for angle in grounds}
        unopened = failed = 0
        effort.spend(COURSES_MM)
        for found in courses(grounds, element, even, judge.limit):
            if found.chains and unopened == MOST_UNOPENED:
                continue
            ground = grounds[found.angle]
            nodes = opened(found, ground, element, reach, lead_mm)
            if nodes is None:
                unopened += bool(found.chains)
                continue
            if not effort.is_left:
                return
            effort.spend(element.wire_mm + DRAWN_MM)
            drawn = drawn_out(nodes, ground.floor, element, even)
            laid = rounded(_spin(drawn.path, found.angle))
            if drawn.fault is not None:
                if _is_near(drawn.fault, kept_clear[found.angle], element.gap_mm):
                    return
                places = [drawn.fault]
            else:
                hot = judge.measure([laid], [element], spacing_mm).hot
                places = _edgemost(laid, hot, judge.pose, drawn.path, ground.floor)
            if not places:
                yield LaidWire(element, laid, (), ((0.0, element.wire_mm),))
                continue
            faults[found.angle] += places
            failed += 1
            if failed == MOST_FAILED:
                break
        if not failed:
            return
        for angle, found_places in faults.items():
            kept_clear[angle] += found_places
            grounds[angle] = _avoiding(grounds[angle], found_places, element.gap_mm)


def _is_near(place: FloatArray, others: Sequence[FloatArray], within_mm: float) -> bool:
    return any(float(np.hypot(*(place - other))) < within_mm for other in others)


def _edgemost(
    laid: FloatArray, hot: Sequence[Point], pose: Pose, path: FloatArray, floor: Field
) -> list[FloatArray]:
    """For each square that gets too much the place of wire nearest to the floor's edge.

    There, half of what the wire gives is lost. `path` is the wire in the frame of `floor`.
    """
    in_room, fine = pose.back(laid), rounded(path)
    depth = depth_at(floor, fine)
    found: list[int] = []
    for low in hot:
        inside = np.flatnonzero(
            np.all((in_room > low) & (in_room < np.add(low, SQUARE_MM)), axis=1)
        )
        if len(inside) and not set(found) & set(inside.tolist()):
            found.append(int(inside[np.argmin(depth[inside])]))
    return [fine[at] for at in found]


def _avoiding(ground: Ground, places: Sequence[FloatArray], within_mm: float) -> Ground:
    """The ground with no floor near places where wire could not keep the rules."""
    floor = ground.floor
    grid = floor.grid.copy()
    x = floor.left + (np.arange(grid.shape[0])[:, None] + 0.5) * floor.cell
    y = floor.low + (np.arange(grid.shape[1])[None, :] + 0.5) * floor.cell
    for place in places:
        grid[np.hypot(x - place[0], y - place[1]) < within_mm] = -floor.cell
    return replace(ground, floor=replace(floor, grid=grid))


def _ground(piece: Polygon, angle: float, spacing_mm: float, element: Element) -> Ground:
    turned = rotate(piece, -angle, origin=(0, 0), use_radians=True)
    places = tuple(passages(turned, NARROW * spacing_mm))
    floor = drawable(turned, places, SLOT * element.gap_mm)
    return Ground(field(floor), floor, passable(turned), places)


def opened(
    found: Course, ground: Ground, element: Element, reach: Ways, lead_mm: float
) -> FloatArray | None:
    """Return the course as a way from splice to end, or None if no lead comes to it."""
    leads = _Leads(reach, found.angle, ground.floor, lead_mm)
    if not found.chains:
        return next(leads.cut(found.nodes, both=element.ends == "both"), None)
    for chain in found.chains:
        (near, _), (_, far) = chain.gates[0], chain.gates[-1]
        both = element.ends == "both"
        firsts = leads.starts(chain.rings[0], near, ground.passable)
        lasts = leads.starts(chain.rings[-1], far, ground.passable) if both else None
        if not firsts or (both and not lasts):
            continue
        for way in through_once(chain, firsts, lasts, ground.passable):
            if leads.come_to(way) and (not both or leads.come_to(way[::-1])):
                return way
    return None


@dataclass(frozen=True, slots=True)
class _Leads:
    """Where leads come to a floor whose frame is turned by `angle`."""

    reach: Ways
    angle: float
    floor: Field
    lead_mm: float

    def starts(self, ring: FloatArray, mouth: FloatArray, passable: Polygon) -> list[FloatArray]:
        """Open ways over a ring that begin where a lead comes, first those beside a mouth."""
        near = (way for way in beside(ring, mouth, passable) if self._starts_well(way))
        return [*islice(near, MOST_CUTS), *self.cut(ring, both=False)]

    def cut(self, ring: FloatArray, *, both: bool) -> Iterator[FloatArray]:
        """Yield a ring cut near the edge and the control, with straight wire after the cut.

        A cut across a half-turn leaves two passes side by side and is worth a little more lead.
        `both`: straight before the cut, too.
        """
        ahead = np.roll(ring, -1, axis=0) - ring
        pitch = float(np.median(np.hypot(ahead[:, 0], ahead[:, 1])))
        unit = np.round(ahead / pitch).astype(int)
        straight = np.ones(len(ring), dtype=bool)
        for k in range(2, _straight_steps(pitch) + 1):
            straight &= (np.roll(unit, -k, axis=0) == np.roll(unit, -1, axis=0)).all(axis=1)
            if both:
                straight &= (np.roll(unit, k, axis=0) == np.roll(unit, 1, axis=0)).all(axis=1)
        middle = ring + ahead / 2
        straight &= depth_at(self.floor, middle) < EDGE_PITCHES * pitch
        turned = (unit != np.roll(unit, -1, axis=0)).any(axis=1) & (
            unit != np.roll(unit, 1, axis=0)
        ).any(axis=1)
        costs = [
            (lead + (0.0 if turned[at] else UNTURNED_COST_MM), int(at))
            for at in np.flatnonzero(straight)
            if (lead := self._lead_to(middle[at])) is not None
        ]
        for _, at in sorted(costs)[:MOST_CUTS]:
            yield np.roll(ring, -(at + 1), axis=0)

    def come_to(self, way: FloatArray) -> bool:
        """Whether a lead comes to the start of a way without crossing it."""
        cells = self._cells(way[0])
        centres = _spin(self.reach.centres(cells), -self.angle)
        last = shapely.linestrings(np.stack([centres, np.broadcast_to(way[0], centres.shape)], 1))
        line = LineString(np.vstack([way[0] + TOUCH * (way[1] - way[0]), way[1:]]))
        return bool((~shapely.intersects(last, line)).any())

    def _starts_well(self, way: FloatArray) -> bool:
        """Whether a way begins straight, at the floor's edge, where a lead comes to."""
        step = np.diff(way[:8], axis=0)
        pitch = float(np.hypot(*step[0]))
        if np.abs(step[: _straight_steps(pitch)] - step[0]).max() > 1.0:
            return False
        if depth_at(self.floor, way[:1])[0] > EDGE_PITCHES * pitch:
            return False
        return self._lead_to(way[0]) is not None

    def _lead_to(self, point: FloatArray) -> float | None:
        """The length of a lead to a point of the floor, or None if it would be too long."""
        cells = self._cells(point)
        if not len(cells):
            return None
        return float(self.reach.distance.ravel()[cells].min()) + APPROACH_MM / 2

    def _cells(self, point: FloatArray) -> NDArray[np.int64]:
        """The cells off the floor from which a lead that is long enough comes to a point."""
        cells = self.reach.near(_spin(point[None], self.angle)[0], APPROACH_MM)
        lead = self.reach.distance.ravel()[cells] + APPROACH_MM / 2
        return cells[lead < self.lead_mm - LEAD_SPARE_MM]


def _straight_steps(pitch_mm: float) -> int:
    """How many steps of a lattice, or of a way through a passage, the stiff splice lies on."""
    return max(1, ceil((STRAIGHT_MM - 0.4 * pitch_mm) / pitch_mm))


@dataclass(frozen=True, slots=True)
class Drawn:
    """A wire as drawn out, (n, 2), and a place where it breaks a rule, or None."""

    path: FloatArray
    fault: FloatArray | None


def drawn_out(nodes: FloatArray, floor: Field, element: Element, spacing_mm: float) -> Drawn:
    """Return the wire drawn out from an opened ring."""
    wire = element.wire_mm
    path = nodes
    phases = [COARSE if wire < LONG_MM else COARSE_LONG, FINE]
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
        fault = _fault(smooth, element)
        if fault is None and abs(off) < LENGTH_AIM:
            return Drawn(smooth, None)
        wire *= 1 - off
        phases = [SETTLE]
    if fault is None and abs(off) > LENGTH_MOST:
        fault = np.asarray(smooth[-1])  # the end has no place for what is left of the wire
    return Drawn(smooth, fault)


def _fault(path: FloatArray, element: Element) -> FloatArray | None:
    """A place where a wire breaks a rule that drawing it out can break, or None."""
    first, last = path[[0, -1]]
    if bow(path, SPLICE_MM) >= BOW_MM:
        return np.asarray(first)
    if element.ends == "both" and bow(path[::-1], SPLICE_MM) >= BOW_MM:
        return np.asarray(last)
    broken = overbent(path, element.min_bend_mm) or nearest_to_itself(path, element.gap_mm - 0.8)
    return None if broken is None else broken[1]


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


def _spin(points: FloatArray, angle: float) -> FloatArray:
    c, s = cos(angle), sin(angle)
    spun: FloatArray = points @ np.array([[c, s], [-s, c]])
    return spun
