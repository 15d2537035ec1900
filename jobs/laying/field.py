"""The floor as a grid: how far its edge is, what a path warms, and where it stays cold.

Millimetres. A grid's cell (i, j) has its centre at left + (i + 0.5) cell, low + (j + 0.5) cell.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from jobs.laying.compiled import compiled

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CELL_MM = 12.0
BLOCK = 8


@dataclass(frozen=True, slots=True)
class Field:
    """A floor's edges, (m, 4) as x1, y1, x2, y2, and the grid of signed distances to them."""

    edges: FloatArray
    grid: FloatArray
    left: float
    low: float
    cell: float


def field(area: BaseGeometry, *, cell_mm: float = CELL_MM) -> Field:
    """Return the field of a polygon, with a margin of two cells around it."""
    rings = shapely.get_rings(shapely.get_parts(area))
    edges = np.vstack(
        [np.hstack([(c := shapely.get_coordinates(ring))[:-1], c[1:]]) for ring in rings]
    )
    x0, y0, x1, y1 = area.bounds
    nx, ny = int((x1 - x0) / cell_mm) + 5, int((y1 - y0) / cell_mm) + 5
    left, low = x0 - 2 * cell_mm, y0 - 2 * cell_mm
    grid = distance_grid(edges, left, low, cell_mm, nx, ny)
    return Field(edges=edges, grid=grid, left=left, low=low, cell=cell_mm)


def depth_at(floor: Field, points: FloatArray) -> FloatArray:
    """Return how far points lie inside the floor's edge, to a cell."""
    nx, ny = floor.grid.shape
    x = ((points[:, 0] - floor.left) / floor.cell).astype(int).clip(0, nx - 1)
    y = ((points[:, 1] - floor.low) / floor.cell).astype(int).clip(0, ny - 1)
    depth: FloatArray = floor.grid[x, y]
    return depth


@compiled
def edge_distance(edges: FloatArray, x: float, y: float) -> tuple[float, float, float]:
    """Signed distance to the floor's edge (inside positive) and the nearest point of it.

    `edges` is (m, 4): x1, y1, x2, y2 of every ring, outer and inner.
    """
    best, bx, by = 1e18, 0.0, 0.0
    inside = False
    for e in range(len(edges)):
        x1, y1, x2, y2 = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            inside = not inside
        dx, dy = x2 - x1, y2 - y1
        f = ((x - x1) * dx + (y - y1) * dy) / (dx * dx + dy * dy)
        f = min(1.0, max(0.0, f))
        px, py = x1 + f * dx, y1 + f * dy
        d = (x - px) ** 2 + (y - py) ** 2
        if d < best:
            best, bx, by = d, px, py
    d = np.sqrt(best)
    return (d if inside else -d), bx, by


@compiled
def distance_grid(
    edges: FloatArray, left: float, low: float, cell: float, nx: int, ny: int
) -> FloatArray:
    """Signed distance to the floor's edge at the centres of a grid of cells, inside positive.

    Exact near the edge; where a whole block of cells is far from it, the block's own distance.
    """
    grid = np.empty((nx, ny))
    half = 0.5 * BLOCK * cell
    near = half * 1.5 + 2 * cell
    for bx in range(0, nx, BLOCK):
        for by in range(0, ny, BLOCK):
            d = edge_distance(edges, left + bx * cell + half, low + by * cell + half)[0]
            for i in range(bx, min(nx, bx + BLOCK)):
                for j in range(by, min(ny, by + BLOCK)):
                    if abs(d) > near:
                        grid[i, j] = d
                        continue
                    x, y = left + (i + 0.5) * cell, low + (j + 0.5) * cell
                    grid[i, j] = edge_distance(edges, x, y)[0]
    return grid


@compiled
def pull_of_cold_floor(
    path: FloatArray,
    grid: FloatArray,
    left: float,
    low: float,
    cell: float,
    reach: float,
    far: float,
    stride: int,
) -> FloatArray:
    """Sum, for each point, the excess over `reach` (mm) of the floor nearest to it, as vectors.

    Floor farther than `far` from any wire pulls nobody. Only every `stride`th point is pulled.
    """
    nx, ny = grid.shape
    best = np.full((nx, ny), far * far)
    who = np.full((nx, ny), -1, dtype=np.int64)
    for i in range(0, len(path), stride):
        x, y = path[i, 0] - left, path[i, 1] - low
        x0, x1 = max(0, int((x - far) / cell)), min(nx - 1, int((x + far) / cell))
        y0, y1 = max(0, int((y - far) / cell)), min(ny - 1, int((y + far) / cell))
        for a in range(x0, x1 + 1):
            dx = (a + 0.5) * cell - x
            for b in range(y0, y1 + 1):
                dy = (b + 0.5) * cell - y
                d = dx * dx + dy * dy
                if d < best[a, b]:
                    best[a, b] = d
                    who[a, b] = i
    pull = np.zeros((len(path), 2))
    for a in range(nx):
        for b in range(ny):
            i = who[a, b]
            if i < 0 or grid[a, b] < 0 or best[a, b] <= reach * reach:
                continue
            d = np.sqrt(best[a, b])
            w = (d - reach) / d
            pull[i, 0] += w * ((a + 0.5) * cell + left - path[i, 0])
            pull[i, 1] += w * ((b + 0.5) * cell + low - path[i, 1])
    return pull


@compiled
def covered_share(
    path: FloatArray, grid: FloatArray, left: float, low: float, cell: float, reach: float
) -> float:
    """Share of the floor's cells whose centre is within `reach` of a point of the path."""
    nx, ny = grid.shape
    warm = np.zeros((nx, ny), dtype=np.bool_)
    for i in range(len(path)):
        x, y = path[i, 0] - left, path[i, 1] - low
        x0, x1 = max(0, int((x - reach) / cell)), min(nx - 1, int((x + reach) / cell))
        y0, y1 = max(0, int((y - reach) / cell)), min(ny - 1, int((y + reach) / cell))
        for a in range(x0, x1 + 1):
            dx = (a + 0.5) * cell - x
            for b in range(y0, y1 + 1):
                dy = (b + 0.5) * cell - y
                if dx * dx + dy * dy <= reach * reach:
                    warm[a, b] = True
    floor, reached = 0, 0
    for a in range(nx):
        for b in range(ny):
            if grid[a, b] >= 0:
                floor += 1
                reached += warm[a, b]
    return reached / max(floor, 1)
