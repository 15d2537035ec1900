import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings import resistance
from readings.resistance import NotAConductor, at_temperature

celsius = st.floats(-30, 90)
alpha = st.floats(-0.0005, 0.005)


@given(
    ohms=st.floats(0.01, 1e4), there=celsius, back=celsius, alpha=alpha, reference=st.floats(0, 30)
)
def test_there_and_back_is_the_same(ohms, there, back, alpha, reference):
    warm = at_temperature(ohms, there, back, alpha, reference)
    assert at_temperature(warm, back, there, alpha, reference) == pytest.approx(ohms, rel=1e-12)


@given(ohms=st.floats(0.01, 1e4), by=celsius, to=celsius, alpha=alpha)
def test_a_stop_on_the_way_changes_nothing(ohms, by, to, alpha):
    stopped = at_temperature(at_temperature(ohms, 20, by, alpha), by, to, alpha)
    assert stopped == pytest.approx(at_temperature(ohms, 20, to, alpha), rel=1e-12)


def test_the_coefficient_holds_at_its_reference():
    assert at_temperature(100, 0, 50, 0.004, 0) == pytest.approx(120)
    assert at_temperature(100, 0, 50, 0.004, 20) == pytest.approx(100 * 1.12 / 0.92)


@pytest.mark.parametrize(
    "given",
    [
        {"ohms": 0},
        {"ohms": -1},
        {"ohms": math.nan},
        {"ohms": True},
        {"from_c": math.inf},
        {"to_c": -273.15},
        {"alpha_per_k": math.nan},
        {"alpha_per_k": 3.93},
        {"reference_c": -400},
        {"from_c": -260, "alpha_per_k": 0.004},
    ],
    ids=repr,
)
def test_nonsense_is_refused(given):
    sane = {"ohms": 50.0, "from_c": 32.0, "to_c": 20.0, "alpha_per_k": 0.00393}
    with pytest.raises(ValueError, match=r"."):
        at_temperature(**{**sane, **given})


def test_copper_of_an_unknown_size_is_refused_with_those_that_there_are():
    with pytest.raises(NotAConductor, match=r"1.5, 2.5, 4, 6"):
        resistance.copper_lead_ohms(3, 2.0)
