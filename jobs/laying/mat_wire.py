"""A wire on a lattice that grows: an edge moves out over two free nodes, the ends stay.

Growing this way never cuts the wire and never makes it cross itself, whatever the room's shape:
a bump grows through any passage that two passes fit into, and fills what lies behind it.
"""

from collections.abc import Sequence
from heapq import heappop, heappush
from itertools import pairwise
from math import pi, sin

from jobs.laying.mat_lattice import Lattice

CHORDS = 8
"""Chords of a quarter turn: 11.25 degrees a vertex."""

CORNER = 2.0 - 2 * CHORDS * sin(pi / 4 / CHORDS)
"""Wire that a rounded corner saves against a sharp one, in radii."""

LOOSE, MESH, FIXED = 0, 1, 9
"""An edge that may move out freely; one that would be cut out of the mesh; one that must stay."""


CORNERS = 2
"""What two new corners weigh against free nodes around: tried 0 to 3, on twenty rooms."""


class Wire:
    """A path over the nodes of a lattice, as links both ways, with its length after rounding."""

    def __init__(
        self, lattice: Lattice, nodes: Sequence[int], free: Sequence[bool], radius_mm: float
    ) -> None:
        size = len(lattice.inside)
        self.lattice = lattice
        self.right, self.up = lattice.right, lattice.up
        self.first, self.last = nodes[0], nodes[-1]
        self.after = [-1] * size
        self.before = [-1] * size
        self.free = list(free)
        self.level = [LOOSE] * size
        for a, b in pairwise(nodes):
            self.after[a], self.before[b] = b, a
        for node in nodes:
            self.free[node] = False
        self.radius = radius_mm
        self.length = self.length_over(nodes)

    def nodes(self) -> list[int]:
        """The path from the splice to the end."""
        found, node = [], self.first
        while node >= 0:
            found.append(node)
            node = self.after[node]
        return found

    def sides(self, a: int) -> tuple[int, int]:
        """The steps to either side of the edge that leaves node a."""
        rows = self.lattice.rows
        return (rows, -rows) if -1 <= self.after[a] - a <= 1 else (1, -1)

    def can_move(self, a: int, side: int) -> bool:
        """Whether the edge that leaves node a can move out to this side."""
        b = self.after[a]
        c, d = a + side, b + side
        if b < 0 or not (self.free[c] and self.free[d]):
            return False
        along, out = (self.right, self.up) if -1 <= side <= 1 else (self.up, self.right)
        if side > 0:
            return out[a] and out[b] and along[c if c < d else d]
        return out[c] and out[d] and along[c if c < d else d]

    def gain(self, a: int, side: int) -> float:
        """Wire that moving the edge out would take."""
        near, at = self._around(a)
        b = self.after[a]
        out = [*near[: at + 1], a + side, b + side, *near[at + 1 :]]
        return self.length_over(out) - self.length_over(near)

    def move(self, a: int, side: int) -> None:
        """Move the edge that leaves node a out over two free nodes."""
        self.length += self.gain(a, side)
        b = self.after[a]
        c, d = a + side, b + side
        self.after[a], self.after[c], self.after[d] = c, d, b
        self.before[c], self.before[d], self.before[b] = a, c, d
        self.free[c] = self.free[d] = False
        self.level[a] = self.level[c] = self.level[d] = LOOSE

    def _around(self, a: int) -> tuple[list[int], int]:
        """Up to three nodes before a, a itself and up to three after, and the place of a."""
        found = [a]
        for _ in range(3):
            if self.before[found[0]] < 0:
                break
            found.insert(0, self.before[found[0]])
        at = len(found) - 1
        for _ in range(3):
            if self.after[found[-1]] < 0:
                break
            found.append(self.after[found[-1]])
        return found, at

    def length_over(self, nodes: Sequence[int]) -> float:
        """Length over nodes with rounded corners; turns that follow each other share an edge."""
        edges = [self.lattice.length(a, b) for a, b in pairwise(nodes)]
        total = sum(edges)
        turned = -1
        saved: list[float] = []
        for at in range(1, len(nodes) - 1):
            if nodes[at + 1] - nodes[at] == nodes[at] - nodes[at - 1]:
                continue
            radius = self.radius
            if turned == at - 1:
                half = edges[at - 1] / 2
                radius = min(radius, half)
                saved[-1] = min(saved[-1], half)
            saved.append(radius)
            turned = at
        return total - CORNER * sum(saved)

    def append(self, node: int) -> None:
        """Run on from the end to a free neighbour."""
        tail, _ = self._around(self.last)
        self.length += self.length_over([*tail, node]) - self.length_over(tail)
        self.after[self.last], self.before[node] = node, self.last
        self.level[self.last] = LOOSE
        self.free[node] = False
        self.last = node


def fill(wire: Wire, until_mm: float) -> None:
    """Move loose edges out over free nodes until the length is there.

    Where least is free around comes first, and where no new corners come about: long runs take
    up more wire than bumps.
    """
    rows = wire.lattice.rows
    free, after, before, level = wire.free, wire.after, wire.before, wire.level
    around = (1, -1, rows, -rows)
    near = (0, *around)
    queue: list[tuple[int, int, int, int]] = []
    counter = 0

    def tightness(c: int, d: int) -> int:
        return (
            free[c + 1] + free[c - 1] + free[c + rows] + free[c - rows]
            + free[d + 1] + free[d - 1] + free[d + rows] + free[d - rows]
        )  # fmt: skip

    def worth(a: int, b: int, side: int) -> int:
        straight = (a - before[a] == b - a) + (after[b] - b == b - a)
        return tightness(a + side, b + side) + CORNERS * straight

    def offer(a: int) -> None:
        nonlocal counter
        b = after[a]
        if b < 0 or level[a] != LOOSE:
            return
        for side in (rows, -rows) if -1 <= b - a <= 1 else (1, -1):
            if free[a + side] and free[b + side] and wire.can_move(a, side):
                counter += 1
                heappush(queue, (worth(a, b, side), counter, a, side))

    for node in wire.nodes():
        offer(node)
    while queue and wire.length < until_mm:
        score, _, a, side = heappop(queue)
        if level[a] != LOOSE or side not in wire.sides(a) or not wire.can_move(a, side):
            continue
        c, d = a + side, after[a] + side
        if (now := worth(a, after[a], side)) != score:
            counter += 1
            heappush(queue, (now, counter, a, side))
            continue
        wire.move(a, side)
        touched = {n + s for n in (c, d) for s in near}
        for node in touched | {before[n] for n in touched if before[n] >= 0}:
            if not free[node]:
                offer(node)
