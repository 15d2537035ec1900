"""The end of a wire led to where there is floor left, without more wire and without less mesh.

A wire that may end anywhere is joined from its end to a neighbour in the lattice, and cut behind
that: what followed is walked backwards, and the wire ends at the cut.
"""

from collections import deque
from itertools import pairwise

from jobs.laying.mat_wire import LOOSE, Wire

MOST_ENDS = 60
"""Ends that are looked at, the ones reached with the fewest cuts first."""


def led_to_free(wire: Wire) -> bool:
    """Lead the end of a wire to beside a free node; False if no end that was looked at is."""
    steps = (1, -1, wire.lattice.rows, -wire.lattice.rows)
    seen = {wire.last}
    waiting = deque([wire.nodes()])
    while waiting and len(seen) < MOST_ENDS:
        way = waiting.popleft()
        end = way[-1]
        place = {node: at for at, node in enumerate(way)}
        for step in steps:
            at = place.get(end + step, -1)
            if not 0 <= at < len(way) - 2 or not wire.lattice.step(end, end + step):
                continue
            cut = way[at + 1]
            if cut in seen or not _is_loose(wire, way[at], cut):
                continue
            seen.add(cut)
            onward = way[: at + 1] + way[:at:-1]
            if any(wire.free[cut + out] and wire.lattice.step(cut, cut + out) for out in steps):
                _follow(wire, onward)
                return True
            waiting.append(onward)
    return False


def _is_loose(wire: Wire, a: int, b: int) -> bool:
    """Whether two nodes that follow each other may be cut apart; wire that was joined may not."""
    if wire.after[a] == b:
        return wire.level[a] == LOOSE
    return wire.after[b] == a and wire.level[b] == LOOSE


def _follow(wire: Wire, way: list[int]) -> None:
    """Let the wire run over the same nodes in another order."""
    level = {}
    for a, b in pairwise(wire.nodes()):
        level[a, b] = level[b, a] = wire.level[a]
    for a, b in pairwise(way):
        wire.after[a], wire.before[b] = b, a
        wire.level[a] = level.get((a, b), LOOSE)
    wire.last = way[-1]
    wire.after[wire.last] = -1
    wire.length = wire.length_over(way)
