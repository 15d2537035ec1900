import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings import wording


@pytest.mark.parametrize(
    ("value", "resolution", "words"),
    [
        (104.6, 0.1, "104.6"),
        (107.0, 1, "107"),
        (1650.0, 10, "1\u00a0650"),
        (98.0, None, "98.00"),
        (0.8, None, "0.8000"),
        (-3.25, 0.01, "\u22123.25"),
        (0.0, None, "0"),
    ],
)
def test_figures_have_the_digits_of_the_meter(value, resolution, words):
    assert wording.figure(value, resolution) == words


@pytest.mark.parametrize(
    ("half", "words"), [(0.5329, "0.54"), (1.0, "1.0"), (12.1, "13"), (0.0, "0"), (445.0, "450")]
)
def test_a_half_width_is_rounded_up(half, words):
    assert wording.plus_minus(half) == words


@given(st.floats(1e-6, 1e6))
def test_a_half_width_is_never_told_too_small(half):
    assert float(wording.plus_minus(half).replace("\u00a0", "")) >= half * (1 - 1e-9)


@pytest.mark.parametrize(
    ("full_scale", "words"), [(200, "200\u00a0Ω"), (2_000, "2\u00a0kΩ"), (2e7, "20\u00a0MΩ")]
)
def test_a_range_is_named_as_on_the_dial(full_scale, words):
    assert wording.range_name(full_scale) == words


def test_limits_and_lists_in_words():
    assert wording.between(93.1, 107.8, "Ω") == "93.10 to 107.8\u00a0Ω"
    assert wording.between(1.0, None) == "at least 1.000"
    assert wording.between(None, 52.8) == "at most 52.80"
    assert wording.listed(["a", "b", "c"]) == "a, b and c"
    assert wording.listed(["a"]) == "a"
    assert wording.listed([]) == ""


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_number_can_be_said(value):
    assert wording.figure(value)
    assert wording.megohms(value)
