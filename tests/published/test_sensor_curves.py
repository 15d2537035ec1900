"""Sensor curves against published tables (SC-1 to SC-7); the source stands beside each row."""

import pytest

from readings.thermistor import Beta, Platinum, SteinhartHart, Table

# Thermometrics "Sensor Temperature Resistance Curves" reference guide, Rev. C, Nov 2014,
# material type 1 (table seen): ratios to 25 °C.
TYPE_II_RATIOS = {0: 3.264, 5: 2.539, 25: 1.0, 40: 0.5325, 45: 0.4367, 85: 0.1070}

# Campbell Scientific 109SS manual, app. C, table C-1 (three points seen); coefficients from memory,
# confirmed by the table.
TYPE_II = SteinhartHart(0.001129241, 0.0002341077, 8.775468e-8)


def test_SC_1_fit_through_three_points():
    """Steinhart-Hart form, 3x3 linear solve (derived; the points from an earlier look-up)."""
    curve = SteinhartHart.through([(0, 27_445), (25, 10_000), (50, 4_160)])
    assert curve.a == pytest.approx(8.40225058e-4, rel=1e-6)
    assert curve.b == pytest.approx(2.59634776e-4, rel=1e-6)
    assert curve.c == pytest.approx(1.56744035e-7, rel=1e-6)


@pytest.mark.parametrize(("celsius", "ratio"), TYPE_II_RATIOS.items(), ids="SC-2-{}".format)
def test_SC_2_ratios_of_the_type_ii_curve(celsius, ratio):
    """The coefficients of SC-3 reproduce the ratios that the guide prints."""
    assert TYPE_II.ohms_at(celsius) / 10_000 == pytest.approx(ratio, rel=6e-4)


def test_SC_2_as_a_table():
    table = Table([(celsius, 10_000 * ratio) for celsius, ratio in TYPE_II_RATIOS.items()])
    for celsius, ratio in TYPE_II_RATIOS.items():
        assert table.ohms_at(celsius) == pytest.approx(10_000 * ratio, rel=5e-4)
        assert table.celsius_at(10_000 * ratio) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("ohms", "table_c", "computed_c"),
    [(336_103.2, -40, -40.0024), (32_650.9, 0, -0.0006), (31_030.8, 1, 0.9995)],
)
def test_SC_3_printed_table(ohms, table_c, computed_c):
    assert TYPE_II.celsius_at(ohms) == pytest.approx(table_c, abs=0.005)
    assert TYPE_II.celsius_at(ohms) == pytest.approx(computed_c, abs=0.001)


@pytest.mark.parametrize(
    ("ohms", "celsius"), [(25_395, 4.9996), (10_000, 25), (4_367, 45.0003), (1_070, 85.0132)]
)
def test_SC_3_computed(ohms, celsius):
    assert TYPE_II.celsius_at(ohms) == pytest.approx(celsius, abs=0.001)


def test_SC_4_beta_between_25_and_85():
    """B = ln(R1/R2) / (1/T1 - 1/T2); the SC-2 guide prints 3977."""
    assert Beta.through([(25, 1.0), (85, 0.1070)]).beta_k == pytest.approx(3977.5, abs=1)


@pytest.mark.parametrize(
    ("ohms", "by_beta_c", "table_c"), [(25_390, 5.533, 5), (5_325, 39.784, 40)]
)
def test_SC_5_beta_alone_is_off(ohms, by_beta_c, table_c):
    """Trap (arithmetic): beta only is +0.53 K and -0.22 K against the table."""
    celsius = Beta(10_000, 25, 3977).celsius_at(ohms)
    assert celsius == pytest.approx(by_beta_c, abs=0.005)
    assert abs(celsius - table_c) > 0.2


def test_SC_6_interpolation_by_coefficient():
    """ "NTC thermistors: standardized R/T characteristics", 05/02, p. 147, worked example."""
    at_5 = 4.7 * 2.2739
    assert at_5 == pytest.approx(10.6873, abs=0.0005)
    assert Beta.from_coefficient(at_5, 5, 4.4).ohms_at(7) == pytest.approx(9.7932, abs=0.0005)


@pytest.mark.parametrize(
    ("celsius", "ohms"), [(0, 100.0), (10, 103.903), (50, 119.397), (100, 138.5055)]
)
def test_SC_7_platinum(celsius, ohms):
    """IEC 60751 coefficients and table values as repeated in open repositories."""
    assert Platinum(100).ohms_at(celsius) == pytest.approx(ohms, abs=0.001)
    assert Platinum(100).celsius_at(ohms) == pytest.approx(celsius, abs=0.003)
