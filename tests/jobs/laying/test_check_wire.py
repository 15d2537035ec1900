"""The wire's own rules on lines whose answer is known."""

import numpy as np
import pytest

from jobs.laying.check_wire import bow, nearest_to_itself, overbent, sharpest


def half_turn(radius, *, legs=500.0, degrees=10.0):
    """Two legs and the half-turn between them, as a polyline with a vertex every `degrees`."""
    turn = np.radians(np.arange(-90, 90 + degrees / 2, degrees))
    arc = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    return np.vstack([[-legs, -radius], arc, [-legs, radius]])


@pytest.mark.parametrize(("apart", "near"), [(60, None), (58, 58), (50, 50)])
def test_legs_nearer_than_the_gap_are_found(apart, near):
    found = nearest_to_itself(half_turn(apart / 2), 59)
    assert found is None if near is None else found[0] == pytest.approx(near, abs=0.5)


def test_a_half_turn_of_the_gap_itself_is_near_along_the_wire_only():
    assert nearest_to_itself(half_turn(30, legs=5), 59) is None


def test_a_point_of_wire_against_the_middle_of_a_long_run_is_found():
    path = np.array([[0, 0], [2000, 0], [2000, 500], [1000, 500], [1000, 40]], dtype=float)
    assert nearest_to_itself(path, 59)[0] == pytest.approx(40)


def test_a_half_turn_at_the_least_radius_is_allowed_and_a_tighter_one_is_not():
    assert overbent(half_turn(30), 30) is None
    assert overbent(half_turn(26), 30) is not None


def test_coarse_vertices_do_not_hide_a_tight_bend():
    assert overbent(half_turn(22, degrees=22.5), 30) is not None
    assert overbent(half_turn(30, degrees=22.5), 30) is None


def test_the_sharpest_vertex_is_found():
    path = np.array([[0, 0], [100, 0], [200, 30], [300, 130]], dtype=float)
    turn, where = sharpest(path)
    assert np.degrees(turn) == pytest.approx(45 - np.degrees(np.arctan2(30, 100)))
    assert where.tolist() == [200, 30]


def test_a_bow_is_measured_against_its_chord():
    path = np.array([[0, 0], [75, 3], [150, 0], [500, 0]], dtype=float)
    assert bow(path, 150) == pytest.approx(3, abs=0.1)
