"""How readings of several sources become one cautious course."""

from datetime import timedelta
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.air import ImplausibleTemperature
from scheduling.temperatures import (
    ImplausibleTime,
    TemperatureRecord,
    course,
    doubts,
)
from tests.scheduling.floors import PLACED_AT, steady

NOW = PLACED_AT + timedelta(hours=48)
rows = st.lists(
    st.tuples(st.integers(-20, 48), st.floats(-10, 40), st.sampled_from("abc")), max_size=25
)


def record(*readings):
    return TemperatureRecord.of(
        [
            (PLACED_AT + timedelta(hours=hour), celsius, source)
            for hour, celsius, source in readings
        ],
        not_after=NOW,
    )


def at(known, hour):
    """Temperature so many hours after placing."""
    return known.at(hour - 48)


def merged(readings, *, assume_c=8.0, max_gap_hours=6.0):
    return course(
        readings, start=PLACED_AT, now=NOW, assume_c=assume_c, max_gap_hours=max_gap_hours
    )


def test_straight_between_readings_within_the_gap():
    known = merged(record((0, 10, "a"), (6, 16, "a")))
    assert at(known, 3) == pytest.approx(13)


def test_one_minute_more_than_the_gap_is_unknown():
    known = merged(record((0, 10, "a"), (6 + 1 / 60, 16, "a")))
    assert at(known, 3) == 8
    assert not known.known.any()


def test_unknown_counts_at_the_coldest_of_the_assumption_and_the_ends():
    known = merged(record((10, 4, "a"), (30, 20, "a")))
    assert [at(known, hour) for hour in (5, 20, 40)] == [4, 4, 8]


def test_readings_on_both_sides_of_placing_are_bridged():
    known = merged(record((-2, 10, "a"), (2, 14, "a")))
    assert at(known, 0) == pytest.approx(12)
    assert known.known[0]


def test_without_any_reading_all_is_assumed():
    known = merged(record())
    assert known.hours.sum() == 48
    assert at(known, 20) == 8


def test_at_one_instant_the_coldest_source_counts():
    known = merged(record((0, 20, "a"), (0, 12, "b"), (4, 20, "a"), (4, 12, "b")))
    assert at(known, 2) == pytest.approx(12)


def test_a_warm_source_between_the_readings_of_a_cold_one_changes_nothing():
    cold = [(hour, 10, "floor") for hour in range(0, 49, 2)]
    warm = [(hour, 21, "wall") for hour in range(1, 48, 2)]
    known = merged(record(*cold, *warm))
    assert known.from_c.max() == pytest.approx(10)


def test_two_crossing_sources_count_the_lower_of_the_two():
    known = merged(record((0, 10, "a"), (4, 20, "a"), (1, 18, "b"), (3, 9, "b")))
    assert at(known, 1.5) == pytest.approx(min(10 + 2.5 * 1.5, 18 - 4.5 * 0.5))
    assert at(known, 2.5) == pytest.approx(18 - 4.5 * 1.5)


def test_two_sparse_sources_bridge_each_other():
    known = merged(record((0, 10, "a"), (8, 10, "a"), (4, 12, "hand")))
    assert known.known[known.edges_h[:-1] < -41].all()


@given(rows=rows)
def test_the_order_of_readings_and_repeats_do_not_matter(rows):
    shuffled = rows * 2
    Random(1).shuffle(shuffled)
    one, two = merged(record(*rows)), merged(record(*shuffled))
    for name in ("edges_h", "from_c", "to_c", "known"):
        assert np.array_equal(getattr(one, name), getattr(two, name))


@given(rows=rows)
def test_the_course_is_whole_and_never_above_any_source_at_its_reading(rows):
    known = merged(record(*rows))
    assert known.edges_h[0] == -48
    assert known.edges_h[-1] == 0
    assert (np.diff(known.edges_h) > 0).all()
    for hour, celsius, _ in rows:
        if 0 < hour < 48:
            right = int(np.searchsorted(known.edges_h, hour - 48, side="right")) - 1
            assert min(known.from_c[right], known.to_c[right - 1]) <= celsius + 1e-6


@given(rows=rows, extra=rows)
def test_another_source_never_makes_known_time_warmer(rows, extra):
    """What was known of the first sources stays an upper bound."""
    own = [(hour, celsius, "first") for hour, celsius, _ in rows]
    other = [(hour, celsius, "second") for hour, celsius, _ in extra]
    alone, together = merged(record(*own)), merged(record(*own, *other))
    middles = (together.edges_h[:-1] + together.edges_h[1:]) / 2
    for middle, from_c, to_c in zip(middles, together.from_c, together.to_c, strict=True):
        stretch = int(np.searchsorted(alone.edges_h, middle, side="right")) - 1
        if alone.known[stretch]:
            assert (from_c + to_c) / 2 <= alone.at(middle) + 1e-6


@given(rows, st.one_of(st.integers(-50, 1), st.floats(-50, 1)))
def test_a_part_of_a_course_runs_as_the_whole_from_there_on(rows, start_h):
    whole = merged(record(*rows))
    part = whole.since(start_h)
    begins_h = max(float(start_h), -48.0)
    assert part.hours.sum() == pytest.approx(max(-begins_h, 0))
    assert len(part.edges_h) == (start_h <= 0) * (len(part.from_c) + 1)
    edges = zip(part.edges_h[:-1], part.edges_h[1:], part.known, strict=True)
    for one, other, known in edges:
        for share in (0.1, 0.5, 0.9):
            when_h = one + share * (other - one)
            assert part.at(when_h) == pytest.approx(whole.at(when_h))
        stretch = np.searchsorted(whole.edges_h, (one + other) / 2) - 1
        assert known == whole.known[stretch]


def test_a_reading_without_zone_is_refused():
    with pytest.raises(ImplausibleTime) as refused:
        TemperatureRecord.of([(PLACED_AT.replace(tzinfo=None), 18, "a")], not_after=NOW)
    assert refused.value.pointer == "#/temperatures/0/at"


def test_a_logger_a_day_ahead_is_refused_by_name():
    ahead = [*steady(18.0, hours=48), (NOW + timedelta(days=1), 18.0, "logger 7")]
    with pytest.raises(ImplausibleTime, match="logger 7") as refused:
        TemperatureRecord.of(ahead, not_after=NOW)
    assert refused.value.pointer == f"#/temperatures/{len(ahead) - 1}/at"


def test_a_temperature_in_fahrenheit_is_told():
    with pytest.raises(ImplausibleTemperature, match="°F") as refused:
        TemperatureRecord.of([(PLACED_AT, 77.0, "a")], not_after=NOW)
    assert "25.0 °C" in refused.value.detail


@pytest.mark.parametrize("celsius", [200.0, -40.1, 70.1, float("nan"), float("inf")])
def test_an_implausible_temperature_is_refused(celsius):
    with pytest.raises(ImplausibleTemperature):
        TemperatureRecord.of([(PLACED_AT, celsius, "a")], not_after=NOW)


def test_a_room_of_64_degrees_is_doubted():
    assert "°F" in doubts(record((0, 64, "a"), (4, 66, "a")), max_gap_hours=6)[0]


def test_overlapping_records_that_disagree_are_told():
    warm = [(hour, 21, "wall") for hour in range(0, 49, 4)]
    cold = [(hour, 12, "floor") for hour in range(1, 48, 4)]
    (doubt,) = doubts(record(*warm, *cold), max_gap_hours=6)
    assert "9.0 K" in doubt
    assert doubts(record(*warm), max_gap_hours=6) == ()


def test_records_far_apart_do_not_disagree():
    assert (
        doubts(record((0, 21, "a"), (4, 21, "a"), (30, 5, "b"), (34, 5, "b")), max_gap_hours=6)
        == ()
    )
