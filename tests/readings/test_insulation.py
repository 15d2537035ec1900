import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings import insulation

NEEDED = insulation.minimum(230)


def judged(**given):
    return insulation.judge_at_voltage(
        **{"megohms": None, "test_volts": 500, "needed": NEEDED, "supply_volts": 230, **given}
    )


@pytest.mark.parametrize("volts", [0, -230, math.nan, math.inf, True, "230", None], ids=repr)
def test_a_voltage_that_is_none_is_refused(volts):
    with pytest.raises(ValueError, match=r"."):
        insulation.minimum(volts)


def test_extra_low_voltage_that_is_not_safe_is_held_to_the_stricter_row():
    assert insulation.minimum(24).megohms == 0.5
    assert insulation.minimum(24, selv=False).megohms == 1.0
    with pytest.raises(insulation.NotExtraLow):
        insulation.minimum(230, selv=True)


def test_over_range_below_the_limit_proves_nothing():
    found = judged(over_range_megohms=0.5)
    assert found.outcome == "undecided"
    assert "range" in found.next_step


def test_over_range_exactly_at_the_limit_passes():
    assert judged(over_range_megohms=1.0).outcome == "pass"


def test_too_few_volts_prove_nothing_good_but_a_fault_all_the_same():
    good = judged(megohms=500.0, test_volts=250)
    assert good.outcome == "undecided"
    assert "500 V" in good.next_step
    assert judged(megohms=0.1, test_volts=250).outcome == "fail"


def test_a_fail_says_what_it_means_and_stops_the_work():
    found = judged(megohms=0.8)
    assert found.outcome == "fail"
    assert found.because.startswith("0.8\u00a0MΩ")
    assert "At least 1\u00a0MΩ is needed" in found.because
    assert "Do not cover. Do not switch on." in found.next_step


def test_zero_megohms_fail_without_a_division_by_zero():
    assert judged(megohms=0.0).outcome == "fail"


@given(low=st.floats(0, 10), more=st.floats(0, 10), half=st.floats(0, 1))
def test_more_megohms_are_never_worse(low, more, half):
    rank = {"fail": 0, "undecided": 1, "pass": 2}
    outcomes = [judged(megohms=m, half_width_megohms=half).outcome for m in (low, low + more)]
    assert rank[outcomes[0]] <= rank[outcomes[1]]


@pytest.mark.parametrize(
    "given",
    [{}, {"megohms": 1.0, "over_range_megohms": 2000}, {"megohms": -1}, {"megohms": math.nan}],
)
def test_either_a_number_or_over_range(given):
    with pytest.raises(ValueError, match=r"."):
        judged(**given)


def test_an_ohmmeter_only_takes_a_first_look():
    found = insulation.judge_first_look(ohms=None, range_name="20 MΩ")
    assert found.outcome == "pass"
    assert "first look" in found.because
    for ohms in (0.0, 12.5, 5e6):
        assert insulation.judge_first_look(ohms=ohms, range_name="20 MΩ").outcome == "fail"


def test_polarisation_index_rises_in_dry_insulation():
    rising = insulation.polarisation_index(at_1_min_megohms=100, at_10_min_megohms=250)
    assert rising.index == pytest.approx(2.5)
    falling = insulation.polarisation_index(at_1_min_megohms=100, at_10_min_megohms=80)
    assert "moisture" in falling.because
    over = insulation.polarisation_index(at_1_min_megohms=None, at_10_min_megohms=None)
    assert over.index is None
    with pytest.raises(ValueError, match="above zero"):
        insulation.polarisation_index(at_1_min_megohms=0, at_10_min_megohms=1)
