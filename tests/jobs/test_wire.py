from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.wire import UnusableWire, chainage_at, fault_spots, point_at, runs, stretch, wire
from tests.jobs.floors import meander

LAID = wire(meander(150, 2850, 150, 1500, 75))


def test_chainage_is_the_length_along_the_path():
    laid = wire([(0, 0), (3000, 0), (3000, 400)])
    assert laid.chainage_mm == (0, 3000, 3400)
    assert point_at(laid, 3200) == (3000, 200)
    assert point_at(laid, 0) == (0, 0)
    assert point_at(laid, 3400) == (3000, 400)


@given(st.floats(0, 1))
def test_a_metre_and_its_place_find_each_other(share):
    chainage = share * LAID.length_mm
    found, distance = chainage_at(LAID, point_at(LAID, chainage))
    assert distance == pytest.approx(0, abs=1e-6)
    assert found == pytest.approx(chainage, abs=1e-6)


def test_chainage_of_its_own_is_kept():
    laid = wire([(0, 0), (1000, 0), (2000, 0)], [0, 1500, 2000])
    assert point_at(laid, 750) == (500, 0)
    assert chainage_at(laid, (500, 30)) == (750, 30)


@pytest.mark.parametrize(
    ("points", "chainage"),
    [
        ([(0, 0)], None),
        ([(0, 0), (0, 0)], None),
        ([(0, 0), (float("nan"), 0)], None),
        ([(0, 0), (1, 0)], [0]),
        ([(0, 0), (1, 0)], [1, 2]),
        ([(0, 0), (1, 0), (2, 0)], [0, 2, 1]),
    ],
)
def test_what_is_no_wire_is_refused(points, chainage):
    with pytest.raises(UnusableWire):
        wire(points, chainage)


@pytest.mark.parametrize("chainage", [-1, LAID.length_mm + 1])
def test_a_metre_that_is_not_there_is_refused(chainage):
    with pytest.raises(UnusableWire, match="beyond this wire"):
        point_at(LAID, chainage)


def test_a_stretch_has_its_own_length():
    points = stretch(LAID, 4000, 9000)
    assert wire(points).length_mm == pytest.approx(5000)


def test_runs_are_the_straight_passes_in_order():
    found = runs(LAID)
    assert len(found) == 19
    assert [run.number for run in found] == list(range(1, 20))
    assert (found[0].start, found[0].end) == ((150, 150), (2850, 150))
    assert (found[1].start, found[1].end) == ((2850, 225), (150, 225))
    assert all(run.to_mm - run.from_mm == pytest.approx(2700) for run in found)


def test_points_in_the_middle_of_a_run_do_not_end_it():
    laid = wire([(0, 0), (500, 0.001), (1000, 0), (1000, 400)])
    assert [(run.start, run.end) for run in runs(laid)] == [
        ((0, 0), (1000, 0)),
        ((1000, 0), (1000, 400)),
    ]


def test_both_candidates_of_a_twin_core_are_placed():
    first, second = fault_spots(LAID, [(0.3, 0.01), (0.7, 0.01)])
    assert (first.label, second.label) == ("F1", "F2")
    assert first.chainage_mm == pytest.approx(0.3 * LAID.length_mm)
    assert wire(first.band).length_mm == pytest.approx(0.02 * LAID.length_mm)
    assert point_at(LAID, first.chainage_mm) == first.at


def test_one_candidate_is_just_f_and_its_band_ends_with_the_wire():
    (spot,) = fault_spots(LAID, [(0.995, 0.02)])
    assert spot.label == "F"
    assert spot.to_mm == LAID.length_mm
    assert spot.band[-1] == LAID.points[-1]


@pytest.mark.parametrize("candidate", [(-0.1, 0), (1.1, 0), (0.5, -1), (float("nan"), 0)])
def test_a_fault_outside_the_element_has_no_place(candidate):
    with pytest.raises(UnusableWire):
        fault_spots(LAID, [candidate])


def test_half_turns_are_round():
    (a, b), (c, d) = LAID.points[1], LAID.points[13]
    assert hypot(a - c, b - d) == pytest.approx(75, abs=1e-6)
