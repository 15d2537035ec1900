"""A lattice over the heatable area: where wire on mesh and loose wire may run, as nodes and edges.

Frame: the room turned so that a mat's passes run along x and its strips along y. A node is
`column * rows + row`; the outermost columns and rows lie outside the area, so that every node of
the area has four neighbours.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, sin

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon, affinity, intersection
from shapely.geometry.base import BaseGeometry

from jobs.outline import Point

SLACK_MM = 0.2
"""Wire may lie this far outside the area: less than the tolerance, more than rounding."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A turn of the room by `-angle` (radians) about the origin: into the frame and back."""

    angle: float

    def into(self, shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
        """Turn a shape of the room into the frame."""
        return affinity.rotate(shape, -self.angle, origin=(0, 0), use_radians=True)

    def point_into(self, point: Point) -> Point:
        """Turn one point of the room into the frame."""
        c, s = cos(self.angle), sin(self.angle)
        return point[0] * c + point[1] * s, point[1] * c - point[0] * s

    def back(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Turn an (n, 2) array of the frame back into the room."""
        c, s = cos(self.angle), sin(self.angle)
        turned: NDArray[np.float64] = points @ np.array([[c, s], [-s, c]])
        return turned


@dataclass(slots=True)
class Lattice:
    """Columns at `xs`, rows at `ys`; `right[node]`, `up[node]`: whether wire may run to there.

    `steps` says the same of all four ways, for walks: up, down, right, left.
    """

    xs: list[float]
    ys: list[float]
    inside: list[bool]
    right: list[bool]
    up: list[bool]
    steps: NDArray[np.bool_]

    @property
    def rows(self) -> int:
        return len(self.ys)

    def point(self, node: int) -> Point:
        column, row = divmod(node, len(self.ys))
        return self.xs[column], self.ys[row]

    def step(self, a: int, b: int) -> bool:
        """Whether wire may run between the neighbours a and b."""
        low, high = (a, b) if a < b else (b, a)
        return self.up[low] if high - low == 1 else self.right[low]

    def length(self, a: int, b: int) -> float:
        """Distance between two neighbours."""
        rows = len(self.ys)
        if abs(a - b) == 1:
            return abs(self.ys[a % rows] - self.ys[b % rows])
        return abs(self.xs[a // rows] - self.xs[b // rows])


def lattice_over(area: Polygon | MultiPolygon, xs: Sequence[float], ys: Sequence[float]) -> Lattice:
    """Build the lattice with the given lines; an edge is free where all of it is in the area.

    `xs` and `ys` ascend and begin and end outside the area.
    """
    grown = area.buffer(SLACK_MM, join_style="mitre")
    width, height = len(xs), len(ys)
    x, y = np.asarray(xs), np.asarray(ys)
    lines = [LineString([(c, y[0]), (c, y[-1])]) for c in xs]
    lines += [LineString([(x[0], r), (x[-1], r)]) for r in ys]
    cut = intersection(np.asarray(lines, dtype=object), grown)
    inside = np.zeros((width, height), dtype=bool)
    up = np.zeros((width, height), dtype=bool)
    right = np.zeros((width, height), dtype=bool)
    for column in range(width):
        for low, high in _stretches(cut[column], 1):
            within = (y >= low) & (y <= high)
            inside[column] |= within
            up[column, :-1] |= within[:-1] & within[1:]
    for row in range(height):
        for low, high in _stretches(cut[width + row], 0):
            within = (x >= low) & (x <= high)
            right[:-1, row] |= within[:-1] & within[1:]
    steps = np.zeros((width, height, 4), dtype=bool)
    steps[:, :, 0], steps[:, 1:, 1] = up, up[:, :-1]
    steps[:, :, 2], steps[1:, :, 3] = right, right[:-1]
    return Lattice(
        xs=[float(c) for c in xs],
        ys=[float(r) for r in ys],
        inside=inside.ravel().tolist(),
        right=right.ravel().tolist(),
        up=up.ravel().tolist(),
        steps=steps.reshape(-1, 4),
    )


def _stretches(shape: BaseGeometry, axis: int) -> list[tuple[float, float]]:
    """From and to, along one axis, of every piece of a cut line."""
    found = []
    for part in getattr(shape, "geoms", [shape]):
        if isinstance(part, LineString) and not part.is_empty:
            along = [point[axis] for point in part.coords]
            found.append((min(along), max(along)))
    return found
