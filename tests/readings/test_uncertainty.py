import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.uncertainty import (
    Budget,
    Component,
    TooFewRepeats,
    independent,
    propagate,
    rectangular,
    repeated,
)

u = st.floats(1e-3, 10)


def test_a_budget_adds_in_squares_and_names_the_largest():
    budget = Budget(
        components=(Component(name="meter", standard=3), Component(name="leads", standard=4))
    )
    assert (budget.combined, budget.expanded) == (5, 10)
    assert budget.largest.name == "leads"


@given(x=st.floats(1, 100), y=st.floats(1, 100), ux=u, uy=u)
def test_a_product_adds_relative_variances(x, y, ux, uy):
    found = propagate(lambda a, b: (a * b,), independent((x, y), (ux, uy)))
    assert found.standard(0) == pytest.approx(math.hypot(y * ux, x * uy), rel=1e-6)


def test_what_is_shared_cancels_in_a_difference():
    together = repeated([10.0, 10.2, 9.8], [5.0, 5.2, 4.8])
    found = propagate(lambda a, b: (a - b,), together)
    assert together.correlation(0, 1) == pytest.approx(1)
    assert found.standard(0) == pytest.approx(0, abs=1e-6)


def test_the_mean_of_repeats_has_the_root_n_of_them():
    found = repeated([1.0, 2.0, 3.0, 4.0])
    assert found.values == (2.5,)
    assert found.standard(0) == pytest.approx(math.sqrt(5 / 3 / 4))


@pytest.mark.parametrize("series", [([1.0],), ([1.0, 2.0], [1.0]), ()])
def test_one_reading_has_no_spread(series):
    with pytest.raises(TooFewRepeats):
        repeated(*series)


@pytest.mark.parametrize("half", [-1, math.nan, True])
def test_half_widths_are_not_negative(half):
    with pytest.raises(ValueError, match=r"."):
        rectangular(half)


def test_each_value_has_its_own_uncertainty():
    with pytest.raises(ValueError, match="one for each"):
        independent((1.0, 2.0), (0.1,))
