"""A quick measure of wire on the floor, by sampling: what it warms and how hot it gets.

Good to about a hundredth; the checker is exact and has the last word.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from jobs.laying.check import MEAN_FACTOR, SQUARE_FACTOR, SQUARE_LEAST_MM2, SQUARE_STEP_MM
from jobs.laying.measures import COVER_TOLERANCE_MM
from jobs.laying.problem import Element, Room
from jobs.outline import Point

SAMPLE_MM = 15.0
STEP_MM = 10.0
CAREFUL = 0.995
"""Share of the power limit that is used, since sampling errs."""

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sampled:
    """Share of the heatable area that is warmed, and how far the power is over its limits.

    `mean` is the mean power over what is allowed; `hot` are the low corners of the 400 mm squares
    that get more than is allowed, the hottest first.
    """

    covered: float
    mean: float
    hot: tuple[Point, ...]


class Judge:
    """A room's heatable floor as sample points, in 200 mm cells for the power."""

    def __init__(self, room: Room) -> None:
        self.limit = room.max_w_per_m2
        left, low, right, high = room.floor.bounds
        self.origin = np.asarray([left, low])
        self.shape = (
            int((right - left) / SQUARE_STEP_MM) + 2,
            int((high - low) / SQUARE_STEP_MM) + 2,
        )
        x, y = np.meshgrid(
            np.arange(left + SAMPLE_MM / 2, right, SAMPLE_MM),
            np.arange(low + SAMPLE_MM / 2, high, SAMPLE_MM),
            indexing="ij",
        )
        area = room.area
        shapely.prepare(area)
        inside = shapely.contains_xy(area, x, y)
        self.points = np.column_stack([x[inside], y[inside]])
        self.cells = self._cells(self.points)

    def measure(self, paths: Sequence[FloatArray], elements: Sequence[Element]) -> Sampled:
        """Measure mats of one pitch together, their paths in the room."""
        reach = elements[0].spacing_mm / 2
        wire = [_dense(path) for path in paths]
        apart, _ = KDTree(np.vstack(wire)).query(
            self.points, distance_upper_bound=reach + COVER_TOLERANCE_MM
        )
        warm = apart <= reach
        watts = sum(element.watts for element in elements)
        warm_mm2 = float(warm.sum()) * SAMPLE_MM**2
        floor = _by_four(self._count(self.cells[warm])) * SAMPLE_MM**2
        power = np.zeros(self.shape)
        for points, element in zip(wire, elements, strict=True):
            power += self._count(self._cells(points)) * (element.watts / len(points))
        enough = floor >= SQUARE_LEAST_MM2
        square = np.divide(_by_four(power) * 1e6, floor, out=np.zeros_like(floor), where=enough)
        limit = self.limit * CAREFUL
        over = np.argwhere(square > limit * SQUARE_FACTOR)
        over = over[np.argsort(-square[over[:, 0], over[:, 1]])]
        return Sampled(
            covered=float(np.isfinite(apart).mean()),
            mean=watts * 1e6 / warm_mm2 / (limit * MEAN_FACTOR) if warm_mm2 else np.inf,
            hot=tuple((float(x), float(y)) for x, y in self.origin + over * SQUARE_STEP_MM),
        )

    def _cells(self, points: FloatArray) -> NDArray[np.int64]:
        at = ((points - self.origin) / SQUARE_STEP_MM).astype(np.int64)
        cells: NDArray[np.int64] = at[:, 0] * self.shape[1] + at[:, 1]
        return cells

    def _count(self, cells: NDArray[np.int64]) -> FloatArray:
        size = self.shape[0] * self.shape[1]
        return np.bincount(cells, minlength=size).reshape(self.shape).astype(np.float64)


def _dense(path: FloatArray) -> FloatArray:
    """Points along a path, not more than 10 mm apart and evenly enough to weigh it by count."""
    step = np.hypot(*np.diff(path, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(step)])
    fine = np.linspace(0, at[-1], max(2, int(at[-1] / STEP_MM)))
    return np.column_stack([np.interp(fine, at, path[:, 0]), np.interp(fine, at, path[:, 1])])


def _by_four(cells: FloatArray) -> FloatArray:
    total: FloatArray = cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]
    return total
