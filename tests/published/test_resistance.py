"""Resistance and temperature, volts and watts (RT-1 to RT-6)."""

import pytest

from readings import arrival, resistance
from readings.resistance import at_temperature


def test_RT_1_copper_warms():
    """R = R20 (1 + alpha (T - 20)); alpha and 234.5 of the IACS, NBS Handbook 100 (memory)."""
    at_50 = at_temperature(0.1000, 20, 50, 0.00393)
    assert at_50 == pytest.approx(0.11179, abs=1e-5)
    assert at_50 == pytest.approx(0.1 * (234.5 + 50) / (234.5 + 20), abs=1e-5)


def test_RT_2_back_to_20_divides():
    """R20 = R / (1 + alpha dT) (derived); multiplying by (1 - alpha dT) gives 49.8335."""
    assert at_temperature(52.30, 32, 20, 0.00393) == pytest.approx(49.9446, abs=0.001)


@pytest.mark.parametrize(("mm2", "per_km"), [(1.5, 12.1), (2.5, 7.41), (4, 4.61), (6, 3.08)])
def test_RT_3_copper_conductors(mm2, per_km):
    """IEC 60228:2004 tables A.1 / A.2, transcriptions seen."""
    assert resistance.copper_lead_ohms(1000, mm2) == per_km


@pytest.mark.parametrize(("read_c", "printed"), [(10, 1.042), (30, 0.962)])
def test_RT_4_correction_to_20(read_c, printed):
    """IEC 60228 correction table, transcription seen: 0.004, not 0.00393."""
    assert at_temperature(1, read_c, 20, 0.004) == pytest.approx(printed, abs=0.0005)


def test_RT_5_watts_go_with_the_square_of_volts():
    """R = V²/P (derived)."""
    assert resistance.rated_ohms(1500, 240) == pytest.approx(38.40, abs=0.01)
    watts = resistance.watts_at(208, watts=1500, volts=240)
    assert watts == pytest.approx(1126.67, abs=0.01)
    assert watts / 1500 == pytest.approx(0.75111, abs=1e-5)
    assert watts / 208 == pytest.approx(5.4167, abs=0.01)


@pytest.mark.parametrize(
    ("kw", "label_v", "service_v", "btu_h"), [(1.5, 240, 208, 3845.3), (2.0, 240, 230, 6826)]
)
def test_RT_6_label_against_service(kw, label_v, service_v, btu_h):
    """Portland (Oregon) City Code 27.19.050-051 (seen): 3413 Btu/h per kW, 5 % window."""
    same = arrival.same_voltage(label_v, service_v)
    watts = kw * 1000 if same else resistance.watts_at(service_v, watts=kw * 1000, volts=label_v)
    assert watts * 3.413 == pytest.approx(btu_h, abs=0.1)
