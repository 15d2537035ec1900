from datetime import UTC, datetime, timedelta

import pytest

from readings.continuity import Event, findings
from readings.trend import Work

NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)


def at(hours):
    return NOON + timedelta(hours=hours)


def heard(*events, until=100, works=()):
    told = [Event(at=at(hours), kind=kind) for hours, kind in events]
    return findings(told, [Work(name=n, at=at(h)) for n, h in works], until=at(until))


def test_a_watch_that_was_heard_all_along_has_no_findings():
    assert heard((0, "started"), (8, "alive"), (16, "alive"), (24, "stopped")) == []


def test_an_alarm_names_the_work_since_the_last_good_sign():
    works = [("unloading", 1), ("tiling", 9), ("grouting", 12)]
    (alarm,) = heard((0, "started"), (8, "alive"), (10, "alarm"), (11, "stopped"), works=works)
    assert (alarm.kind, alarm.start, alarm.works) == ("alarm", at(10), ("tiling",))
    assert "Stop the work" in alarm.because


def test_a_second_alarm_still_looks_back_to_the_last_good_sign():
    _, second = heard(
        (0, "started"), (2, "alarm"), (4, "alarm"), (5, "stopped"), works=[("tiling", 1)]
    )
    assert second.works == ("tiling",)


def test_silence_is_a_finding_and_names_what_it_leaves_unproven():
    (silence,) = heard((0, "started"), (30, "stopped"), works=[("tiling", 20)])
    assert (silence.kind, silence.start, silence.end) == ("silence", at(0), at(30))
    assert silence.works == ("tiling",)


def test_a_monitor_that_was_never_stopped_is_silent_until_now():
    (silence,) = heard((0, "started"), (5, "alive"), until=18)
    assert (silence.start, silence.end) == (at(5), at(18))
    assert heard((0, "started"), (5, "alive"), until=17) == []


def test_between_two_watches_nobody_has_to_be_heard():
    assert heard((0, "started"), (5, "stopped"), (60, "started"), (65, "stopped")) == []


def test_the_order_of_events_and_what_is_still_to_come_are_no_matter():
    events = [(10, "alarm"), (0, "started"), (11, "stopped"), (200, "alarm")]
    assert [f.start for f in heard(*events)] == [at(10)]


def test_a_limit_of_no_time_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        findings([], until=NOON, silent_after=timedelta(0))
