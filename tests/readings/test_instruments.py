import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.instruments import OverFullScale, Range, calibration, suitable

FINE, COARSE = Range(200, 0.1, 0.8, 3), Range(2_000, 1, 0.8, 3)
reading = st.floats(0, 200)


@given(small=reading, large=reading)
def test_more_ohms_are_never_read_more_exactly(small, large):
    small, large = sorted((small, large))
    assert FINE.half_width_ohms(small) <= FINE.half_width_ohms(large)


@given(ohms=reading)
def test_u_is_the_half_width_over_root_three(ohms):
    half = 0.8 / 100 * ohms + 3 * 0.1
    assert FINE.half_width_ohms(ohms) == pytest.approx(half)
    assert FINE.standard_uncertainty_ohms(ohms) == pytest.approx(half / math.sqrt(3))


@pytest.mark.parametrize("ohms", [200.1, 1e9])
def test_a_reading_over_full_scale_is_refused(ohms):
    with pytest.raises(OverFullScale, match="over-range"):
        FINE.half_width_ohms(ohms)


def test_full_scale_itself_can_be_read():
    assert Range(600, 0.1, 0.5, 2).half_width_ohms(599.9 + 0.1) == pytest.approx(3.2)


@pytest.mark.parametrize("ohms", [-0.1, math.nan, math.inf, True, None, "52"], ids=repr)
def test_a_reading_that_is_none_is_refused(ohms):
    with pytest.raises(ValueError, match=r"."):
        FINE.half_width_ohms(ohms)


@pytest.mark.parametrize(
    "given",
    [
        {"full_scale_ohms": 0},
        {"full_scale_ohms": -200},
        {"full_scale_ohms": math.inf},
        {"resolution_ohms": 0},
        {"resolution_ohms": 300},
        {"percent_of_reading": -0.1},
        {"percent_of_reading": 100},
        {"percent_of_reading": math.nan},
        {"digits": -1},
        {"digits": True},
    ],
    ids=repr,
)
def test_a_range_that_is_none_is_refused(given):
    sane = {"full_scale_ohms": 200, "resolution_ohms": 0.1, "percent_of_reading": 1, "digits": 2}
    with pytest.raises(ValueError, match=r"."):
        Range(**{**sane, **given})


def test_the_finer_range_comes_first_and_the_too_small_one_does_not_suit():
    small = Range(60, 0.01, 0.5, 2)
    rated = suitable([COARSE, small, FINE], expected_ohms=52, low_ohms=49.4, high_ohms=57.2)
    assert [s.range for s in rated if s.suits] == [small, FINE]
    assert rated[0].margin > rated[1].margin > 0
    rated = suitable([COARSE, small, FINE], expected_ohms=98, low_ohms=93.1, high_ohms=107.8)
    assert [(s.range, s.suits) for s in rated] == [(FINE, True), (COARSE, True), (small, False)]
    assert "ends before" in rated[2].because


def test_a_range_too_coarse_says_that_no_reading_can_pass():
    (rated,) = suitable([COARSE], expected_ohms=12, low_ohms=11.4, high_ohms=13.2)
    assert not rated.suits
    assert rated.margin == 0
    assert "No reading on it can pass" in rated.because


def test_unsure_leads_make_a_good_range_unsuitable():
    asked = {"expected_ohms": 12, "low_ohms": 11.4, "high_ohms": 13.2}
    assert suitable([FINE], **asked)[0].suits
    assert not suitable([FINE], **asked, other_u_ohms=0.5)[0].suits


@pytest.mark.parametrize(
    ("due", "state", "trusted"),
    [
        (date(2027, 6, 1), "valid", True),
        (date(2027, 3, 20), "due-soon", True),
        (date(2027, 3, 10), "due-soon", True),
        (date(2027, 3, 9), "overdue", False),
        (None, "unknown", True),
    ],
)
def test_calibration_ends_after_the_day_it_falls_due(due, state, trusted):
    found = calibration(due, on=date(2027, 3, 10))
    assert (found.state, found.trusted) == (state, trusted)
    assert found.because
