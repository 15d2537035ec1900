"""The numbers by which a phone without signal judges are those of the rules themselves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.bands import bands
from readings.element import Tag, judge_element
from readings.instruments import Range
from readings.insulation import judge_at_voltage, judge_first_look, minimum

TAG = Tag(ohms=98.0, below=0.05, above=0.1, celsius=20.0, alpha_per_k=0.0)
FINE, COARSE = Range(200.0, 0.1, 0.5, 2.0), Range(2000.0, 1.0, 1.0, 3.0)


def by_bands(found, value):
    """As the phone's script does it."""
    if value is None:
        return found.over_range
    if found.passes and found.passes[0] <= value <= found.passes[1]:
        return "pass"
    below = found.fails_below is not None and value <= found.fails_below
    above = found.fails_above is not None and value >= found.fails_above
    return "fail" if below or above else "undecided"


def element(meter):
    return lambda ohms: judge_element(TAG, ohms=ohms, meter=meter, celsius=None).outcome


def insulation(megohms):
    return judge_at_voltage(
        megohms=megohms,
        over_range_megohms=500.0 if megohms is None else None,
        half_width_megohms=0.02,
        test_volts=500.0,
        needed=minimum(230.0),
        supply_volts=230.0,
    ).outcome


def first_look(ohms):
    return judge_first_look(ohms=ohms, range_name="200 Ω").outcome


RULES = {
    "fine": (element(FINE), 98.0, 200.0),
    "coarse": (element(COARSE), 98.0, 2000.0),
    "too short a range": (element(Range(90.0, 0.1, 0.5, 2.0)), 98.0, 90.0),
    "insulation": (insulation, 500.0, 500.0),
    "first look": (first_look, 98.0, 200.0),
}


@pytest.mark.parametrize("name", RULES)
@given(share=st.floats(0, 1))
def test_the_phone_says_what_the_rule_says(name, share):
    judge, expected, highest = RULES[name]
    found = bands(judge, expected=expected, highest=highest)
    value = share * highest
    edges = [*(found.passes or ()), found.fails_below, found.fails_above]
    if any(edge is not None and abs(edge - value) < 1e-9 * highest for edge in edges):
        return
    assert by_bands(found, value) == judge(value)
    assert by_bands(found, None) == judge(None)


def test_a_range_that_is_too_coarse_passes_nothing_and_still_fails_some():
    found = bands(element(Range(2000.0, 10.0, 5.0, 5.0)), expected=98.0, highest=2000.0)
    assert found.passes is None
    assert found.fails_above is not None


def test_any_number_to_ground_is_a_fault_and_none_is_none():
    found = bands(first_look, expected=98.0, highest=200.0)
    assert (found.passes, found.fails_above, found.over_range) == (None, 0.0, "pass")
