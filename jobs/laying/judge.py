"""A quick measure of wire on the floor: what it warms, and where it would get too hot.

Floor is sampled; squares that come near the limit of power are then measured exactly.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon

from jobs.laying.check import (
    MEAN_FACTOR,
    SQUARE_FACTOR,
    SQUARE_LEAST_MM2,
    SQUARE_MM,
    SQUARE_STEP_MM,
)
from jobs.laying.compiled import compiled
from jobs.laying.measures import COVER_TOLERANCE_MM, covered
from jobs.laying.pose import Pose
from jobs.laying.problem import Element, Room
from jobs.outline import Point

SAMPLE_MM = 13.7
"""No pitch is a multiple of it: samples that fall on every pass alike would misjudge the floor."""

STEP_MM = 5.0
DOUBT = 0.08
"""Squares that seem to be this near to a limit, as a part of it, are measured exactly."""

CAREFUL = 0.992
CAREFUL_MEAN = 0.998
"""Share of the limit that is used, of a square and over all floor, of which more is sampled."""

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
    """The floor to lay in a room in its pose, as sample points.

    Power is counted in 200 mm cells of the room itself, since its squares lie along the axes.
    """

    def __init__(self, room: Room, pose: Pose, floor: Polygon | MultiPolygon) -> None:
        self.limit, self.pose = room.max_w_per_m2, pose
        corners = pose.back(np.asarray(room.outline))
        self.origin = corners.min(axis=0)
        self.shape = tuple((np.ptp(corners, axis=0) / SQUARE_STEP_MM).astype(int) + 2)
        left, low, right, high = floor.bounds
        x, y = np.meshgrid(
            np.arange(left + SAMPLE_MM / 2, right, SAMPLE_MM),
            np.arange(low + SAMPLE_MM / 2, high, SAMPLE_MM),
            indexing="ij",
        )
        self.area = floor
        shapely.prepare(self.area)
        self.in_room = shapely.transform(self.area, pose.back)
        shapely.prepare(self.in_room)
        self.inside = shapely.contains_xy(self.area, x, y)
        self.first = np.asarray([left, low]) + SAMPLE_MM / 2
        samples = np.column_stack([x[self.inside], y[self.inside]])
        self.cells = self._cells(pose.back(samples))

    def measure(
        self,
        paths: Sequence[FloatArray],
        elements: Sequence[Element],
        spacing_mm: float,
        most_hot: int | None = None,
    ) -> Sampled:
        """Measure elements that are judged by one spacing together, their paths in the pose.

        No more than `most_hot` hot squares are looked for, if given.
        """
        reach = spacing_mm / 2
        wire = [_dense(path) for path in paths]
        near = np.full(self.inside.shape, np.inf)
        _come_near(near, np.vstack(wire)[::2] - self.first, reach + COVER_TOLERANCE_MM)
        apart = near[self.inside]
        warm = apart <= reach
        watts = sum(element.watts for element in elements)
        warm_mm2 = float(warm.sum()) * SAMPLE_MM**2
        floor = _by_four(self._count(self.cells[warm])) * SAMPLE_MM**2
        power = np.zeros(self.shape)
        for points, element in zip(wire, elements, strict=True):
            power += self._count(self._cells(self.pose.back(points))) * (
                element.watts / len(points)
            )
        wire_w = _by_four(power)
        hot = sorted(islice(self._hot(floor, wire_w, paths, reach), most_hot))
        return Sampled(
            covered=float(np.isfinite(apart).mean()),
            mean=watts * 1e6 / warm_mm2 / (self.limit * CAREFUL_MEAN * MEAN_FACTOR),
            hot=tuple(corner for _, corner in hot),
        )

    def _hot(
        self, floor: FloatArray, wire_w: FloatArray, paths: Sequence[FloatArray], reach: float
    ) -> Iterator[tuple[float, Point]]:
        """Squares that get more than is allowed: their W/mm² of warm floor, negative, and corner.

        `floor` is what samples say of them in mm²; what that leaves in doubt is measured.
        """
        limit = self.limit * SQUARE_FACTOR * CAREFUL / 1e6
        counts = floor >= (1 - 2 * DOUBT) * SQUARE_LEAST_MM2
        density = np.divide(wire_w, floor, out=np.zeros_like(floor), where=counts)
        sure = (density > (1 + DOUBT) * limit) & (floor > (1 + 2 * DOUBT) * SQUARE_LEAST_MM2)
        doubtful = np.argwhere(density > (1 - DOUBT) * limit)
        lines = [LineString(self.pose.back(path)) for path in paths] if len(doubtful) else []
        for column, row in doubtful.tolist():
            x, y = self.origin + np.asarray([column, row]) * SQUARE_STEP_MM
            corner = (float(x), float(y))
            if sure[column, row]:
                yield -float(density[column, row]), corner
                continue
            around = (x - reach, y - reach, x + SQUARE_MM + reach, y + SQUARE_MM + reach)
            warm = covered(
                self.in_room.intersection(shapely.box(x, y, x + SQUARE_MM, y + SQUARE_MM)),
                [shapely.clip_by_rect(line, *around) for line in lines],
                [reach] * len(lines),
            )
            if warm.area >= SQUARE_LEAST_MM2 - 1 and wire_w[column, row] > limit * warm.area:
                yield -float(wire_w[column, row] / warm.area), corner

    def _cells(self, points: FloatArray) -> NDArray[np.int64]:
        at = ((points - self.origin) / SQUARE_STEP_MM).astype(np.int64)
        cells: NDArray[np.int64] = at[:, 0] * self.shape[1] + at[:, 1]
        return cells

    def _count(self, cells: NDArray[np.int64]) -> FloatArray:
        size = self.shape[0] * self.shape[1]
        return np.bincount(cells, minlength=size).reshape(self.shape).astype(np.float64)


@compiled
def _come_near(near: FloatArray, points: FloatArray, reach_mm: float) -> None:
    """Lower `near`, distances of samples, to that of each point within reach of them."""
    nx, ny = near.shape
    for point in range(len(points)):
        x, y = points[point, 0], points[point, 1]
        for a in range(
            max(0, int((x - reach_mm) / SAMPLE_MM)), min(nx, int((x + reach_mm) / SAMPLE_MM) + 2)
        ):
            for b in range(
                max(0, int((y - reach_mm) / SAMPLE_MM)),
                min(ny, int((y + reach_mm) / SAMPLE_MM) + 2),
            ):
                apart = np.hypot(a * SAMPLE_MM - x, b * SAMPLE_MM - y)
                if apart <= reach_mm and apart < near[a, b]:
                    near[a, b] = apart


def _dense(path: FloatArray) -> FloatArray:
    """Points along a path, 5 mm apart, so that it can be weighed by their count."""
    step = np.hypot(*np.diff(path, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(step)])
    fine = np.linspace(0, at[-1], max(2, int(at[-1] / STEP_MM)))
    return np.column_stack([np.interp(fine, at, path[:, 0]), np.interp(fine, at, path[:, 1])])


def _by_four(cells: FloatArray) -> FloatArray:
    total: FloatArray = cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]
    return total
