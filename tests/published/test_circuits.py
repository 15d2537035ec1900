"""Circuits against published values (CI); the source stands beside each row."""

import pytest

from jobs.circuits import (
    Load,
    Supply,
    box_fill_in3,
    breaker_a,
    check,
    continuous_a,
    copper_ohms_per_m,
    current_a,
    voltage_drop,
)
from jobs.code_profiles import IEC_TYPE, US_TYPE


def test_CI_1_space_heating_with_a_blower():
    """Mike Holt for EC&M, NEC 2017, Oct 2019, Q1; 424.3(B), 210.19, 210.20, 240.6."""
    amps = current_a(9_600, 240) + 3
    assert amps == 43
    assert continuous_a(amps, 1.25) == 53.75
    assert breaker_a(53.75, US_TYPE.breaker_sizes_a) == 60
    carries = [
        conductor
        for conductor in US_TYPE.conductors
        if conductor.ampacity_a >= 53.75 and conductor.largest_breaker_a >= 60
    ]
    assert (carries[0].name, carries[0].ampacity_a) == ("6 AWG", 55)


@pytest.mark.parametrize(
    ("size_a", "largest_a", "volts", "watts"),
    [(15, 12, 120, 1_440), (20, 16, 120, 1_920), (15, 12, 240, 2_880), (20, 16, 240, 3_840)],
    ids="CI-2-{}".format,
)
def test_CI_2_largest_continuous_load(size_a, largest_a, volts, watts):
    """1/1.25 = 80 % (rule seen in a trade forum); arithmetic."""
    assert breaker_a(continuous_a(current_a(watts, volts), 1.25), [15, 20, 25]) == size_a
    more = continuous_a(current_a(watts + 1, volts), 1.25)
    assert breaker_a(more, [15, 20, 25]) > size_a
    assert current_a(watts, volts) == largest_a


def test_CI_3_voltage_drop_by_k():
    """V = 2 K I L/cmil; formula and K seen in two calculators' notes."""
    drop = voltage_drop(20, 100 * 0.3048, cmil=6_530, k=12.9)
    assert drop == pytest.approx(7.902, abs=0.001)
    assert drop / 120 == pytest.approx(0.0658, abs=5e-5)
    assert drop / 240 == pytest.approx(0.0329, abs=5e-5)


def test_CI_4_the_same_run_in_metric_with_cold_copper():
    """Voltage-drop worked examples page, residential 120 V case, recomputed."""
    drop = voltage_drop(20, 30.48, ohms_per_m=copper_ohms_per_m(3.31, rho=0.017241))
    assert drop == pytest.approx(6.351, abs=0.005)


def test_CI_5_nine_conductors_in_a_square_box():
    """NEC 314.16(A), EC&M "Code Calculations", example 1: a 4 x 1-1/2 in box has 21.0 in3."""
    fill = box_fill_in3(
        conductors={"12 AWG": 9}, grounds=(), devices=(), inside_clamps=False,
        volume_in3=US_TYPE.box_volume_in3,
    )  # fmt: skip
    assert fill == 20.25
    assert fill <= 21.0 < fill + 2.25


def test_CI_6_box_too_full_by_half_a_cubic_inch():
    """NEC 314.16(B); example of an electrician exam-preparation page on box fill."""
    fill = box_fill_in3(
        conductors={"14 AWG": 4, "12 AWG": 2},
        grounds=("14 AWG", "14 AWG", "12 AWG"),
        devices=("12 AWG",),
        inside_clamps=True,
        volume_in3=US_TYPE.box_volume_in3,
    )
    assert fill == 21.50
    assert fill - 21.0 == 0.50


def test_CI_7_panels_under_a_covering():
    """NEC 424.99(B) and its 160 W/m² (from memory); conversion pint 0.26."""
    assert US_TYPE.most_w_per_m2 == pytest.approx(161.459, abs=0.001)
    assert not US_TYPE.most_w_per_m2_source.looked_up


def test_CI_8_cable_in_concrete():
    """NEC 424.44(A) and (G) (from memory); conversion pint."""
    assert US_TYPE.most_w_per_m == pytest.approx(54.134, abs=0.001)
    assert not US_TYPE.most_w_per_m_source.looked_up
    assert "Ground-fault protection" in US_TYPE.leakage_rule
    assert US_TYPE.leakage_rule.endswith("required")


def test_CI_9_ground_fault_protection_and_inspection_first():
    """Electrical License Renewal, NEC 2017 code-change summary of 424.45."""
    found = check([Load(name="M-31", watts=744, volts=240)], Supply(volts=240), US_TYPE)
    required = {
        finding.rule: finding for finding in found.findings if finding.outcome == "required"
    }
    assert "424.45" in required["Leakage protection"].source
    assert "Ground-fault" in required["Leakage protection"].because
    assert "before it is covered" in required["Before covering"].because


def test_CI_10_residual_current_device():
    """IEC 60364-7-753 / BS 7671 section 753 (from memory)."""
    assert IEC_TYPE.leakage_ma == 30
    assert not IEC_TYPE.leakage_source.looked_up
    supply = Supply(volts=230, leakage_ma=100)
    found = check([Load(name="M-31", watts=744, volts=230)], supply, IEC_TYPE)
    in_place = [one for one in found.findings if one.rule == "Leakage protection in place"]
    assert [one.outcome for one in in_place] == ["fails"]
