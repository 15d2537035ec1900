"""Where a cold lead can come to: the floor outside the heatable area, walked from the control.

No wire lies out there, so a lead along it crosses none, wherever the wire runs. Millimetres.
"""

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import KDTree
from shapely import Polygon, unary_union

from jobs.laying.mat_lattice import Frame, Lattice
from jobs.laying.problem import Room

GRID_MM = 20.0
CLEAR_MM = 20.0
APPROACH_MM = 140.0
"""The last 150 mm of a lead may run near wire."""

FloatArray = NDArray[np.float64]


class Approaches:
    """Places outside the heatable area that the lead reaches, with the lead that it takes."""

    def __init__(self, room: Room) -> None:
        solid = unary_union(
            [
                room.area.buffer(CLEAR_MM),
                *(Polygon(k.outline) for k in room.keep_outs if k.kind != "door_swing"),
            ]
        )
        free = room.floor.buffer(1).difference(solid)
        shapely.prepare(free)
        left, low, right, high = room.floor.bounds
        x, y = np.meshgrid(
            np.arange(left, right + 1, GRID_MM), np.arange(low, high + 1, GRID_MM), indexing="ij"
        )
        open_ = shapely.contains_xy(free, x, y)
        number = np.full(open_.shape, -1)
        number[open_] = np.arange(int(open_.sum()))
        self.points = np.column_stack([x[open_], y[open_]])
        self.lead_mm = np.full(len(self.points), np.inf)
        if not len(self.points):
            return
        start = np.hypot(*(self.points - np.asarray(room.control)).T)
        near = int(np.argmin(start))
        if start[near] < 3 * GRID_MM:
            self.lead_mm = start[near] + dijkstra(_steps(number), directed=False, indices=near)
        known = np.isfinite(self.lead_mm)
        self.points, self.lead_mm = self.points[known], self.lead_mm[known]

    def nodes(self, frame: Frame, lattice: Lattice, longest_mm: float) -> dict[int, float]:
        """Nodes of the lattice that a lead can end at without crossing wire, with its length."""
        if not len(self.points):
            return {}
        tree = KDTree(self.points)
        rows = lattice.rows
        nodes, probes = [], []
        for node, inside in enumerate(lattice.inside):
            if not inside:
                continue
            for step, way in ((1, (0, 1)), (-1, (0, -1)), (rows, (1, 0)), (-rows, (-1, 0))):
                if lattice.step(node, node + step):
                    continue
                px, py = lattice.point(node)
                for out in (40.0, 70.0, 100.0):
                    nodes.append((node, out))
                    probes.append((px + out * way[0], py + out * way[1]))
        if not nodes:
            return {}
        apart, place = tree.query(
            frame.back(np.asarray(probes)), distance_upper_bound=1.2 * GRID_MM
        )
        found: dict[int, float] = {}
        for (node, out), d, at in zip(nodes, apart, place, strict=True):
            if np.isfinite(d) and (lead := float(self.lead_mm[at] + out + d)) <= longest_mm:
                found[node] = min(lead, found.get(node, np.inf))
        return found


def _steps(number: NDArray[np.int64]) -> coo_array:
    """Distances between neighbouring open places of a grid, also across corners."""
    pairs, lengths = [], []
    for a, b, mm in (
        (number[:-1, :], number[1:, :], GRID_MM),
        (number[:, :-1], number[:, 1:], GRID_MM),
        (number[:-1, :-1], number[1:, 1:], GRID_MM * 2**0.5),
        (number[1:, :-1], number[:-1, 1:], GRID_MM * 2**0.5),
    ):
        both = (a >= 0) & (b >= 0)
        pairs.append(np.column_stack([a[both], b[both]]))
        lengths.append(np.full(int(both.sum()), mm))
    ends = np.vstack(pairs)
    size = int(number.max()) + 1
    return coo_array(
        (np.concatenate(lengths), (ends[:, 0], ends[:, 1])), shape=(size, size)
    ).tocsr()
