"""Divide a piece of floor among several cables, or keep only as much of it as one can warm.

Areas are mm², lengths mm.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from shapely import Polygon, box
from shapely.affinity import rotate

ROUNDS = 40
SEAM_SPARE_MM = 0.4


def divided(
    piece: Polygon, shares: Sequence[float], gap_mm: float, angle: float
) -> list[list[Polygon]]:
    """Return ways to cut `piece` into parts, one for each of `shares` (fractions of its area).

    Cuts run straight across the direction `angle` (radians) or along it, from either side;
    each part is its largest connected polygon, half of `gap_mm` back from the cut. What the
    shares leave of the floor lies beyond the last cut. The way that loses least comes first.
    """
    if len(shares) == 1 and shares[0] > 0.999:
        return [[piece]]
    turned = rotate(piece, -angle, origin=(0, 0), use_radians=True)
    found = []
    for quarter in range(4):
        stood = rotate(turned, -90 * quarter, origin=(0, 0))
        parts = _slabs(stood, shares, gap_mm)
        if len(parts) == len(shares):
            back = [
                rotate(
                    rotate(part, 90 * quarter, origin=(0, 0)),
                    angle,
                    origin=(0, 0),
                    use_radians=True,
                )
                for part in parts
            ]
            # compact parts have shorter leads and fewer turns
            loss = -sum(p.area for p in parts) / piece.area
            shape = sum(p.length**2 / p.area for p in parts) / len(parts)
            found.append((round(loss, 2), round(shape, 3), quarter, back))
    found.sort(key=lambda way: way[:3])
    return [back for *_, back in found]


def _slabs(piece: Polygon, shares: Sequence[float], gap_mm: float) -> list[Polygon]:
    """Cut across x from the left."""
    x0, y0, x1, y1 = piece.bounds
    cuts = [x0]
    for total in np.cumsum(shares):
        cuts.append(x1 if total > 0.999 else _cut(piece, float(total)))
    parts = []
    for left, right in pairwise(cuts):
        back = gap_mm / 2 + SEAM_SPARE_MM
        low = left + (back if left > x0 else -1)
        high = right - (back if right < x1 else -1)
        if high <= low:
            return []
        slab = piece.intersection(box(low, y0 - 1, high, y1 + 1))
        polygons = [p for p in getattr(slab, "geoms", [slab]) if isinstance(p, Polygon)]
        if not polygons:
            return []
        parts.append(max(polygons, key=lambda p: p.area))
    return parts


def _cut(piece: Polygon, share: float) -> float:
    """The x left of which `share` of a piece lies."""
    low, y0, high, y1 = piece.bounds
    first = low
    for _ in range(ROUNDS):
        middle = (low + high) / 2
        if piece.intersection(box(first - 1, y0 - 1, middle, y1 + 1)).area < share * piece.area:
            low = middle
        else:
            high = middle
    return (low + high) / 2
