"""Where the lines of a lattice lie: the columns and rows that reach most of the floor.

Columns stand in groups that a mat's passes span; between groups there may be less than a column.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon

from jobs.laying.check import SQUARE_LEAST_MM2, SQUARE_STEP_MM

FloatArray = NDArray[np.float64]

OFFSETS = 25
HOT_MM2 = 10_000.0
"""Floor that is lost where a square gets too much: what two nodes warm (an estimate)."""

SECTION_MM = 25.0


@dataclass(frozen=True, slots=True)
class Lines:
    """Places of lines along one axis, and the floor in mm² that they leave unreached."""

    at: tuple[float, ...]
    unreached_mm2: float
    wire_mm: float


class Sections:
    """A floor cut into thin slices along one axis, to judge lines across them quickly.

    `box` are the bounds of the room, from whose corners its squares are counted.
    """

    def __init__(
        self, area: Polygon | MultiPolygon, axis: int, box: tuple[float, float, float, float]
    ) -> None:
        bounds = area.bounds
        low, high = bounds[1 - axis], bounds[3 - axis]
        self.low, self.high = bounds[axis], bounds[axis + 2]
        places = np.arange(low + SECTION_MM / 2, high, SECTION_MM)
        ends = [(self.low - 1, self.high + 1)] * len(places)
        cuts = [
            LineString([(a, p), (b, p)]) if axis == 0 else LineString([(p, a), (p, b)])
            for p, (a, b) in zip(places, ends, strict=True)
        ]
        found, at = [], []
        for place, cut in zip(
            places, shapely.intersection(np.asarray(cuts, dtype=object), area), strict=True
        ):
            for part in getattr(cut, "geoms", [cut]):
                if isinstance(part, LineString) and not part.is_empty:
                    along = [point[axis] for point in part.coords]
                    found.append((min(along), max(along)))
                    at.append(place)
        self.parts = np.asarray(found).reshape(-1, 2)
        ends = [(box[axis], box[axis + 2]), (box[1 - axis], box[3 - axis])]
        self.squares = [
            _Squares.of(self.parts, np.asarray(at), along, across)
            for along in _edges(*ends[0])
            for across in _edges(*ends[1])
        ]

    def judge(self, at: FloatArray, reach_mm: float) -> tuple[float, float]:
        """Floor in mm² farther than `reach_mm` from the lines, and length of line in the floor."""
        start, end = self.parts[:, 0], self.parts[:, 1]
        first = np.searchsorted(at, start - 0.2)
        last = np.searchsorted(at, end + 0.2) - 1
        none = last < first
        first, last = np.minimum(first, len(at) - 1), np.maximum(last, 0)
        ends = np.maximum(0, at[first] - start - reach_mm) + np.maximum(
            0, end - at[last] - reach_mm
        )
        inner = np.maximum(0, np.diff(at) - 2 * reach_mm)
        total = np.concatenate([[0.0], np.cumsum(inner)])
        bare = np.where(none, end - start, ends + total[last] - total[first])
        count = np.where(none, 0, last - first + 1)
        return float(bare.sum()) * SECTION_MM, float(count.sum()) * SECTION_MM

    def hot(self, at: FloatArray, most_mm: float) -> int:
        """How many squares would get more than `most_mm` of line for each mm² of floor."""
        if most_mm == inf:
            return 0
        in_part = ((at >= self.parts[:, :1] - 0.2) & (at <= self.parts[:, 1:] + 0.2)).astype(float)
        return sum(squares.hot(in_part, at, most_mm) for squares in self.squares)


@dataclass(frozen=True, slots=True)
class _Squares:
    """Squares of 400 mm over the slices: the cells of 200 mm they are made of, and their floor.

    `edges` are the cells' edges along the slices, `row` (rows, slices) says which slices lie in
    which row of cells, `floor` is the squares' in mm².
    """

    edges: FloatArray
    row: FloatArray
    floor: FloatArray

    @classmethod
    def of(
        cls, parts: FloatArray, places: FloatArray, along: FloatArray, across: FloatArray
    ) -> "_Squares":
        row = (np.searchsorted(across, places) - 1) == np.arange(len(across) - 1)[:, None]
        start, end = parts[:, :1], parts[:, 1:]
        inside = np.minimum(end, along[1:]) - np.maximum(start, along[:-1])
        floor = row @ np.maximum(0, inside) * SECTION_MM
        return cls(along, row.astype(np.float64), _by_four(floor))

    def hot(self, in_part: FloatArray, at: FloatArray, most_mm: float) -> int:
        """How many squares hold more than `most_mm` of line for each mm² of floor."""
        cell = (np.searchsorted(self.edges, at) - 1)[:, None] == np.arange(len(self.edges) - 1)
        line = _by_four(self.row @ (in_part @ cell)) * SECTION_MM
        return int(((self.floor >= SQUARE_LEAST_MM2) & (line > most_mm * self.floor)).sum())


def _edges(low: float, high: float) -> tuple[FloatArray, FloatArray]:
    """Edges of cells over a stretch, counted from its low end and from its high end."""
    steps: FloatArray = SQUARE_STEP_MM * np.arange(int((high - low) / SQUARE_STEP_MM) + 3.0)
    return low + steps, (high - steps)[::-1]


def _by_four(cells: FloatArray) -> FloatArray:
    total: FloatArray = cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]
    return total


def placed(
    sections: Sections, steps: Sequence[float], reach_mm: float, most_mm: float = inf
) -> list[Lines]:
    """Lines that repeat `steps` over the floor, by their offset: those that leave least first.

    A square of 400 mm with more than `most_mm` of line for each mm² of floor counts as some floor
    that is left, as wire has to be taken out there.
    """
    period = sum(steps)
    marks = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    span = sections.high - sections.low
    repeats = np.arange(-2, span // period + 3) * period
    pattern = np.sort((repeats[:, None] + marks[None, :]).ravel())
    found = []
    count = max(OFFSETS, int(period / 20))
    for number in range(count):
        at = sections.low + number * period / count + pattern
        bare, wire = sections.judge(at, reach_mm)
        margin = _evenness(sections, at)
        low = at[at <= sections.low - 1][-1]
        high = at[at >= sections.high + 1][0]
        inside = at[(at > low) & (at < high)]
        hot = sections.hot(inside, most_mm)
        found.append((bare + margin + HOT_MM2 * hot, Lines((low, *inside, high), bare, wire)))
    found.sort(key=lambda item: item[0])
    return [lines for _, lines in found]


def _evenness(sections: Sections, at: FloatArray) -> float:
    """A little for lines that stand nearer to one wall than to the other."""
    first = at[at >= sections.low - 0.2][0] - sections.low
    last = sections.high - at[at <= sections.high + 0.2][-1]
    return float(abs(first - last)) * 10
