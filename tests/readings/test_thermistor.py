import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.number import ImplausibleNumber
from readings.thermistor import Beta, CurveNotUsable, OutsideCurve, Platinum, SteinhartHart, Table

TYPE_II = SteinhartHart(0.001129241, 0.0002341077, 8.775468e-8)
POINTS = [(0, 27_445), (25, 10_000), (50, 4_160)]
ROWS = [(-40, 336_100), (0, 32_650), (25, 10_000), (60, 2_488), (85, 1_070)]
CURVES = [TYPE_II, SteinhartHart.through(POINTS), Beta(12_000, 25, 3740), Table(ROWS)]

NONSENSE = [math.nan, math.inf, -math.inf, -1, 0, True, "10000", None, 10**400]

celsius = st.floats(-40, 85)


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: type(curve).__name__)
@given(celsius=celsius)
def test_curves_undo_themselves(curve, celsius):
    assert curve.celsius_at(curve.ohms_at(celsius)) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: type(curve).__name__)
@given(ohms=st.floats(1_070, 336_000))
def test_curves_undo_themselves_from_ohms(curve, ohms):
    assert curve.ohms_at(curve.celsius_at(ohms)) == pytest.approx(ohms, rel=1e-9)


@given(
    cold=st.floats(-40, 15),
    steps=st.tuples(st.floats(5, 40), st.floats(5, 40)),
    beta=st.floats(2500, 5000),
    bend=st.floats(0.9, 1.1),
    ref_ohms=st.sampled_from([2_252, 10_000, 100_000]),
)
def test_a_curve_through_three_points_meets_them(cold, steps, beta, bend, ref_ohms):
    celsius = [cold, cold + steps[0], cold + sum(steps)]
    plain = Beta(ref_ohms, 25, beta)
    points = [(c, plain.ohms_at(c)) for c in celsius]
    points[1] = (points[1][0], points[1][1] * bend ** (min(steps) / 40))
    curve = SteinhartHart.through(points)
    for at, ohms in points:
        assert curve.celsius_at(ohms) == pytest.approx(at, abs=1e-7)
        assert curve.ohms_at(at) == pytest.approx(ohms, rel=1e-8)


@given(t=st.floats(-200, 850))
def test_platinum_undoes_itself(t):
    assert Platinum(1000).celsius_at(Platinum(1000).ohms_at(t)) == pytest.approx(t, abs=1e-9)


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: type(curve).__name__)
@pytest.mark.parametrize("ohms", NONSENSE, ids=repr)
def test_ohms_that_are_none_are_refused(curve, ohms):
    with pytest.raises(ValueError, match=r"."):
        curve.celsius_at(ohms)


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: type(curve).__name__)
@pytest.mark.parametrize("at", [math.nan, math.inf, -273.15, -300, False, "20"], ids=repr)
def test_temperatures_that_are_none_are_refused(curve, at):
    with pytest.raises(ValueError, match=r"."):
        curve.ohms_at(at)


@pytest.mark.parametrize("celsius", [-272.9, -40.001, 85.001])
def test_a_table_says_nothing_beyond_its_ends(celsius):
    with pytest.raises(OutsideCurve, match="-40 to 85"):
        Table(ROWS).ohms_at(celsius)


@pytest.mark.parametrize("ohms", [1_069.9, 336_100.1])
def test_a_table_knows_no_ohms_beyond_its_ends(ohms):
    with pytest.raises(OutsideCurve, match="broken or shorted sensor"):
        Table(ROWS).celsius_at(ohms)


def test_the_ends_belong_to_a_table_and_its_points_come_in_any_order():
    table = Table(reversed(ROWS))
    assert table == Table(ROWS)
    assert table.celsius_at(336_100) == pytest.approx(-40, abs=1e-9)
    assert table.ohms_at(85) == pytest.approx(1_070)


@pytest.mark.parametrize(
    "points",
    [
        [],
        [(25, 10_000)],
        [(0, 10_000), (25, 10_000)],
        [(0, 10_000), (25, 27_445)],
        [(0, 30_000), (25, 10_000), (50, 12_000)],
        [(25, 10_000), (25, 9_000), (50, 4_000)],
        [(27_445, 0), (10_000, 25)],
        [(2_000, 25), (1_500, 40)],
        [(0, 30_000, 1), (25, 10_000, 2)],
        [0, 25],
        None,
        [("0", 30_000), (25, 10_000)],
        [(math.nan, 30_000), (25, 10_000)],
        [(-300, 30_000), (25, 10_000)],
    ],
    ids=repr,
)
def test_a_table_that_is_none_is_refused(points):
    with pytest.raises(ValueError, match=r"."):
        Table(points)
    with pytest.raises(ValueError, match=r"."):
        SteinhartHart.through(points)


@pytest.mark.parametrize(
    "points",
    [
        POINTS[:2],
        [*POINTS, (60, 3_000)],
        [(0, 30_000), (25, 29_999.999), (50, 1)],
        [(0, 30_000), (1, 100), (50, 99.999)],
    ],
)
def test_three_points_that_fix_no_curve_are_refused(points):
    with pytest.raises(CurveNotUsable):
        SteinhartHart.through(points)


@pytest.mark.parametrize(
    ("a", "b", "c"),
    [
        (math.nan, 2e-4, 1e-7),
        (1e-3, math.inf, 1e-7),
        (1e-3, -2e-4, -1e-7),
        (1e-3, 0, 0),
        (1, "b", 0),
    ],
)
def test_coefficients_that_are_no_curve_are_refused(a, b, c):
    with pytest.raises(ValueError, match=r"."):
        SteinhartHart(a, b, c)


def test_where_the_cubic_turns_around_it_is_no_thermometer():
    curve = SteinhartHart(1e-3, 2.6e-4, -4e-7)  # turns at ln R = 14.7
    assert curve.celsius_at(curve.ohms_at(20)) == pytest.approx(20, abs=1e-9)
    with pytest.raises(OutsideCurve):
        curve.celsius_at(1e8)


@pytest.mark.parametrize(
    ("ohms", "ref_c", "beta"),
    [(0, 25, 3977), (10_000, -300, 3977), (10_000, 25, 0), (10_000, 25, -1), (True, 25, 3977)],
)
def test_a_beta_that_is_none_is_refused(ohms, ref_c, beta):
    with pytest.raises(ImplausibleNumber):
        Beta(ohms, ref_c, beta)


def test_beta_says_when_it_is_asked_too_far():
    with pytest.raises(OutsideCurve):
        Beta(10_000, 25, 3977).ohms_at(-273.1)
    with pytest.raises(OutsideCurve):
        Beta(10_000, 25, 3977).celsius_at(1e-3)
