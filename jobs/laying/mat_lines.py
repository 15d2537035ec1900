"""Where the lines of a lattice lie: the columns and rows that reach most of the floor.

Columns stand in groups that a mat's passes span; between groups there may be less than a column.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon

FloatArray = NDArray[np.float64]

OFFSETS = 25
SECTION_MM = 25.0


@dataclass(frozen=True, slots=True)
class Lines:
    """Places of lines along one axis, and the floor in mm² that they leave unreached."""

    at: tuple[float, ...]
    unreached_mm2: float
    wire_mm: float


class Sections:
    """A floor cut into thin slices along one axis, to judge lines across them quickly."""

    def __init__(self, area: Polygon | MultiPolygon, axis: int) -> None:
        bounds = area.bounds
        low, high = bounds[1 - axis], bounds[3 - axis]
        self.low, self.high = bounds[axis], bounds[axis + 2]
        places = np.arange(low + SECTION_MM / 2, high, SECTION_MM)
        ends = [(self.low - 1, self.high + 1)] * len(places)
        cuts = [
            LineString([(a, p), (b, p)]) if axis == 0 else LineString([(p, a), (p, b)])
            for p, (a, b) in zip(places, ends, strict=True)
        ]
        found = []
        for cut in shapely.intersection(np.asarray(cuts, dtype=object), area):
            for part in getattr(cut, "geoms", [cut]):
                if isinstance(part, LineString) and not part.is_empty:
                    along = [point[axis] for point in part.coords]
                    found.append((min(along), max(along)))
        self.parts = np.asarray(found).reshape(-1, 2)

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


def placed(sections: Sections, steps: Sequence[float], reach_mm: float) -> list[Lines]:
    """Lines that repeat `steps` over the floor, by their offset: those that leave least first.

    For each number of lines that some offset gives, the best offset.
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
        found.append((bare + margin, Lines((low, *inside, high), bare, wire)))
    found.sort(key=lambda item: item[0])
    return [lines for _, lines in found]


def _evenness(sections: Sections, at: FloatArray) -> float:
    """A little for lines that stand nearer to one wall than to the other."""
    first = at[at >= sections.low - 0.2][0] - sections.low
    last = sections.high - at[at <= sections.high + 0.2][-1]
    return float(abs(first - last)) * 10
