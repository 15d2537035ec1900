import pytest

from readings.element import Tag
from readings.handover import judge_load, judge_supply, load_ohms
from readings.instruments import Range

VOLTS, AMPS = Range(600, 0.1, 0.5, 2), Range(10, 0.01, 1.0, 3)
TAG = Tag(ohms=71.1, below=0.05, above=0.1)


def load(volts, amps):
    return judge_load(TAG, volts=volts, amps=amps, volt_range=VOLTS, amp_range=AMPS, floor_c=20.0)


@pytest.mark.parametrize(
    ("volts", "outcome"), [(230.0, "pass"), (252.5, "undecided"), (258.0, "fail"), (120.0, "fail")]
)
def test_the_supply_is_held_against_its_nominal_voltage(volts, outcome):
    assert judge_supply(volts=volts, meter=VOLTS, nominal_volts=230).outcome == outcome


@pytest.mark.parametrize(
    ("amps", "outcome"), [(3.23, "pass"), (2.95, "undecided"), (2.5, "fail"), (4.0, "fail")]
)
def test_the_current_is_held_against_the_ohms(amps, outcome):
    found = load([229.5], [amps])
    assert found.outcome == outcome
    if outcome == "fail":
        assert "licensed electrician" in found.next_step


def test_ohms_and_watts_follow_with_their_uncertainty():
    found = load_ohms([230.0], [3.2], VOLTS, AMPS)
    assert found.values == pytest.approx((71.875, 736.0))
    u_v, u_i = VOLTS.standard_uncertainty_ohms(230.0), AMPS.standard_uncertainty_ohms(3.2)
    assert found.standard(0) == pytest.approx(71.875 * ((u_v / 230) ** 2 + (u_i / 3.2) ** 2) ** 0.5)


def test_repeats_that_swing_together_do_not_spread_the_ohms():
    swinging = load_ohms([225.0, 230.0, 235.0], [3.15, 3.22, 3.29], VOLTS, AMPS)
    steady = load_ohms([230.0], [3.22], VOLTS, AMPS)
    assert swinging.standard(0) == pytest.approx(steady.standard(0), rel=0.02)
    assert swinging.standard(1) > 2 * steady.standard(1)


@pytest.mark.parametrize(
    ("volts", "amps"), [([], []), ([230.0], []), ([230.0], [0.0]), ([-1], [3])]
)
def test_readings_come_in_pairs_above_zero(volts, amps):
    with pytest.raises(ValueError, match=r"."):
        load_ohms(volts, amps, VOLTS, AMPS)
