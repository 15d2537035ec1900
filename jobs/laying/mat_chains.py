"""Chains of strips for one mat: which strips, in which order, from which end of the lead."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice

from jobs.laying.mat_ground import Ground
from jobs.laying.mat_lattice import Lattice
from jobs.laying.mat_strips import (
    LEAST_PASSES,
    Chain,
    ChainSearch,
    Strip,
    largest_strips,
    strips_at,
)
from jobs.laying.problem import Element

SPLICE_MM = 190.0
"""Straight wire at a splice: the stiff 150 mm and the turn after it."""

END_MM = 350.0
"""The same at the end of the wire, which is cut back by what a step of growth is too much."""

CUT_BACK_MM = 100.0
"""Wire that may be too much: it is cut back from the straight end."""

MOST_SETS = 6
FEW_CHAINS = 2
NEAR_STARTS = 4


def chain_for(
    ground: Ground,
    mat: Element,
    free: Sequence[bool],
    starts: Mapping[int, float],
    *,
    least: int,
    number: int,
) -> Chain | None:
    """Return chain `number` in falling order of promise, None if there is none.

    `starts` are the nodes that a lead comes to, with its length; `least` is how many passes the
    chain must have.
    """
    return next(islice(_chains(ground, mat, free, starts, least), number, None), None)


def _chains(
    ground: Ground, mat: Element, free: Sequence[bool], starts: Mapping[int, float], least: int
) -> Iterator[Chain]:
    """The best chain through each set of strips, then the second best."""
    others: list[Chain] = []
    finishes = None
    if mat.ends == "both":
        finishes = [
            stub[::-1]
            for node in starts
            if free[node]
            for stub in _stubs(ground.lattice, node, END_MM)
        ]
    for strips in _strip_sets(ground, free)[:MOST_SETS]:
        if sum(strip.passes for strip in strips) < least:
            continue
        search = ChainSearch(
            ground.lattice,
            free,
            strips,
            most_passes=int(mat.wire_mm / mat.pass_mm),
            finishes=finishes,
            longest_mm=mat.wire_mm + CUT_BACK_MM,
            radius_mm=mat.spacing_mm / 2,
        )
        found = [search.from_stub([node]) for node in search.corners if node in starts]
        if len(found) < FEW_CHAINS or max(_passes(chain) for chain in found) < least:
            near = sorted((node for node in starts if free[node]), key=lambda node: starts[node])
            for node in near[::NEAR_STARTS][:NEAR_STARTS]:
                found += [
                    search.from_stub(stub) for stub in _stubs(ground.lattice, node, SPLICE_MM)
                ]
        found = [chain for chain in found if _passes(chain) >= least]
        found.sort(key=lambda chain: (-_passes(chain), len(chain.nodes)))
        yield from found[:1]
        others += found[1:2]
    yield from others


def _passes(chain: Chain) -> int:
    return sum(strip.passes for strip in chain.strips)


def _strip_sets(ground: Ground, free: Sequence[bool]) -> list[list[Strip]]:
    """Ways to put strips side by side: most passes first, each also staggered."""
    groups = ground.span + 1
    sets = [
        strips_at(
            ground.lattice,
            free,
            [left for left in ground.lefts if left % groups == phase],
            ground.span,
        )
        for phase in range(groups)
    ]
    sets.append(largest_strips(ground.lattice, free, ground.lefts, ground.span))
    sets.sort(key=lambda strips: (-sum(strip.passes for strip in strips), len(strips)))
    return [
        each for strips in sets if strips for each in (_staggered(strips, groups), strips) if each
    ]


def _staggered(strips: Sequence[Strip], groups: int) -> list[Strip]:
    """Peel passes off so that the open sides of a column's turns face the turns of the next.

    Where open sides face each other, floor between two strips stays cold.
    """
    found = []
    for strip in strips:
        odd = (strip.left // groups) % 2
        if strip.passes % 2:
            low, high = odd, odd
        else:
            low, high = odd, 1 - odd
        peeled = Strip(strip.left, strip.right, strip.low + low, strip.high - high)
        if peeled.passes > LEAST_PASSES:
            found.append(peeled)
    return found


def _stubs(lattice: Lattice, node: int, length_mm: float) -> Iterator[list[int]]:
    """Straight runs for a splice from a node, in every direction that has room."""
    for step in (1, -1, lattice.rows, -lattice.rows):
        way, run = [node], 0.0
        while run < length_mm and lattice.step(way[-1], way[-1] + step):
            run += lattice.length(way[-1], way[-1] + step)
            way.append(way[-1] + step)
        if run >= length_mm:
            yield way
