"""Narrow places: found, measured, and gone through once or twice."""

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box
from shapely.affinity import translate

from jobs.laying.lattice import rings_over
from jobs.laying.passage import (
    beside,
    chains,
    drawable,
    passable,
    passages,
    through_once,
    through_twice,
)

PITCH = 80.0


def two_rooms(opening):
    """Two floors of 1.2 m joined by a passage 300 mm long, in the middle of their sides."""
    low = 600 - opening / 2
    return Polygon([
        (0, 0), (1200, 0), (1200, low), (1500, low), (1500, 0), (2700, 0), (2700, 1200),
        (1500, 1200), (1500, low + opening), (1200, low + opening), (1200, 1200), (0, 1200),
    ])  # fmt: skip


def ring_over(left):
    found = rings_over(np.ones((14, 14), dtype=bool), parity=0, lean=1)[0]
    return (found + 0.5) * PITCH + (left + 40, 40)


RINGS = [ring_over(0), ring_over(1500)]


def visits(way):
    return {tuple(node) for node in np.round(way, 3).tolist()}


@pytest.mark.parametrize("opening", [50, 100])
def test_a_passage_is_found_with_its_width(opening):
    (place,) = passages(two_rooms(opening), 128)
    assert place.width_mm == pytest.approx(opening, abs=1)
    assert abs(place.one[1] - 600) < 2
    assert abs(place.other[1] - 600) < 2
    assert sorted([place.one[0], place.other[0]]) == pytest.approx([1200, 1500], abs=40)


def test_a_wide_opening_is_no_passage():
    assert passages(two_rooms(200), 128) == []


def test_a_slot_is_left_out_and_a_passage_kept():
    piece = two_rooms(50).union(box(-300, 500, 1, 540))
    floor = drawable(piece, passages(piece, 128), 58)
    assert not floor.covers(Point(-200, 520))
    assert floor.covers(LineString([(1210, 600), (1490, 600)]))
    assert isinstance(floor, Polygon)


def test_two_wires_side_by_side_make_one_ring_of_two():
    piece = two_rooms(100)
    (ring,) = through_twice(RINGS, passages(piece, 128), passable(piece), 60)
    assert visits(ring) >= visits(RINGS[0]) | visits(RINGS[1])
    closed = LineString([*ring, ring[0]])
    assert closed.is_simple
    assert piece.buffer(2).covers(closed)


def test_a_passage_one_wire_wide_is_not_gone_through_twice():
    piece = two_rooms(50)
    assert len(through_twice(RINGS, passages(piece, 128), passable(piece), 60)) == 2


def far_from(ring, mouth):
    """The ring cut some way behind the corner that is farthest from a mouth."""
    at = int(np.argmax(np.hypot(*(ring - mouth).T)))
    return np.roll(ring, -at - 6, axis=0)


def test_one_wire_goes_from_beside_the_passage_to_its_far_side():
    piece, floor = two_rooms(50), passable(two_rooms(50))
    both, *_ = chains(RINGS, passages(piece, 128), floor)
    way = next(through_once(both, beside(both.rings[0], both.gates[0][0], floor), None, floor))
    assert visits(way) >= visits(RINGS[0]) | visits(RINGS[1])
    assert LineString(way).is_simple


def test_a_way_that_must_start_and_end_far_off_is_led_through_the_passage():
    piece, floor = two_rooms(50), passable(two_rooms(50))
    both, *_ = chains(RINGS, passages(piece, 128), floor)
    (near, far) = both.gates[0]
    first, last = far_from(both.rings[0], near), far_from(both.rings[1], far)
    way = next(through_once(both, [first], [last], floor))
    assert way[0].tolist() == first[0].tolist()
    assert way[-1].tolist() == last[0].tolist()
    assert visits(way) >= visits(RINGS[0]) | visits(RINGS[1])
    assert LineString(way).is_simple


def test_three_rooms_in_a_row_are_one_chain_from_either_end():
    middle = two_rooms(50)
    row = middle.union(translate(middle, 1500))
    rings = [*RINGS, ring_over(3000)]
    floor = passable(row)
    longest = chains(rings, passages(row, 128), floor)[0]
    assert {ring[0].tolist()[0] // 1500 for ring in longest.rings[::2]} == {0, 2}
    way = next(
        through_once(longest, beside(longest.rings[0], longest.gates[0][0], floor), None, floor)
    )
    assert visits(way) >= set().union(*(visits(ring) for ring in rings))
    assert LineString(way).is_simple
