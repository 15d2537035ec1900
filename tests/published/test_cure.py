"""Equivalent age and strength against published values (CU); the source stands beside each row."""

import math
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.cure import Arrhenius, Eurocode2, NurseSaul, capped_rate, strength_fraction_ec2
from tests.scheduling.floors import decision, layer

HISTORY = [(24, 20), (24, 15), (24, 10), (24, 5), (72, 10)]


@pytest.mark.parametrize(
    ("celsius", "factor"),
    [(5, 0.477835), (10, 0.616143), (15, 0.787502), (20, 0.998125), (30, 1.566243)],
    ids="CU-1-{}".format,
)
def test_CU_1_factor_of_equation_b10(celsius, factor):
    """EN 1992-1-1:2004 eq. (B.10), recomputed with structuralcodes 0.7.2 and eurocodepy."""
    assert Eurocode2().rate(celsius) == pytest.approx(factor, abs=1e-6)


def test_CU_2_28_days_at_10_c():
    """EN 1992-1-1:2004 eq. (B.10)."""
    assert Eurocode2().equivalent_hours([(28 * 24, 10)]) / 24 == pytest.approx(17.2520, abs=1e-4)


def test_CU_3_a_history_of_five_steps():
    """EN 1992-1-1:2004 eq. (B.10)."""
    assert Eurocode2().equivalent_hours(HISTORY) / 24 == pytest.approx(4.72804, abs=1e-5)


def test_CU_4_how_long_at_10_c():
    """28/0.616143 and 7/0.616143; relative to the rate at 20 °C 7 x 0.998125/0.616143 (derived)."""
    rate = Eurocode2().rate(10)
    assert 28 / rate == pytest.approx(45.444, abs=1e-3)
    assert 7 / rate == pytest.approx(11.361, abs=1e-3)
    relative = capped_rate(Eurocode2(), lowest_c=5, celsius=10)
    assert 7 / relative == pytest.approx(11.340, abs=1e-3)


@pytest.mark.parametrize(
    ("s", "days", "fraction"),
    [
        (0.20, 3, 0.66298), (0.20, 7, 0.81873), (0.20, 14, 0.92050), (0.20, 28, 1),
        (0.25, 3, 0.59824), (0.25, 7, 0.77880), (0.25, 14, 0.90163), (0.25, 28, 1),
        (0.38, 3, 0.45798), (0.38, 7, 0.68386), (0.38, 14, 0.85436), (0.38, 28, 1),
    ],
    ids=lambda value: f"CU-5-{value}",
)  # fmt: skip
def test_CU_5_fraction_of_the_28_day_strength(s, days, fraction):
    """EN 1992-1-1:2004 eq. (3.2), structuralcodes 0.7.2."""
    assert strength_fraction_ec2(days, s) == pytest.approx(fraction, abs=1e-5)


@pytest.mark.parametrize(
    ("celsius", "factor"),
    [(5, 0.398600), (10, 0.547512), (15, 0.743818), (25, 1.331136)],
    ids="CU-6-{}".format,
)
def test_CU_6_arrhenius_factor(celsius, factor):
    """ASTM C1074 form, Q = 5 000 K from memory (derived); 273.15, not 273."""
    assert Arrhenius(5000, 20).rate(celsius) == pytest.approx(factor, abs=1e-6)


def test_CU_6_28_days_take_51_at_10_c():
    assert 28 / Arrhenius(5000, 20).rate(10) == pytest.approx(51.140, abs=1e-3)


def test_CU_7_arrhenius_over_the_history():
    """Sum of CU-6 factors over the history of CU-3 (derived)."""
    assert Arrhenius(5000, 20).equivalent_hours(HISTORY) == pytest.approx(103.979, abs=1e-3)


@pytest.mark.parametrize(
    ("datum_c", "maturity", "hours"),
    [(0, 1920, 96.00), (-10, 3600, 120.00), (-11, 3768, 121.55)],
    ids=["CU-8-0", "CU-8-10", "CU-8-11"],
)
def test_CU_8_nurse_saul_with_three_datums(datum_c, maturity, hours):
    """M = sum dt (T - T0), te = M/(20 - T0) (derived)."""
    law = NurseSaul(datum_c=datum_c, reference_c=20)
    assert law.maturity_c_hours(HISTORY) == pytest.approx(maturity, abs=0.01)
    assert law.equivalent_hours(HISTORY) == pytest.approx(hours, abs=0.01)


def test_CU_9_28_days_at_15_c():
    """Civinnovate, "Quality control of concrete", explanation 10, 2026 (seen): 728 °C d."""
    days = NurseSaul(datum_c=-11, reference_c=20).maturity_c_hours([(28 * 24, 15)]) / 24
    assert days == pytest.approx(728, abs=1e-9)


def test_CU_10_no_gain_below_the_datum():
    """Trade page "Concrete Maturity Formula" on ASTM C1074 (rule seen)."""
    assert NurseSaul(datum_c=0, reference_c=20).maturity_c_hours([(6, -4)]) == 0


def test_CU_11_reference_of_the_tile_mortar_laboratory():
    """23 °C of ISO 13007 and EN 12004 instead of 20 °C (climate from memory, factor derived)."""
    assert Arrhenius(5000, 23).rate(10) == pytest.approx(0.460635, abs=1e-6)


def test_CU_12_warmth_never_shortens_a_printed_minimum():
    """Invariant of this project; makers' print rules. B.10 alone would give 10.96 d."""
    placed_at = datetime(2027, 3, 1, 8, tzinfo=UTC)
    readings = [(placed_at + timedelta(hours=hour), 30.0) for hour in range(0, 145, 4)]
    made = decision(
        layer(placed_at=placed_at, law=Eurocode2(), heat_after_hours=168),
        readings=readings,
        now=placed_at + timedelta(days=6),
    )
    assert made.earliest == made.likely == placed_at + timedelta(hours=168)
    assert Eurocode2().equivalent_hours([(168, 30)]) / 24 == pytest.approx(10.96, abs=0.005)


def test_CU_13_unknown_hours_count_at_the_coldest_plausible():
    """Common practice, no source: 48 unknown hours at 5 °C, not at the mean so far."""
    placed_at = datetime(2027, 3, 1, 8, tzinfo=UTC)
    law = NurseSaul(datum_c=0, reference_c=20)
    made = decision(
        layer(placed_at=placed_at, law=law, heat_after_hours=168, lowest_c=0),
        readings=[(placed_at + timedelta(hours=hour), 15.0) for hour in range(0, 49, 4)],
        now=placed_at + timedelta(hours=96),
        assume_c=5,
    )
    progress = made.layers[0]
    assert math.isclose(progress.equivalent_hours, 48 * 15 / 20 + 48 * 5 / 20, abs_tol=1e-9)
    assert math.isclose(progress.unknown_hours, 48, abs_tol=1e-9)
