"""Fault location (FL-1 to FL-5)."""

import pytest

from readings import fault
from readings.instruments import Range


def test_FL_1_murray_loop_on_a_slide_wire():
    """Hawkins Electrical Guide no. 3, c. 1914, fig. 597 and its example (text seen).

    332 is out of 1 000 divisions, not a ratio of arms 332 to 1 000 (that would be 0.8188 mile).
    """
    found = fault.bridge(54.07, 332, 1000 - 332)
    assert found.fraction == pytest.approx(0.332, abs=1e-12)
    assert found.ohms_to_fault == pytest.approx(17.9512, abs=0.0005)
    assert found.ohms_to_fault / 16.46 == pytest.approx(1.0906, abs=0.0005)


def test_FL_2_varley_with_equal_arms():
    """Balance: dial + x = loop - x (derived)."""
    found = fault.bridge_with_dial(48.0, 19.2)
    assert found.ohms_to_fault == pytest.approx(14.4, abs=1e-9)
    assert found.ohms_to_fault / 24 == pytest.approx(0.600, abs=1e-9)


def test_FL_3_core_to_sheath_from_both_ends():
    """x = (A - B + L)/(2L), F = (A + B - L)/2 (derived)."""
    found = fault.core_to_ground(48.0, 39.4, 58.6)
    assert found.fraction == pytest.approx(0.3000, abs=1e-9)
    assert found.fault_ohms == pytest.approx(25.0, abs=1e-9)


def test_FL_4_its_uncertainty_and_place():
    """GTC 1.5.1: each reading ±(0.5 % + 2 digits of 0.1 Ω), rectangular, independent."""
    u = Range(200, 0.1, 0.5, 2).standard_uncertainty_ohms
    found = fault.core_to_ground(
        48.0, 39.4, 58.6, u_loop_ohms=u(48.0), u_from_a_ohms=u(39.4), u_from_b_ohms=u(58.6)
    )
    assert found.u_fraction == pytest.approx(0.00395, abs=1e-5)
    assert found.u_fault_ohms == pytest.approx(0.2225, abs=5e-5)
    (place,) = fault.places(found, loop_ohms=48.0, length_m=62.0, construction="single")
    assert place.metres == pytest.approx(18.6, abs=0.005)
    assert 2 * place.u_metres == pytest.approx(0.49, abs=0.005)


def test_FL_5_impossible_readings_give_no_place():
    """Arithmetic: the fault would have -3.0 ohms."""
    with pytest.raises(fault.InconsistentReadings, match="wrong joint, two faults"):
        fault.core_to_ground(48.0, 20.0, 22.0)
