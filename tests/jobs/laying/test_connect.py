"""What a plan says that it gave up."""

from shapely import box, union_all

from jobs.laying.connect import _because
from jobs.laying.problem import parse_room
from tests.jobs.laying.test_problem import bare_room

ROOM = parse_room(bare_room())


def test_floor_out_of_reach_is_told_from_corners():
    patch = box(100, 100, 700, 600)
    corners = union_all([box(x, 1500, x + 100, 1600) for x in range(100, 1000, 200)])
    total, reach, rest = _because(ROOM, patch.union(corners))
    assert total.startswith("0.35 m² (")
    assert reach.startswith("0.30 m² of them the wire does not reach")
    assert reach.endswith("1 place of 0.05 m² or more.")
    assert rest.startswith("0.05 m² of them are corners")


def test_little_cold_floor_is_not_worth_a_sentence():
    assert _because(ROOM, box(100, 100, 200, 200)) == ()
