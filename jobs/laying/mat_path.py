"""From nodes on a lattice to wire on the floor: rounded corners, the exact length, the mesh."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray
from shapely import box
from shapely.geometry.base import BaseGeometry

from jobs.laying.mat_lattice import Lattice
from jobs.laying.mat_strips import LEAST_PASSES, Strip
from jobs.laying.mat_wire import CHORDS
from jobs.laying.problem import MESH_EDGE_MM, Element

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SHORTEST = 0.9955
"""Share of its wire that an element must at least take up: the rule is half a per cent."""

SHARPER = (0.0, 0.5, 1.0)
"""How far towards the least bend corners off the mesh are tried, so that they take up more wire."""

BEND_SPARE = 1.02

TURNS = tuple(pi / 2 * chord / CHORDS for chord in range(CHORDS + 1))


@dataclass(frozen=True, slots=True)
class Laid:
    """Wire in the frame of the lattice: path, strips of mesh, loose chainages."""

    path: FloatArray
    mesh: tuple[FloatArray, ...]
    loose: tuple[tuple[float, float], ...]


def lay_out(
    lattice: Lattice,
    nodes: Sequence[int],
    strips: Sequence[Strip],
    element: Element,
    mesh_floor: BaseGeometry,
) -> Laid | None:
    """Round the corners, cut the wire off at its length and find what is still on mesh.

    Corners off the mesh are rounded with less where the wire needs it to take up its length.
    `mesh_floor` is where mesh may lie. None if the nodes are too short a way.
    """
    half = element.spacing_mm / 2
    on_strips = np.isin(nodes, [node for strip in strips for node in strip.nodes(lattice.rows)])
    for part in SHARPER:
        loose_mm = half - part * max(0.0, half - BEND_SPARE * element.min_bend_mm)
        path, before, after = rounded_path(lattice, nodes, np.where(on_strips, half, loose_mm))
        steps = np.hypot(*np.diff(path, axis=0).T)
        chainage = np.concatenate([[0.0], np.cumsum(steps)])
        length = min(float(chainage[-1]), element.wire_mm)
        if length >= SHORTEST * element.wire_mm:
            break
    else:
        return None
    stretches = []
    mesh = []
    at = {node: place for place, node in enumerate(nodes) if chainage[after[place]] <= length}
    for low, high, outline in _on_mesh(lattice, at, strips, element, mesh_floor):
        start, stop = float(chainage[before[low]]), float(chainage[after[high]])
        if low == 0:
            start = 0.0
        stretches.append((start, stop, outline))
    stretches.sort(key=lambda stretch: stretch[0])
    loose, since = [], 0.0
    for start, stop, outline in stretches:
        if start > since:
            loose.append((since, start))
        mesh.append(outline)
        since = stop
    if length > since:
        loose.append((since, length))
    return Laid(cut_off(path, chainage, length), tuple(mesh), tuple(loose))


def rounded_path(
    lattice: Lattice, nodes: Sequence[int], most_mm: float | FloatArray
) -> tuple[FloatArray, IntArray, IntArray]:
    """The polyline over the nodes, and for each node the vertices where its corner begins and ends.

    A corner is rounded with `most_mm` (of all nodes, or of each), or half the straight run to the
    next corner if shorter.
    """
    column, row = np.divmod(np.asarray(nodes), lattice.rows)
    points = np.column_stack([np.asarray(lattice.xs)[column], np.asarray(lattice.ys)[row]])
    way = np.sign(np.diff(points, axis=0))
    corners = 1 + np.flatnonzero(np.any(way[1:] != way[:-1], axis=1))
    runs = np.abs(np.diff(points[corners], axis=0)).sum(axis=1) / 2
    radius = np.broadcast_to(most_mm, len(points))[corners][:, None].astype(np.float64)
    radius[1:, 0] = np.minimum(radius[1:, 0], runs)
    radius[:-1, 0] = np.minimum(radius[:-1, 0], runs)
    vertices = np.ones(len(points), dtype=np.int64)
    vertices[corners] = len(TURNS)
    after = np.cumsum(vertices) - 1
    before = after - vertices + 1
    path = np.empty((int(after[-1]) + 1, 2))
    path[before] = points
    come, go = radius * way[corners - 1], radius * way[corners]
    for chord, turn in enumerate(TURNS):
        path[before[corners] + chord] = (
            points[corners] + (sin(turn) - 1) * come + (1 - cos(turn)) * go
        )
    return path, before, after


def cut_off(path: FloatArray, chainage: FloatArray, length_mm: float) -> FloatArray:
    """The first `length_mm` of a path."""
    last = int(np.searchsorted(chainage, length_mm - 0.05))
    part = (length_mm - chainage[last - 1]) / (chainage[last] - chainage[last - 1])
    end = path[last - 1] + min(1.0, part) * (path[last] - path[last - 1])
    return np.vstack([path[:last], end])


def _on_mesh(
    lattice: Lattice,
    at: dict[int, int],
    strips: Sequence[Strip],
    element: Element,
    mesh_floor: BaseGeometry,
) -> list[tuple[int, int, FloatArray]]:
    """Pieces of strips that the wire still runs through: places of first and last node, outline."""
    found = []
    rows = lattice.rows
    for strip in strips:
        since = strip.low
        for row in range(strip.low, strip.high + 1):
            if not _is_pass(at, strip, row, rows):
                since = row + 1
                continue
            if row == strip.high or not (
                _is_pass(at, strip, row + 1, rows) and _turns(at, strip, row, rows)
            ):
                found += _piece(
                    lattice, at, Strip(strip.left, strip.right, since, row), element, mesh_floor
                )
                since = row + 1
    return found


def _piece(
    lattice: Lattice,
    at: dict[int, int],
    strip: Strip,
    element: Element,
    mesh_floor: BaseGeometry,
) -> list[tuple[int, int, FloatArray]]:
    """A piece of mesh, its end passes peeled off where it would reach too far out."""
    half = element.spacing_mm / 2
    x0 = lattice.xs[strip.left] - MESH_EDGE_MM
    x1 = lattice.xs[strip.right] + MESH_EDGE_MM
    for peel in ((0, 0), (1, 0), (0, 1), (1, 1)):
        low, high = strip.low + peel[0], strip.high - peel[1]
        if high - low + 1 < LEAST_PASSES:
            continue
        shape = box(x0, lattice.ys[low] - half, x1, lattice.ys[high] + half)
        if mesh_floor.covers(shape):
            rows = lattice.rows
            ends = [
                at[column * rows + row]
                for column in (strip.left, strip.right)
                for row in (low, high)
            ]
            corners = np.asarray(shape.exterior.coords[:4])
            return [(min(ends), max(ends), corners)]
    return []


def _is_pass(at: dict[int, int], strip: Strip, row: int, rows: int) -> bool:
    places = [at.get(c * rows + row, -9) for c in range(strip.left, strip.right + 1)]
    return places[0] >= 0 and all(abs(b - a) == 1 for a, b in pairwise(places))


def _turns(at: dict[int, int], strip: Strip, row: int, rows: int) -> bool:
    """Whether the half-turn between a row and the next is on the mesh, on either side."""
    return any(
        abs(at[c * rows + row] - at[c * rows + row + 1]) == 1 for c in (strip.left, strip.right)
    )
