from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings import trend
from readings.trend import Point, Work

DAY = timedelta(days=1)
START = datetime(2027, 3, 1, 9, tzinfo=UTC)


def points(*ohms, u=0.25):
    names = ("arrival", "laid", "covered", "handover")
    return [Point(name=names[i], at=START + i * DAY, ohms=o, u_ohms=u) for i, o in enumerate(ohms)]


def work(name, days):
    return Work(name=name, at=START + days * DAY)


def test_what_the_meters_can_explain_held():
    (step,) = trend.steps(points(71.0, 71.5))
    assert step.outcome == "held"
    assert step.u_ohms == pytest.approx(0.25 * 2**0.5)


def test_what_they_cannot_moved_and_the_work_in_between_is_named():
    works = [work("tiling", 1.5), work("unloading", -1), work("grouting", 5), work("screed", 1.2)]
    held, moved = trend.steps(points(71.0, 71.2, 69.9), works)
    assert (held.outcome, moved.outcome) == ("held", "moved")
    assert moved.works == ("screed", "tiling")
    assert "In between: screed and tiling." in moved.because


def test_work_at_the_time_of_the_second_reading_counts_that_of_the_first_does_not():
    (step,) = trend.steps(points(71.0, 75.0), [work("first", 0), work("second", 1)])
    assert step.works == ("second",)


def test_small_steps_that_add_up_are_drift():
    creeping = points(71.0, 71.5, 72.0, 72.5)
    assert {step.outcome for step in trend.steps(creeping)} == {"held"}
    assert trend.drift(creeping).outcome == "moved"
    assert trend.drift(creeping[:1]) is None


def test_readings_count_in_the_order_in_which_they_were_taken():
    assert trend.steps(points(71.0, 72.0)[::-1]) == trend.steps(points(71.0, 72.0))


@given(ohms=st.floats(1, 500), change=st.floats(-50, 50), u=st.floats(0, 10))
def test_exactly_twice_the_combined_uncertainty_held(ohms, change, u):
    start, end = points(ohms, max(ohms + change, 0.1), u=u)
    (step,) = trend.steps([start, end])
    assert (step.outcome == "moved") == (
        abs(end.ohms - start.ohms) > 2 * 2**0.5 * u + 1e-9 * start.ohms
        or abs(end.ohms - start.ohms) > 2 * step.u_ohms + 1e-9 * start.ohms
    )


def test_ohms_that_are_none_are_refused():
    with pytest.raises(ValueError, match="above zero"):
        trend.steps(points(71.0, 0.0))
