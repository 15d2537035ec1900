import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.instruments import Range
from readings.sensor import TYPE_II_10K, catalogue, entry, fitting, judge_sensor
from readings.thermistor import Table

METER, SMALL = Range(200_000, 10, 0.5, 2), Range(20_000, 10, 0.5, 2)


def judged(ohms, at_c=20.0, meter=METER, curve=TYPE_II_10K):
    return judge_sensor(curve, ohms=ohms, meter=meter, at_c=at_c)


@given(at_c=st.floats(-15, 40), off=st.floats(-2, 2))
def test_a_sound_sensor_agrees_with_the_thermometer(at_c, off):
    found = judged(TYPE_II_10K.ohms_at(at_c + off), at_c)
    assert found.verdict.outcome == "pass"
    assert found.celsius == pytest.approx(at_c + off, abs=1e-6)
    assert 0 < found.u_k < 1


@pytest.mark.parametrize("at_c", [-5.0, 8.0, 20.0, 32.0])
def test_a_wrong_curve_is_named_by_the_one_that_fits(at_c):
    other = entry("100k-3950").curve
    found = judged(other.ohms_at(at_c), at_c, meter=Range(2e6, 100, 0.5, 2))
    assert found.verdict.outcome == "fail"
    assert found.fits[0] == "100k-3950"
    assert "100\u00a0kΩ, beta 3950 K" in found.verdict.because


def test_an_open_and_a_shorted_sensor_are_found_without_a_thermometer():
    for ohms, what in ((None, "open"), (3.0, "shorted"), (0.0, "shorted")):
        found = judged(ohms, at_c=None, meter=Range(2e6, 1, 0.5, 2))
        assert found.verdict.outcome == "fail"
        assert what in found.verdict.because
        assert found.celsius is None


def test_over_range_is_only_open_if_the_range_reaches_far_enough():
    cold = judge_sensor(TYPE_II_10K, ohms=None, meter=SMALL, at_c=0.0).verdict
    assert cold.outcome == "undecided"
    assert "higher range" in cold.next_step
    assert judge_sensor(TYPE_II_10K, ohms=None, meter=SMALL, at_c=25.0).verdict.outcome == "fail"


def test_without_a_thermometer_a_wrong_sensor_cannot_be_seen():
    found = judged(12_500, at_c=None)
    assert found.verdict.outcome == "undecided"
    assert found.celsius == pytest.approx(20.0, abs=0.05)
    assert "thermometer" in found.verdict.next_step


def test_beyond_its_table_a_sensor_is_undecided_not_broken():
    short = Table([(c, TYPE_II_10K.ohms_at(c)) for c in (5, 15, 25, 35)])
    found = judged(TYPE_II_10K.ohms_at(0), 0.0, curve=short)
    assert found.verdict.outcome == "undecided"
    assert "outside this table" in found.verdict.because
    assert judged(5e6, 0.0, Range(2e7, 100, 0.5, 2), short).verdict.outcome == "fail"


def test_five_kelvin_apart_is_as_far_as_they_may_be():
    for off, outcome in ((3.0, "pass"), (4.9, "undecided"), (5.1, "undecided"), (7.0, "fail")):
        found = judged(TYPE_II_10K.ohms_at(20 + off), 20.0)
        assert found.verdict.outcome == outcome, off


@pytest.mark.parametrize("one", catalogue(), ids=lambda one: one.key)
def test_every_curve_of_the_catalogue_is_a_thermometer(one):
    for at_c in range(-40, 101, 5):
        assert one.curve.celsius_at(one.curve.ohms_at(at_c)) == pytest.approx(at_c, abs=1e-9)
    assert f"{one.curve.ohms_at(25) / 1000:.4g}k" == one.key.split("-")[0]
    assert one.source
    assert one in fitting(one.curve.ohms_at(12.0), 12.0)


def test_curves_of_one_name_meet_at_25():
    at_25 = [one.key for one in fitting(10_000, 25.0, within_k=0.1)]
    assert sorted(at_25) == ["10k-3380", "10k-3435", "10k-3977"]
    assert [one.key for one in fitting(32_650, 0.0, within_k=0.5)] == ["10k-3977"]


def test_an_unknown_curve_is_told_with_those_that_there_are():
    with pytest.raises(ValueError, match="10k-3977"):
        entry("10k-0")
