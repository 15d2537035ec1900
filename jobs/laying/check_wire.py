"""The rules of a wire by itself: how near it may come to itself and how tightly it may bend.

Paths are (n, 2) arrays in millimetres; chainage is length along the path from its first point.
"""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

FloatArray = NDArray[np.float64]

ALONG = 1.6
"""Points within this many gaps along the wire may be near: half a turn of one gap is 1.571."""

MOST_TURN_RAD = np.radians(22.5)
"""No vertex of an arc turns more: coarser, the polyline is not the wire."""

BEND_ALLOWANCE = 1.03
BEND_ALLOWANCE_RAD = 0.10
SLIDE_STEP_MM = 2.0


def chainages(path: FloatArray) -> FloatArray:
    """Return the length along the path at each of its points."""
    step = np.diff(path, axis=0)
    return np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])


def nearest_to_itself(path: FloatArray, gap_mm: float) -> tuple[float, FloatArray] | None:
    """Return the least distance below `gap_mm` between stretches of wire, and where; None if none.

    Points within 1.6 gaps along the wire do not count. Two segments that do not cross are
    nearest at an end of one of them, so vertices against segments are exact, except for pairs
    exactly 1.6 gaps apart along the wire, which are followed in steps of 2 mm.
    """
    at = chainages(path)
    window = ALONG * gap_mm
    best, where = gap_mm, path[0]

    slide = np.arange(0.0, max(at[-1] - window, 0.0), SLIDE_STEP_MM)
    if len(slide):
        one, other = along(path, at, slide), along(path, at, slide + window)
        apart = np.hypot(*(one - other).T)
        least = int(np.argmin(apart))
        if apart[least] < best:
            best, where = float(apart[least]), one[least]

    segments = np.asarray(shapely.linestrings(np.stack([path[:-1], path[1:]], axis=1)))
    vertex, segment = STRtree(segments).query(
        shapely.points(path), predicate="dwithin", distance=gap_mm
    )
    start, end = at[segment], at[segment + 1]
    for low, high in (
        (np.maximum(start, at[vertex] + window), end),
        (start, np.minimum(end, at[vertex] - window)),
    ):
        counts = high > low
        v, s = vertex[counts], segment[counts]
        if not len(v):
            continue
        length = at[s + 1] - at[s]
        first, last = (low[counts] - at[s]) / length, (high[counts] - at[s]) / length
        apart = _to_part(path[v], path[s], path[s + 1], first, last)
        least = int(np.argmin(apart))
        if apart[least] < best:
            best, where = float(apart[least]), path[v[least]]
    return (best, where) if best < gap_mm else None


def sharpest(path: FloatArray) -> tuple[float, FloatArray]:
    """Return the greatest turn at a vertex in radians, and the vertex."""
    turn = np.abs(turns(path))
    if not len(turn):
        return 0.0, path[0]
    most = int(np.argmax(turn))
    return float(turn[most]), path[most + 1]


def overbent(path: FloatArray, min_bend_mm: float) -> tuple[float, FloatArray] | None:
    """Return by how many radians the heading changes too much over a stretch, and where it begins.

    Looks at every stretch from vertex to vertex up to four radii long. A vertex stands for an arc:
    half its own arc on either side, but never more than half a segment, counts as length.
    """
    turn = turns(path)
    if not len(turn):
        return None
    at = chainages(path)
    step = np.diff(at)
    own = np.abs(turn) * min_bend_mm / 2
    before, after = np.minimum(own, step[:-1] / 2), np.minimum(own, step[1:] / 2)
    inner = at[1:-1]
    total = np.concatenate([[0.0], np.cumsum(turn)])
    worst, where = 0.0, path[0]
    for apart in range(len(turn)):
        n = len(turn) - apart
        length = inner[apart:] - inner[:n]
        near = length <= 4 * min_bend_mm
        if not near.any():
            break
        change = np.abs(total[apart + 1 :] - total[:n])
        stretch = length + before[:n] + after[apart:]
        limit = BEND_ALLOWANCE * stretch / min_bend_mm + BEND_ALLOWANCE_RAD
        over = np.where(near, change - limit, -1.0)
        most = int(np.argmax(over))
        if over[most] > worst:
            worst, where = float(over[most]), path[most + 1]
    return (worst, where) if worst > 0 else None


def bow(path: FloatArray, length_mm: float) -> float:
    """Return how far the first `length_mm` of a path stray from their chord, in mm."""
    at = chainages(path)
    tip = along(path, at, np.array([min(length_mm, at[-1])]))[0]
    chord = tip - path[0]
    reach = float(np.hypot(*chord))
    if reach == 0:
        return length_mm
    inside = path[at < length_mm]
    offset = inside - path[0]
    across = np.abs(offset[:, 0] * chord[1] - offset[:, 1] * chord[0]) / reach
    return float(across.max())


def turns(path: FloatArray) -> FloatArray:
    """Return the signed turn in radians at each inner vertex."""
    step = np.diff(path, axis=0)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    dot = (step[:-1] * step[1:]).sum(axis=1)
    turned: FloatArray = np.arctan2(cross, dot)
    return turned


def along(path: FloatArray, at: FloatArray, chainage: FloatArray) -> FloatArray:
    """Return the points of a path at the given chainages."""
    return np.stack(
        [np.interp(chainage, at, path[:, 0]), np.interp(chainage, at, path[:, 1])], axis=1
    )


def _to_part(
    point: FloatArray, start: FloatArray, end: FloatArray, first: FloatArray, last: FloatArray
) -> FloatArray:
    """Distance from each point to the part [first, last] (fractions) of its segment."""
    run = end - start
    square = np.maximum((run**2).sum(axis=1), 1e-12)
    share = np.clip(((point - start) * run).sum(axis=1) / square, first, last)
    foot = start + run * share[:, None]
    distance: FloatArray = np.hypot(point[:, 0] - foot[:, 0], point[:, 1] - foot[:, 1])
    return distance
