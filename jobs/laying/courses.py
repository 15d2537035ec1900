"""Courses for one cable over one piece of floor: many lattices, the few best first.

A lattice costs next to nothing, so direction, pitch and place of the rows are all tried.
Millimetres; a course lies in its own frame, turned by its angle in the room.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from math import ceil, pi

import numpy as np
from shapely import Polygon

from jobs.laying.field import BoolArray, Field, depth_at
from jobs.laying.lattice import IntArray, corners_of, rings_over
from jobs.laying.passage import Chain, Passage, chains, through_twice
from jobs.laying.plan import FloatArray
from jobs.laying.problem import Element

PITCHES = (0.97, 0.985, 1.0, 1.015, 1.03, 1.045)
PITCHES_LARGE = (0.985, 1.0, 1.03)
LARGE_MM2 = 10e6
"""On a floor as large as this nearly every pitch fits some number of rows."""

GAP_SPARE_MM = 1.0
LEAST_NODES = 8
LEAST_COURSE = 0.92
"""A course shorter than this share of the wire cannot be drawn out to its length."""

MOST_OF_NODES = 0.9
FILL_AIM = 0.985
FILL_COST = 1.0
LEFT_COST = 1.5
CORNER_COST = 0.12
CROWD_COST = 0.5
CROWDED = 1.2
SQUARE_STEP_MM = 200.0
SQUARE_LEAST_MM2 = 0.04e6


@dataclass(frozen=True, slots=True)
class Course:
    """A ring over a lattice in its own frame: `nodes` (n, 2), turned by `angle` in the room.

    With `chains`, the first of which has these nodes, rings that a wire joins which goes through
    passages once and does not come back.
    """

    score: float
    angle: float
    along_y: bool
    nodes: FloatArray
    chains: tuple[Chain, ...] = ()


@dataclass(frozen=True, slots=True)
class Ground:
    """A piece of floor in the frame of its lattices: its field, itself, and its narrow places.

    `passable` is the piece a hair wider.
    """

    floor: Field
    piece: Polygon
    passable: Polygon
    places: tuple[Passage, ...]


def courses(
    grounds: Mapping[float, Ground], element: Element, spacing_mm: float, most_w_per_m2: float
) -> list[Course]:
    """Return courses over many lattices, the best first, by turns of each kind.

    Courses of one kind are much alike: what one of them cannot do, the next rarely can. Kinds
    differ in the direction of the rows, and in whether the wire comes back through passages.
    """
    found: dict[tuple[int, float], Course] = {}
    for angle, ground in grounds.items():
        bins = _floor_bins(ground.floor)
        for share in PITCHES if ground.piece.area < LARGE_MM2 else PITCHES_LARGE:
            pitch = max(share * spacing_mm, element.gap_mm + GAP_SPARE_MM)
            for lattice in _lattices(ground.floor, pitch):
                for each in _courses_on(lattice, ground, angle, element):
                    crowd = _crowding(each.nodes, pitch, ground.floor, bins, element, most_w_per_m2)
                    rated = replace(each, score=each.score + CROWD_COST * crowd)
                    found.setdefault((len(rated.nodes), round(rated.score, 7)), rated)
    return _by_turns(sorted(found.values(), key=lambda each: each.score))


def _by_turns(found: Sequence[Course]) -> list[Course]:
    kinds: dict[tuple[bool, bool], list[Course]] = {}
    for each in found:
        kinds.setdefault((each.along_y, bool(each.chains)), []).append(each)
    rounds = zip_longest(*kinds.values())
    return [each for some in rounds for each in some if each is not None]


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


def _courses_on(
    lattice: _Lattice, ground: Ground, angle: float, element: Element
) -> Iterator[Course]:
    """Courses over one lattice, with what speaks against each as its score."""
    inside = np.ascontiguousarray(lattice.inside.T) if lattice.along_y else lattice.inside
    nodes = int(inside.sum())
    for parity in (0, 1):
        for lean in (1, -1):
            found = rings_over(inside, parity=parity, lean=lean, apart=bool(ground.places))
            found = [way for way in found if len(way) >= LEAST_NODES]
            if not found:
                continue
            corners = sum(corners_of(way) for way in found) / sum(len(way) for way in found)
            for nodes_of, ways in _joined(
                [_placed(way, lattice) for way in found], ground, element
            ):
                fill = len(nodes_of) * lattice.pitch / element.wire_mm
                if fill < LEAST_COURSE:
                    continue
                score = (
                    FILL_COST * abs(fill - FILL_AIM)
                    + LEFT_COST * max(0, nodes - len(nodes_of)) / nodes
                    + CORNER_COST * corners
                )
                yield Course(score, angle, lattice.along_y, nodes_of, ways)


def _joined(
    rings: list[FloatArray], ground: Ground, element: Element
) -> Iterator[tuple[FloatArray, tuple[Chain, ...]]]:
    """One ring joined of `rings` by pairs of wires through passages; chains of them by one wire."""
    if len(rings) == 1 or not ground.places:
        yield rings[0], ()
        return
    joined = through_twice(rings, ground.places, ground.passable, element.gap_mm)
    yield joined[0], ()
    for some in (joined, rings) if len(joined) < len(rings) else (rings,):
        if len(some) > 1:
            ways = chains(some, ground.places, ground.passable)
            if len(ways[0].rings) > 1:
                yield ways[0].nodes, tuple(way for way in ways if len(way.rings) > 1)


def _placed(way: IntArray, lattice: _Lattice) -> FloatArray:
    """Nodes of a way in mm."""
    x, y = (way[:, 1], way[:, 0]) if lattice.along_y else (way[:, 0], way[:, 1])
    return np.stack([lattice.xs[x], lattice.ys[y]], axis=1)


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
