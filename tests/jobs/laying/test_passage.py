"""Narrow places: found, measured, and gone through once or twice."""

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box

from jobs.laying.lattice import rings_over
from jobs.laying.passage import drawable, passages, through_from, through_once, through_twice

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
    ring = through_twice(RINGS, passages(piece, 128), piece, 60)
    assert visits(ring) >= visits(RINGS[0]) | visits(RINGS[1])
    closed = LineString([*ring, ring[0]])
    assert closed.is_simple
    assert piece.buffer(2).covers(closed)


def test_a_passage_one_wire_wide_is_not_gone_through_twice():
    piece = two_rooms(50)
    assert len(through_twice(RINGS, passages(piece, 128), piece, 60)) == len(RINGS[0])


def test_one_wire_goes_from_beside_the_passage_to_its_far_side():
    piece = two_rooms(50)
    ways = list(through_once(RINGS, passages(piece, 128), piece))
    assert ways
    for way in ways:
        assert visits(way) >= visits(RINGS[0]) | visits(RINGS[1])
    assert any(LineString(way).is_simple for way in ways)


def test_a_way_that_starts_far_off_is_led_to_the_passage():
    piece = two_rooms(50)
    (place,) = passages(piece, 128)
    way = through_from(RINGS[0], RINGS[1], place, piece)
    assert way[0].tolist() == RINGS[0][0].tolist()
    assert visits(way) >= visits(RINGS[0]) | visits(RINGS[1])
    assert LineString(way).is_simple
