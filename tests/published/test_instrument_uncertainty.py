"""Instrument uncertainty and verdict (IU-1 to IU-10)."""

import math

import pytest
from scipy import integrate, stats

from readings.instruments import Range
from readings.uncertainty import propagate, repeated
from readings.verdict import acceptance, judge, probability_inside


def test_IU_1_percent_plus_digits():
    """Handheld-meter example of an earlier look-up; arithmetic."""
    assert Range(60.0, 0.01, 2.5, 3).half_width_ohms(32.00) == pytest.approx(0.83, abs=1e-9)


def test_IU_2_limits_of_error():
    """GVDA "Introduction to digital multimeter accuracy" (seen)."""
    half = Range(200, 0.1, 1, 2).half_width_ohms(100.0)
    assert (100 - half, 100 + half) == pytest.approx((98.8, 101.2), abs=1e-9)


def test_IU_3_rectangular():
    """GUM (JCGM 100:2008) 4.3.7 (clause from memory)."""
    meter = Range(200, 0.1, 0.5, 2)
    u = meter.standard_uncertainty_ohms(52.3)
    assert meter.half_width_ohms(52.3) == pytest.approx(0.4615, abs=1e-4)
    assert (u, 2 * u) == pytest.approx((0.26645, 0.5329), abs=1e-4)


def test_IU_4_gum_h2_simultaneous_readings():
    """JCGM 100:2008 H.2; data and R as in the GTC 1.5.1 documentation (seen), recomputed."""
    volts = [5.007, 4.994, 5.005, 4.990, 4.999]
    amps = [x / 1000 for x in (19.663, 19.639, 19.640, 19.685, 19.678)]
    phase = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
    found = propagate(
        lambda v, i, p: (v / i * math.cos(p), v / i * math.sin(p), v / i),
        repeated(volts, amps, phase),
    )
    assert found.values == pytest.approx((127.732, 219.847, 254.260), abs=6e-4)
    assert [found.standard(i) for i in range(3)] == pytest.approx([0.071, 0.2955, 0.236], abs=6e-4)
    pairs = ((0, 1), (0, 2), (1, 2))
    assert [found.correlation(*p) for p in pairs] == pytest.approx(
        [-0.588, -0.485, 0.993], abs=1e-3
    )


def test_IU_5_two_sided_probability():
    """JCGM 106:2012 7.4; inputs seen in "Metrology Rules", March 2022; scipy and suncal 1.7.1."""
    assert probability_inside(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.66263, abs=1e-5)


@pytest.mark.parametrize(
    ("ohms", "outcome"),
    [(52.10, "pass"), (52.50, "undecided"), (53.00, "undecided"), (53.60, "fail")],
)
def test_IU_6_guard_band(ohms, outcome):
    """ILAC-G8:09/2019 4.2.3 p. 10 (rule seen, numbers ours): TL = 52.80, U = 0.60."""
    assert judge(ohms, 0.30, high=52.80).outcome == outcome


@pytest.mark.parametrize(
    ("guard_in_u", "percent"), [(2, 2.275), (1.96, 2.500), (1.645, 5.00), (0, 50)]
)
def test_IU_7_false_accept_on_the_acceptance_limit(guard_in_u, percent):
    """scipy; ILAC-G8 says < 2.5 % for w = U (seen)."""
    outside = 1 - probability_inside(10 - guard_in_u * 0.3, 0.3, high=10)
    assert 100 * outside == pytest.approx(percent, abs=0.005)


def test_IU_7_our_rule_accepts_at_most_one_in_twenty():
    _, limit = acceptance(0.3, high=10)
    assert limit == pytest.approx(10 - 1.645 * 0.3, abs=1e-4)
    assert judge(limit, 0.3, high=10).outcome == "pass"


def test_IU_8_global_risk():
    """JCGM 106:2012 9.5.4; notebook of suncal (seen), recomputed with suncal and scipy.

    A meter that reads `true` with u = 0.25 is accepted with the probability that a reading
    there would be at most the limit of 2.
    """
    prior = stats.gamma(4, scale=0.25)

    def accepted(true):
        return probability_inside(true, 0.25, high=2)

    consumer = integrate.quad(lambda t: prior.pdf(t) * accepted(t), 2, 12)[0]
    producer = integrate.quad(lambda t: prior.pdf(t) * (1 - accepted(t)), 0, 2)[0]
    assert prior.sf(2) == pytest.approx(0.04238, abs=1e-5)
    assert (consumer, producer) == pytest.approx((0.00802, 0.01744), abs=1e-5)


def test_IU_9_meter_too_coarse():
    """Arithmetic on the ILAC-G8 4.2.3 rule: 47.5 + 0.6 > 48.5 - 0.6."""
    assert acceptance(0.30, 47.5, 48.5) is None
    outcomes = {judge(47.0 + i / 100, 0.30, 47.5, 48.5).outcome for i in range(201)}
    assert "pass" not in outcomes
