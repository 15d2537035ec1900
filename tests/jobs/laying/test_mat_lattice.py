"""Lattices lie where wire may lie, and the ways of a lead end at their edge."""

import math

import numpy as np
import pytest
from shapely import LineString, Polygon, box

from jobs.laying.mat_ground import grounds, pieces, shares
from jobs.laying.mat_lattice import Frame, lattice_over
from jobs.laying.mat_lines import Sections, placed
from jobs.laying.mat_starts import Approaches
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import mats
from tests.jobs.laying.test_problem import bare_room

RING = box(0, 0, 600, 600).difference(box(200, 200, 400, 400))
LINES = np.arange(-50, 651, 75.0)


def test_every_edge_of_a_lattice_lies_in_the_area_and_none_is_left_out():
    lattice = lattice_over(RING, LINES, LINES)
    grown = RING.buffer(0.2, join_style="mitre")
    for node in range(len(lattice.inside)):
        for step, free in ((1, lattice.up), (lattice.rows, lattice.right)):
            if node + step >= len(lattice.inside) or (step == 1 and (node + 1) % lattice.rows == 0):
                continue
            edge = LineString([lattice.point(node), lattice.point(node + step)])
            assert free[node] == grown.covers(edge)


def test_a_frame_turns_there_and_back():
    frame = Frame(math.radians(34))
    points = np.array([[1.0, 2.0], [300.0, -40.0]])
    there = np.array([frame.point_into((x, y)) for x, y in points])
    assert frame.back(there) == pytest.approx(points)
    assert Polygon([*there.tolist(), [0, 0]]).area == pytest.approx(
        Polygon([*points.tolist(), [0, 0]]).area
    )


def test_a_floor_of_whole_pitches_is_reached_from_wall_to_wall():
    best = placed(Sections(box(0, 0, 2200, 2800), 0, (0, 0, 2200, 2800)), [75.0], 39.5)[0]
    assert best.unreached_mm2 == 0
    assert min(best.at[1:-1]) - 0 == pytest.approx(2200 - max(best.at[1:-1]), abs=75 / 25)


def test_lines_keep_off_a_wall_where_a_square_would_hold_two_of_them_and_little_floor():
    floor, room = box(100, 100, 2110, 1900), (0, 0, 2210, 2000)
    best = placed(Sections(floor, 0, room), [75.0], 39.5)[0]
    assert best.at[2] < 210  # two lines in the 110 mm that lie in a square counted from the right
    cool = placed(Sections(floor, 0, room), [75.0], 39.5, 2 / 111)[0]
    assert cool.at[2] > 210
    assert cool.at[-3] < 2000


def test_floor_beyond_the_reach_of_the_outer_lines_counts_as_unreached():
    bare, wire = Sections(box(0, 0, 1000, 500), 0, (0, 0, 1000, 500)).judge(
        np.array([100.0, 200.0]), 39.5
    )
    assert bare == pytest.approx(500 * (60.5 + 21 + 760.5))
    assert wire == pytest.approx(2 * 500)


def test_a_lead_reaches_the_edge_of_the_area_within_its_length_but_no_island():
    island = {"kind": "built_in", "outline": [[900, 1200], [1500, 1200], [1500, 1800], [900, 1800]]}
    room = parse_room(bare_room(elements=mats(), keep_outs=[island], cold_lead_mm=1500))
    ground = grounds(room, room.area, [[entry] for entry in room.elements])[0]
    starts = Approaches(room).nodes(ground.frame, ground.lattice, room.cold_lead_mm)
    assert starts
    for node, lead in starts.items():
        x, y = ground.frame.back(np.array([ground.lattice.point(node)]))[0]
        straight = math.dist((x, y), room.control)
        assert straight - 50 <= lead <= 1500
        assert min(x, 2400 - x, y, 3000 - y) < 180


@pytest.mark.parametrize("parts", [(1, 1), (3, 1), (2, 1, 1)])
def test_shares_are_connected_disjoint_and_as_large_as_asked(parts):
    lattice = lattice_over(RING, LINES, LINES)
    piece = pieces(lattice, lattice.inside)[0]
    found = list(shares(lattice, piece, parts))
    assert found
    for some in found:
        assert sum(len(share) for share in some) == len(frozenset().union(*some))
        for share, part in zip(some, parts, strict=True):
            free = [node in share for node in range(len(lattice.inside))]
            assert len(pieces(lattice, free)) == 1
            assert len(share) == pytest.approx(len(piece) * part / sum(parts), abs=4)


def test_no_cut_leaves_a_part_of_the_floor_to_nobody():
    arms = box(0, 0, 1200, 1200).difference(box(300, 300, 900, 1200))
    lines = np.arange(-50, 1251, 75.0)
    lattice = lattice_over(arms, lines, lines)
    piece = pieces(lattice, lattice.inside)[0]
    for some in shares(lattice, piece, (1, 1)):
        assert sum(len(share) for share in some) >= 0.97 * len(piece)
