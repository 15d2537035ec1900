"""Where wire has to go when a square gets too much power, and how it is drawn back from there.

Wire that grew over a lattice stands in bumps: each between two neighbours, where it ran straight
before. A bump is drawn back without touching the rest. Millimetres.
"""

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

import numpy as np
import shapely

from jobs.laying.check import SQUARE_MM
from jobs.laying.mat_ground import Ground
from jobs.laying.mat_lattice import Lattice
from jobs.laying.plan import FloatArray
from jobs.laying.pose import Pose
from jobs.outline import Point

NODE_MM = 3.0
"""What a node more in a bump weighs against distance from the edge: some find no other place."""


def drawn_back(
    lattice: Lattice, nodes: Sequence[int], chain: Sequence[int], blocked: Collection[int]
) -> list[int] | None:
    """The way over `nodes` without bumps that blocked nodes lie in; None if the chain is blocked.

    What the wire ran on at its end behind the chain is cut off.
    """
    kept, left = set(chain), list(nodes)
    if not kept.isdisjoint(blocked):
        return None
    while hits := [at for at, node in enumerate(left) if node in blocked]:
        place = {node: at for at, node in enumerate(left)}
        foot, head = _bump(lattice, left, place, kept, hits[0])
        if not kept.isdisjoint(left[foot + 1 : head]):
            return None
        del left[foot + 1 : head]
    return left


def _bump(
    lattice: Lattice,
    nodes: Sequence[int],
    place: Mapping[int, int],
    kept: Collection[int],
    at: int,
) -> tuple[int, int]:
    """The places of the two neighbours between which the smallest bump around a node stands.

    `place` is that of each node. To the end of the way if it stands on no two neighbours.
    """
    foot, head = at - 1, len(nodes)
    for low in range(at - 1, -1, -1):
        if at - low >= head - foot:
            break
        for step in (1, -1, lattice.rows, -lattice.rows):
            high = place.get(nodes[low] + step, -1)
            if at < high < low + head - foot and lattice.step(nodes[low], nodes[high]):
                foot, head = low, high
        if nodes[low] in kept:
            break
    return foot, head


def too_hot(
    ground: Ground,
    ways: Sequence[tuple[Sequence[int], Sequence[int]]],
    by: FloatArray,
    hot: Sequence[Point],
    pose: Pose,
) -> set[int]:
    """For each of the squares that get too much, two nodes to leave without wire.

    `ways` are the nodes of each wire and those of its chain. `hot` are the squares' low corners in
    the room, from which `pose` leads to the lattice; `by` is how far the wire was moved on it.
    Nodes that growth took in go before those of a chain, small bumps before large ones; of these,
    nodes in many such squares, next to the edge, where half of what they give is lost.
    """
    pairs = [(a, b) for nodes, _ in ways for a, b in pairwise(nodes)]
    size = np.concatenate([_bump_sizes(ground.lattice, *way) for way in ways])
    middle = by + np.asarray(
        [np.add(ground.lattice.point(a), ground.lattice.point(b)) / 2 for a, b in pairs]
    )
    in_room = pose.back(ground.frame.back(middle))
    inside = [np.all((in_room > at) & (in_room < np.add(at, SQUARE_MM)), axis=1) for at in hot]
    rank = np.asarray(shapely.distance(shapely.points(middle), ground.area.boundary))
    rank += NODE_MM * size - SQUARE_MM * np.mean(inside, axis=0)
    spots: set[int] = set()
    for within in map(np.flatnonzero, inside):
        if len(within) and not any(spots & set(pairs[at]) for at in within):
            spots |= set(pairs[within[np.argmin(rank[within])]])
    return spots


def _bump_sizes(lattice: Lattice, nodes: Sequence[int], chain: Sequence[int]) -> FloatArray:
    """For each two nodes that follow each other, how many nodes drawing them back takes out.

    More than all of them for those of the chain.
    """
    kept = set(chain)
    place = {node: at for at, node in enumerate(nodes)}
    found = np.full(len(nodes) - 1, len(nodes) + 1.0)
    for at, (a, b) in enumerate(pairwise(nodes)):
        if a not in kept and b not in kept:
            foot, head = _bump(lattice, nodes, place, kept, at)
            found[at] = head - foot - 1
    return found
