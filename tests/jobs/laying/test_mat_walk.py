"""Walks over a lattice reach what is joined to where they begin, the nearest first."""

from itertools import pairwise
from random import Random

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra
from shapely import LineString, box

from jobs.laying.mat_finish import Finishes
from jobs.laying.mat_lattice import lattice_over
from jobs.laying.mat_path import rounded_path
from jobs.laying.mat_strips import ChainSearch, strips_at
from jobs.laying.mat_walk import joined, nearest, runs_of_passes, way_back

LINES = np.arange(-75, 1500, 75.0)


def floor_with_holes(seed):
    dice = Random(seed)
    floor = box(0, 0, 1350, 1350)
    for _ in range(6):
        x, y = dice.uniform(0, 1200), dice.uniform(0, 1200)
        floor = floor.difference(box(x, y, x + dice.uniform(50, 600), y + dice.uniform(50, 300)))
    lattice = lattice_over(floor, LINES, LINES)
    free = np.array(lattice.inside)
    free &= np.array([dice.random() < 0.9 for _ in free])
    return lattice, free


def graph(lattice, free):
    edges = [
        (node, there)
        for node in np.flatnonzero(free).tolist()
        for there in (node + 1, node + lattice.rows)
        if free[there] and lattice.step(node, there)
    ]
    one, other = np.array(edges).T
    return coo_array((np.ones(len(one)), (one, other)), shape=(len(free), len(free))).tocsr()


@pytest.mark.parametrize("seed", range(8))
def test_pieces_are_those_of_the_graph(seed):
    lattice, free = floor_with_holes(seed)
    nodes, begins = joined(lattice.steps, free, lattice.rows)
    assert sorted(nodes.tolist()) == np.flatnonzero(free).tolist()
    _, label = connected_components(graph(lattice, free), directed=False)
    found = [nodes[a:b] for a, b in pairwise(begins)]
    assert all(len(set(label[piece])) == 1 for piece in found)
    assert len({int(label[piece[0]]) for piece in found}) == len(found)


@pytest.mark.parametrize("seed", range(8))
def test_the_nearest_targets_are_found_by_shortest_ways(seed):
    lattice, free = floor_with_holes(seed)
    start = int(np.flatnonzero(free)[0])
    targets = np.zeros(len(free), dtype=bool)
    targets[np.flatnonzero(free)[5::17]] = True
    ends, before = nearest(lattice.steps, free, targets, lattice.rows, start, 3)
    steps = dijkstra(graph(lattice, free & ~targets), directed=False, indices=start)
    for end in ends.tolist():
        way = way_back(before, end)
        assert (way[0], way[-1]) == (start, end)
        assert all(lattice.step(a, b) for a, b in pairwise(way))
        assert targets[end]
        assert not targets[way[1:-1]].any()
        assert len(way) - 2 == steps[way[-2]]
    lengths = [len(way_back(before, end)) for end in ends.tolist()]
    assert lengths == sorted(lengths)


def test_a_chain_spliced_at_both_ends_comes_back_by_a_straight_run():
    lattice = lattice_over(box(0, 0, 1350, 1350), LINES, LINES)
    rows = lattice.rows
    strips = strips_at(lattice, lattice.inside, [1, 8], 6)
    run = [17 * rows + row for row in range(6, 0, -1)]  # down to the wall, at the far side
    search = ChainSearch(lattice, lattice.inside, strips, most_passes=100, finishes=[run])
    chain = search.from_stub([1 * rows + 1])
    assert chain.nodes[-6:] == tuple(run)
    assert len(set(chain.nodes)) == len(chain.nodes)
    assert all(lattice.step(a, b) for a, b in pairwise(chain.nodes))
    assert sum(strip.passes for strip in chain.strips) >= 15


def test_a_chain_that_comes_back_is_not_longer_than_its_wire():
    lattice = lattice_over(box(0, 0, 1350, 1350), LINES, LINES)
    rows = lattice.rows
    strips = strips_at(lattice, lattice.inside, [1, 8], 6)
    run = [17 * rows + row for row in range(6, 0, -1)]
    lengths = []
    for longest in (21_000, 14_000):
        search = ChainSearch(
            lattice, lattice.inside, strips,
            most_passes=100, finishes=[run], longest_mm=longest, radius_mm=37.5,
        )  # fmt: skip
        nodes = search.from_stub([1 * rows + 1]).nodes
        path = rounded_path(lattice, nodes, 37.5)[0]
        lengths.append(LineString(path).length)
        assert lengths[-1] <= longest + 1
    assert lengths[0] > 14_001


def test_without_a_way_to_a_run_there_is_no_chain():
    lattice = lattice_over(box(0, 0, 1350, 1350), LINES, LINES)
    strips = strips_at(lattice, lattice.inside, [1, 8], 6)
    corner = 1 * lattice.rows + 1
    run = [corner + step for step in range(6, -1, -1)]  # the strip itself lies there
    search = ChainSearch(lattice, lattice.inside, strips, most_passes=100, finishes=[run])
    assert search.from_stub([corner]).nodes == ()


def test_a_pass_that_ends_where_a_run_does_needs_no_way():
    finishes = Finishes.of([[3, 2, 1], [30, 20, 10, 0]])
    assert finishes.ends_with(np.array([9, 8, 3, 2, 1]))
    assert not finishes.ends_with(np.array([9, 8, 11, 2, 1]))
    assert not finishes.ends_with(np.array([30, 20, 10]))


def test_a_run_that_is_taken_or_that_the_way_runs_along_is_passed_over():
    lattice = lattice_over(box(0, 0, 1350, 1350), LINES, LINES)
    rows = lattice.rows
    wire = np.array([5 * rows + row for row in range(1, 9)])
    free = np.array(lattice.inside)
    free[wire] = False
    taken = [6 * rows + row for row in (8, 7, 6, 5)]
    free[taken[2]] = False
    run_along = [5 * rows + row for row in (12, 11, 10, 9)]  # its inmost node lies behind it
    good = [12 * rows + row for row in (8, 7, 6, 5)]
    finishes = Finishes.of([taken, run_along, good])
    led = finishes.led_to(wire, free, lattice)
    assert led[-4:].tolist() == good
    assert len(set(led.tolist())) == len(led)


@pytest.mark.parametrize("seed", range(8))
def test_a_strip_is_every_run_of_rows_in_which_a_whole_pass_fits(seed):
    dice = Random(seed)
    floor = box(0, 0, 1350, 1350)
    for _ in range(30):
        x, y = dice.uniform(0, 1300), dice.uniform(0, 1300)
        floor = floor.difference(box(x, y, x + 90, y + 5))
    lattice = lattice_over(floor, LINES, LINES)
    free = np.array(lattice.inside)
    rows = lattice.rows
    for left in range(1, 12):
        fits = [
            all(free[c * rows + r] for c in range(left, left + 4))
            and all(lattice.right[c * rows + r] for c in range(left, left + 3))
            for r in range(rows)
        ]
        runs = runs_of_passes(lattice.steps, free, rows, left, 3).tolist()
        assert sorted(r for low, high in runs for r in range(low, high + 1)) == [
            r for r in range(rows) if fits[r]
        ]
        for low, high in runs:
            for r in range(low, high):
                assert lattice.up[left * rows + r] and lattice.up[(left + 3) * rows + r]  # noqa: PT018
        for (_, end), (begin, _) in pairwise(runs):
            joined_up = [lattice.up[c * rows + end] for c in (left, left + 3)]
            assert begin > end + 1 or not all(joined_up)
