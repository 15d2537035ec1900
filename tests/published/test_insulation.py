"""Insulation (IN-1 to IN-5)."""

import pytest

from readings import insulation
from readings.instruments import Range

LOW_VOLTAGE = insulation.minimum(230)


@pytest.mark.parametrize(
    ("volts", "test_volts", "megohms"),
    [
        (24, 250, 0.5),
        (50, 250, 0.5),
        (120, 500, 1.0),
        (230, 500, 1.0),
        (500, 500, 1.0),
        (690, 1000, 1.0),
    ],
)
def test_IN_1_minimum(volts, test_volts, megohms):
    """IEC 60364-6 table 6.1, values seen in Bane NOR technical rules."""
    needed = insulation.minimum(volts)
    assert (needed.test_volts, needed.megohms) == (test_volts, megohms)


def test_IN_2_over_range_passes_by_its_bound():
    """Lower bound logic (derived)."""
    found = insulation.judge_at_voltage(
        megohms=None, over_range_megohms=2000, test_volts=500, needed=LOW_VOLTAGE, supply_volts=230
    )
    assert found.outcome == "pass"
    assert found.value is None


def test_IN_3_too_near_to_tell():
    """IU rule (derived)."""
    half = Range(20, 0.01, 5, 2).half_width_ohms(1.05)
    assert half == pytest.approx(0.0725, abs=1e-9)
    assert (1.05 - half, 1.05 + half) == pytest.approx((0.9775, 1.1225), abs=1e-9)
    found = insulation.judge_at_voltage(
        megohms=1.05,
        half_width_megohms=half,
        test_volts=500,
        needed=LOW_VOLTAGE,
        supply_volts=230,
    )
    assert found.outcome == "undecided"


def test_IN_4_leak_and_ohms():
    """Ohm's law (derived)."""
    assert insulation.leakage_ma(230, 1.0) == pytest.approx(0.230, rel=0.005)
    assert insulation.ohms_that_leak(120, 6) == pytest.approx(20_000, rel=0.005)
    assert insulation.ohms_that_leak(230, 30) == pytest.approx(7_667, rel=0.005)


@pytest.mark.parametrize(("ma", "trips"), [(3.9, "must not"), (5.0, "may"), (6.0, "must")])
def test_IN_5_class_a(ma, trips):
    """NEC article 100 note and UL 943 (seen second-hand): from 6 mA, not below 4 mA."""
    assert insulation.class_a_trip(ma) == trips
