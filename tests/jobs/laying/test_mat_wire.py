"""Wire that grows over a lattice stays one wire, on the floor, with its length known."""

import random
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from jobs.laying.mat_cooling import drawn_back
from jobs.laying.mat_ending import led_to_free
from jobs.laying.mat_lattice import lattice_over
from jobs.laying.mat_mesh import grow, pieces_of
from jobs.laying.mat_path import rounded_path
from jobs.laying.mat_strips import ChainSearch, Strip, run_through, strips_at
from jobs.laying.mat_wire import MESH, Wire, fill

SPAN = 6
LINES = np.arange(-75, 1500, 75.0)


def square(*holes):
    floor = box(0, 0, 1350, 1350)
    for hole in holes:
        floor = floor.difference(box(*hole))
    return lattice_over(floor, LINES, LINES)


def straight(lattice, column=1, first=1, last=8):
    return [column * lattice.rows + row for row in range(first, last + 1)]


def edge_ends(wire):
    nodes = wire.nodes()
    return nodes[0], nodes[-1]


@given(st.integers(0, 10_000))
@settings(derandomize=True, deadline=None, max_examples=40)
def test_growing_keeps_one_wire_that_never_meets_itself_and_knows_its_length(seed):
    dice = random.Random(seed)
    x, y = dice.uniform(150, 900), dice.uniform(150, 900)
    lattice = square((x, y, x + dice.uniform(100, 400), y + dice.uniform(100, 400)))
    nodes = [n for n in straight(lattice, column=1) if lattice.inside[n]]
    wire = Wire(lattice, nodes, lattice.inside, 37.5)
    fill(wire, dice.uniform(2000, 15000))
    grown = wire.nodes()
    assert edge_ends(wire) == (nodes[0], nodes[-1])
    assert len(set(grown)) == len(grown)
    assert all(lattice.step(a, b) for a, b in pairwise(grown))
    path = LineString(rounded_path(lattice, grown, 37.5)[0])
    assert path.is_simple
    assert wire.length == pytest.approx(path.length, abs=0.5)


def test_growing_fills_a_floor_through_a_passage_two_passes_wide():
    lattice = square((640, 0, 700, 600), (640, 690, 700, 1350))
    wire = Wire(lattice, straight(lattice), lattice.inside, 37.5)
    fill(wire, 1e9)
    behind = [n for n, inside in enumerate(lattice.inside) if inside and lattice.point(n)[0] > 700]
    assert behind
    assert sum(not wire.free[n] for n in behind) > 0.9 * len(behind)


def test_growing_stops_as_soon_as_the_length_is_there():
    lattice = square()
    wire = Wire(lattice, straight(lattice), lattice.inside, 37.5)
    fill(wire, 5000)
    assert 5000 <= wire.length <= 5000 + 150


@pytest.mark.parametrize(("passes", "far_side"), [(7, True), (8, False)])
def test_a_strip_of_odd_passes_is_left_on_the_far_side_and_of_even_on_the_near(passes, far_side):
    through = run_through(Strip(2, 8, 1, passes), from_left=True, from_low=True, rows=20)
    assert through[0] == 2 * 20 + 1
    assert divmod(through[-1], 20) == (8 if far_side else 2, passes)
    assert len(through) == 7 * passes


def test_strips_take_all_rows_in_which_a_pass_fits():
    lattice = square((500, 590, 800, 710))
    found = strips_at(lattice, lattice.inside, [1, 8], SPAN)
    low_row, high_row = 1, 19
    assert [(s.left, s.low, s.high) for s in found] == [
        (1, low_row, high_row),
        (8, low_row, 8),
        (8, 11, high_row),
    ]


def test_a_chain_runs_through_every_strip_that_it_can_reach():
    lattice = square()
    strips = strips_at(lattice, lattice.inside, [1, 8], SPAN)
    search = ChainSearch(lattice, lattice.inside, strips, most_passes=100)
    chain = search.from_stub([1 * lattice.rows + 1])
    assert len(chain.strips) == 2
    assert all(lattice.step(a, b) for a, b in pairwise(chain.nodes))
    assert len(set(chain.nodes)) == len(chain.nodes)


def test_a_chain_has_no_more_passes_than_the_mat():
    lattice = square()
    strips = strips_at(lattice, lattice.inside, [1, 8], SPAN)
    search = ChainSearch(lattice, lattice.inside, strips, most_passes=25)
    chain = search.from_stub([1 * lattice.rows + 1])
    assert sum(strip.passes for strip in chain.strips) == 25


def grown(end_mm=0, least=6, until=1e9):
    """Wire in a strip of twelve passes with free floor all around, grown as far as it goes."""
    lattice = square()
    strip = Strip(5, 11, 4, 15)
    nodes = run_through(strip, from_left=True, from_low=True, rows=lattice.rows)
    wire = Wire(lattice, nodes, lattice.inside, 37.5)
    pieces = grow(wire, [strip], until_mm=until, least_passes=least, splice_mm=190, end_mm=end_mm)
    return wire, strip, pieces


@pytest.mark.parametrize(("least", "passes"), [(12, 12), (11, 11)])
def test_an_end_pass_is_given_up_for_floor_beyond_it_only_if_it_may_be(least, passes):
    lattice = lattice_over(box(0, 0, 460, 1350), LINES[:9], LINES)
    strip = Strip(1, 7, 1, 12)
    nodes = run_through(strip, from_left=True, from_low=True, rows=lattice.rows)
    wire = Wire(lattice, nodes, lattice.inside, 37.5)
    pieces = grow(wire, [strip], until_mm=1e9, least_passes=least, splice_mm=190, end_mm=190)
    assert sum(piece.passes for piece in pieces) == passes
    assert pieces == pieces_of(wire, [strip])
    assert (len(wire.nodes()) > len(nodes)) == (passes < 12)


def test_a_mat_that_must_stay_whole_is_not_cut_but_its_end_runs_on():
    wire, strip, pieces = grown(least=12)
    assert pieces == [strip]
    assert len(wire.nodes()) > 200


def test_a_wire_spliced_at_both_ends_keeps_its_end():
    wire, _, _ = grown(end_mm=190)
    assert wire.last == 5 * wire.lattice.rows + 15


def test_the_stiff_splice_stays_straight_where_its_pass_is_given_up():
    lattice = lattice_over(box(0, 0, 460, 1350), LINES[:9], LINES)
    strip = Strip(1, 7, 8, 19)
    nodes = run_through(strip, from_left=True, from_low=True, rows=lattice.rows)
    wire = Wire(lattice, nodes, lattice.inside, 37.5)
    grow(wire, [strip], until_mm=1e9, least_passes=6, splice_mm=190, end_mm=190)
    assert len(wire.nodes()) > len(nodes)
    assert wire.nodes()[:4] == nodes[:4]


def test_a_bump_with_blocked_nodes_is_drawn_back_and_nothing_else():
    lattice = square()
    chain = straight(lattice)
    wire = Wire(lattice, chain, lattice.inside, 37.5)
    for node in (chain[1], chain[4]):  # two bumps, the second two nodes deep
        wire.move(node, lattice.rows)
    deep = chain[4] + lattice.rows
    wire.move(deep, lattice.rows)
    top = [deep + lattice.rows, deep + lattice.rows + 1]
    back = drawn_back(lattice, wire.nodes(), chain, set(top))
    assert back == [node for node in wire.nodes() if node not in top]
    assert drawn_back(lattice, wire.nodes(), chain, {deep, deep + 1}) == [
        node for node in wire.nodes() if node not in {*top, deep, deep + 1}
    ]
    assert drawn_back(lattice, wire.nodes(), chain, {chain[0]}) is None


def test_an_end_that_is_walled_in_is_led_to_where_floor_is_left():
    lattice = square()
    rows = lattice.rows
    column, row = 5, 5
    end = column * rows + row
    spiral = [end - 2 * rows - 1, end - 2 * rows, end - 2 * rows + 1, end - rows + 1, end + 1]
    spiral += [end + rows + 1, end + rows, end + rows - 1, end - 1, end - rows - 1, end - rows, end]
    wire = Wire(lattice, spiral, lattice.inside, 37.5)
    assert led_to_free(wire)
    assert sorted(wire.nodes()) == sorted(spiral)
    assert all(lattice.step(a, b) for a, b in pairwise(wire.nodes()))
    assert wire.first == spiral[0]
    assert any(wire.free[wire.last + step] for step in (1, -1, rows, -rows))
    assert wire.length == pytest.approx(wire.length_over(wire.nodes()))
    assert all(wire.before[b] == a for a, b in pairwise(wire.nodes()))


def test_wire_on_mesh_is_not_cut_to_lead_an_end_elsewhere():
    lattice = lattice_over(box(0, 0, 460, 460), LINES[:9], LINES[:9])
    strip = Strip(1, 7, 2, 7)
    nodes = run_through(strip, from_left=True, from_low=True, rows=lattice.rows)
    wire = Wire(lattice, nodes, lattice.inside, 37.5)
    wire.level = [MESH] * len(wire.level)
    assert not led_to_free(wire)
    assert wire.nodes() == nodes
