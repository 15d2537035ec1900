"""A closed way through the nodes of a lattice: the course of a wire before it is drawn out.

A node stands for one pitch by one pitch of floor. Runs of two rows are rings; neighbouring rings
are joined where a square of four nodes has an edge of each (the two edges are exchanged for the
other two), which is how a spanning tree is walked around; what is left over is taken in as bumps.
`right[x, y]` is the edge from (x, y) to (x + 1, y), `up[x, y]` that from (x, y) to (x, y + 1).
All kernels are compiled and work in place on arrays of the lattice's shape.
"""

import numpy as np
from numpy.typing import NDArray

from jobs.laying.compiled import compiled

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

FREE = -1
LEAST_RING = 16
"""A ring of fewer nodes that cannot be joined gives its nodes to its neighbours."""


def rings_over(inside: BoolArray, *, parity: int, lean: int, apart: bool = False) -> list[IntArray]:
    """Return rings over the nodes of `inside`, each (n, 2) in order, the longest first.

    Rows run along the first axis and are paired from row `parity`; `lean` (+1 or -1) says at
    which end of the rows equally good joints are made: the return pass runs there. The longest
    ring takes in what it can of the others' nodes, unless they are to stay `apart`. There is no
    ring if no two rows lie side by side.
    """
    size = inside.shape
    right, up = np.zeros(size, dtype=np.bool_), np.zeros(size, dtype=np.bool_)
    ring = np.full(size, FREE, dtype=np.int64)
    number = _tile(inside, right, up, ring, parity)
    if not number:
        return []
    _join(right, up, ring, number, lean)
    nodes = np.bincount(ring[ring >= 0])
    order = np.argsort(-nodes, kind="stable")
    found: list[IntArray] = []
    taken = np.zeros(size, dtype=np.bool_)
    for keep in order[nodes[order] > 0]:
        way = _walk(right, up, ring, int(keep))
        if taken[way[:, 0], way[:, 1]].any():
            continue
        free = inside & ~taken
        if apart:
            free &= (ring == FREE) | (ring == keep) | (nodes[ring] < LEAST_RING)
        way = absorbed(way, free, inside.size)
        taken[way[:, 0], way[:, 1]] = True
        found.append(way)
    return found


@compiled
def _tile(inside: BoolArray, right: BoolArray, up: BoolArray, ring: IntArray, parity: int) -> int:
    """Put rings two wide on the nodes, along the rows first; returns how many rings."""
    nx, ny = inside.shape
    number = 0
    for first in (parity, 1 - parity):
        for y in range(first, ny - 1, 2):
            x = 0
            while x < nx:
                start = x
                while (
                    x < nx
                    and inside[x, y]
                    and inside[x, y + 1]
                    and ring[x, y] == FREE
                    and ring[x, y + 1] == FREE
                ):
                    x += 1
                if x - start >= 2:
                    for k in range(start, x):
                        ring[k, y] = ring[k, y + 1] = number
                        if k < x - 1:
                            right[k, y] = right[k, y + 1] = True
                    up[start, y] = up[x - 1, y] = True
                    number += 1
                if x == start:
                    x += 1
    for first in (0, 1):
        for x in range(first, nx - 1, 2):
            y = 0
            while y < ny:
                start = y
                while (
                    y < ny
                    and inside[x, y]
                    and inside[x + 1, y]
                    and ring[x, y] == FREE
                    and ring[x + 1, y] == FREE
                ):
                    y += 1
                if y - start >= 2:
                    for k in range(start, y):
                        ring[x, k] = ring[x + 1, k] = number
                        if k < y - 1:
                            up[x, k] = up[x + 1, k] = True
                    right[x, start] = right[x, y - 1] = True
                    number += 1
                if y == start:
                    y += 1
    return number


@compiled
def _exchange(right: BoolArray, up: BoolArray, x: int, y: int) -> None:
    right[x, y], right[x, y + 1] = not right[x, y], not right[x, y + 1]
    up[x, y], up[x + 1, y] = not up[x, y], not up[x + 1, y]


@compiled
def _is_corner(right: BoolArray, x: int, y: int) -> bool:
    return (1 if right[x, y] else 0) + (1 if x > 0 and right[x - 1, y] else 0) == 1


@compiled
def _square_corners(right: BoolArray, x: int, y: int) -> int:
    total = 0
    for a in range(2):
        for b in range(2):
            total += 1 if _is_corner(right, x + a, y + b) else 0
    return total


@compiled
def _root(parent: IntArray, at: int) -> int:
    while parent[at] != at:
        parent[at] = parent[parent[at]]
        at = int(parent[at])
    return at


@compiled
def _join(right: BoolArray, up: BoolArray, ring: IntArray, number: int, lean: int) -> None:
    """Join rings where squares allow it, fewest new corners first, until none can be."""
    nx, ny = ring.shape
    parent = np.arange(number)
    again = True
    while again:
        again = False
        for most in range(-4, 5):
            for column in range(nx - 1):
                x = column if lean > 0 else nx - 2 - column
                for y in range(ny - 1):
                    if ring[x, y] < 0 or ring[x + 1, y + 1] < 0:
                        continue
                    rows = right[x, y] and right[x, y + 1] and not up[x, y] and not up[x + 1, y]
                    cols = up[x, y] and up[x + 1, y] and not right[x, y] and not right[x, y + 1]
                    if not rows and not cols:
                        continue
                    a = _root(parent, ring[x, y])
                    b = _root(parent, ring[x + 1, y + 1])
                    if a == b:
                        continue
                    before = _square_corners(right, x, y)
                    _exchange(right, up, x, y)
                    if _square_corners(right, x, y) - before > most:
                        _exchange(right, up, x, y)
                        continue
                    parent[b] = a
                    again = True
    for x in range(nx):
        for y in range(ny):
            if ring[x, y] >= 0:
                ring[x, y] = _root(parent, ring[x, y])


@compiled
def absorbed(way: IntArray, inside: BoolArray, most: int) -> IntArray:
    """Return the ring `way` with pairs of free nodes of `inside` taken in as bumps.

    At most `most` nodes are taken, those first that make the fewest new corners.
    """
    n = len(way)
    nx, ny = inside.shape
    cap = nx * ny
    after = np.full(cap, -1, dtype=np.int64)
    free = np.zeros(cap, dtype=np.bool_)
    for x in range(nx):
        for y in range(ny):
            free[x * ny + y] = inside[x, y]
    for k in range(n):
        a, b = way[k], way[(k + 1) % n]
        after[a[0] * ny + a[1]] = b[0] * ny + b[1]
        free[a[0] * ny + a[1]] = False
    start = way[0, 0] * ny + way[0, 1]
    taken = 0
    for corners in (2, 1, 0):
        again = True
        while again:
            again = False
            node, last = start, -1
            for _ in range(n):
                if after[node] == start:
                    last = node
                node = after[node]
            before, node = last, start
            while True:
                nxt = after[node]
                x, y, ex, ey = node // ny, node % ny, nxt // ny, nxt % ny
                beyond = after[nxt]
                bent = 0
                if x - before // ny != ex - x or y - before % ny != ey - y:
                    bent += 1
                if beyond // ny - ex != ex - x or beyond % ny - ey != ey - y:
                    bent += 1
                if bent >= corners and taken + 2 <= most:
                    for side in (-1, 1):
                        dx, dy = -(ey - y) * side, (ex - x) * side
                        cx, cy, fx, fy = x + dx, y + dy, ex + dx, ey + dy
                        if min(cx, fx) < 0 or max(cx, fx) >= nx or min(cy, fy) < 0:
                            continue
                        if max(cy, fy) >= ny:
                            continue
                        c, d = cx * ny + cy, fx * ny + fy
                        if free[c] and free[d]:
                            after[node], after[c], after[d] = c, d, nxt
                            free[c] = free[d] = False
                            taken += 2
                            n += 2
                            again = True
                            break
                before, node = node, nxt
                if node == start:
                    break
    out = np.empty((n, 2), dtype=np.int64)
    node = start
    for k in range(n):
        out[k, 0], out[k, 1] = node // ny, node % ny
        node = after[node]
    return out


@compiled
def _walk(right: BoolArray, up: BoolArray, ring: IntArray, keep: int) -> IntArray:
    """Return the nodes of ring `keep` in the order of the wire, not closed."""
    nx, ny = ring.shape
    count, sx, sy = 0, -1, -1
    for x in range(nx):
        for y in range(ny):
            if ring[x, y] == keep:
                count += 1
                if sx < 0:
                    sx, sy = x, y
    way = np.empty((count, 2), dtype=np.int64)
    x, y, px, py = sx, sy, -1, -1
    for k in range(count):
        way[k, 0], way[k, 1] = x, y
        for side in range(4):
            dx, dy = (1, -1, 0, 0)[side], (0, 0, 1, -1)[side]
            qx, qy = x + dx, y + dy
            if qx < 0 or qy < 0 or qx >= nx or qy >= ny or (qx == px and qy == py):
                continue
            linked = right[min(x, qx), y] if dy == 0 else up[x, min(y, qy)]
            if linked:
                px, py, x, y = x, y, qx, qy
                break
    return way


@compiled
def corners_of(way: IntArray) -> int:
    """How many nodes of a ring it turns at."""
    n = len(way)
    total = 0
    for k in range(n):
        a, b, c = way[k - 1], way[k], way[(k + 1) % n]
        if b[0] - a[0] != c[0] - b[0] or b[1] - a[1] != c[1] - b[1]:
            total += 1
    return total
