"""Walks over a lattice, compiled: the nearest of some nodes, and what is joined to what.

`steps` is (nodes, 4): whether wire may run from a node up, down, right and left, in this order.
"""

import numpy as np
from numpy.typing import NDArray

from jobs.laying.compiled import compiled

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@compiled
def nearest(
    steps: BoolArray, free: BoolArray, targets: BoolArray, rows: int, start: int, most: int
) -> tuple[IntArray, IntArray]:
    """The `most` nearest targets from `start` over free nodes, and each node's one before it.

    Targets end a walk, whether they are free or not.
    """
    before = np.full(len(free), -2, dtype=np.int64)
    before[start] = -1
    queue = np.empty(len(free), dtype=np.int64)
    queue[0] = start
    ends = np.empty(most, dtype=np.int64)
    first, last, found = 0, 1, 0
    while first < last and found < most:
        node = queue[first]
        first += 1
        for way in range(4):
            if not steps[node, way]:
                continue
            there = node + (1, -1, rows, -rows)[way]
            if before[there] != -2:
                continue
            if targets[there]:
                before[there] = node
                if found < most:
                    ends[found] = there
                    found += 1
            elif free[there]:
                before[there] = node
                queue[last] = there
                last += 1
    return ends[:found], before


def way_back(before: IntArray, node: int) -> list[int]:
    """The nodes from where a walk began to `node`."""
    way = [node]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return way[::-1]


@compiled
def joined(steps: BoolArray, free: BoolArray, rows: int) -> tuple[IntArray, IntArray]:
    """The free nodes, piece by connected piece, and where in that list each piece begins.

    The list of beginnings ends with the number of nodes.
    """
    seen = ~free
    nodes = np.empty(len(free), dtype=np.int64)
    begins = np.empty(len(free) + 1, dtype=np.int64)
    last, count = 0, 0
    for start in range(len(free)):
        if seen[start]:
            continue
        begins[count] = last
        count += 1
        seen[start] = True
        nodes[last] = start
        at = last
        last += 1
        while at < last:
            node = nodes[at]
            at += 1
            for way in range(4):
                there = node + (1, -1, rows, -rows)[way]
                if steps[node, way] and not seen[there]:
                    seen[there] = True
                    nodes[last] = there
                    last += 1
    begins[count] = last
    return nodes[:last], begins[: count + 1]


@compiled
def runs_of_passes(steps: BoolArray, free: BoolArray, rows: int, left: int, span: int) -> IntArray:
    """First and last row of each run of whole passes from column `left` on, (runs, 2).

    Rows of a run are joined at both ends of their passes.
    """
    runs = np.empty((rows, 2), dtype=np.int64)
    count, low = 0, -1
    for row in range(rows):
        start, end = left * rows + row, (left + span) * rows + row
        fits = free[end]
        for node in range(start, end, rows):
            fits = fits and free[node] and steps[node, 2]
        turns = low < 0 or (steps[start, 1] and steps[end, 1])
        if low >= 0 and not (fits and turns):
            runs[count] = (low, row - 1)
            count += 1
            low = -1
        if fits and low < 0:
            low = row
    # the topmost row lies outside the area, so every run has ended
    return runs[:count]
