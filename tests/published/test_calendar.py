"""Calendars and clocks against published values (CT); zoneinfo with tzdata 2026."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from jobs.publicholidays import public_holidays
from scheduling.halfday import (
    HalfDay,
    day_hours,
    half_day,
    half_day_span,
    plus_days,
    plus_hours,
    starts_at,
    working_half_days,
)
from scheduling.recurrence import occurrences

NEW_YORK, BERLIN = ZoneInfo("America/New_York"), ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/Berlin", date(2026, 3, 29), 23),
        ("Europe/Berlin", date(2026, 10, 25), 25),
        ("America/New_York", date(2026, 3, 8), 23),
        ("America/New_York", date(2026, 11, 1), 25),
        ("America/Phoenix", date(2026, 3, 8), 24),
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5),
    ],
    ids=lambda value: f"CT-1-{value}",
)
def test_CT_1_length_of_a_day(zone, day, hours):
    assert day_hours(day, ZoneInfo(zone)) == hours


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (datetime(2026, 3, 27, 10, tzinfo=BERLIN), "2026-03-30T11:00:00+02:00"),
        (datetime(2026, 10, 30, 15, 30, tzinfo=NEW_YORK), "2026-11-02T14:30:00-05:00"),
    ],
    ids=["CT-2-Berlin", "CT-2-New-York"],
)
def test_CT_2_72_elapsed_hours(start, end):
    assert plus_hours(start, 72, start.tzinfo).isoformat() == end


def test_CT_3_a_day_later_and_24_hours_later():
    """RFC 5545 3.3.6, nominal and exact durations (rule from memory)."""
    start = datetime(2026, 3, 7, 9, tzinfo=NEW_YORK)
    assert plus_days(start, 1, NEW_YORK) == datetime(2026, 3, 8, 9, tzinfo=NEW_YORK)
    assert plus_hours(start, 24, NEW_YORK) == datetime(2026, 3, 8, 10, tzinfo=NEW_YORK)


@pytest.mark.parametrize(
    ("day", "clock", "at"),
    [
        (date(2007, 3, 11), time(2, 30), datetime(2007, 3, 11, 7, 30, tzinfo=UTC)),
        (date(2007, 11, 4), time(1, 30), datetime(2007, 11, 4, 5, 30, tzinfo=UTC)),
    ],
    ids=["CT-4-skipped", "CT-4-twice"],
)
def test_CT_4_local_times_that_are_skipped_or_come_twice(day, clock, at):
    """RFC 5545 3.3.5 (its two examples seen)."""
    assert starts_at(day, clock, NEW_YORK) == at


@pytest.mark.parametrize(
    ("country", "day"),
    [
        ("US", date(2026, 7, 3)),
        ("US", date(2026, 11, 26)),
        ("DE", date(2026, 4, 3)),
        ("DE", date(2026, 4, 6)),
    ],
    ids=["CT-6-independence", "CT-6-thanksgiving", "CT-6-good-friday", "CT-6-easter-monday"],
)
def test_CT_6_public_holidays(country, day):
    """holidays 0.109; of 4 July 2026, a Saturday, the Friday before is the one observed."""
    found = public_holidays(country, "", first=date(2026, 1, 1), last=date(2026, 12, 31))
    assert day in found
    assert day + timedelta(days=4) not in found


def test_CT_5_the_first_friday_of_ten_months():
    """RFC 5545 3.8.5.3; python-dateutil 2.9 agrees."""
    found = occurrences(
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        datetime(1997, 9, 2, 9),  # noqa: DTZ001 - a wall clock time
        zone=NEW_YORK,
        since=datetime(1997, 9, 3),  # noqa: DTZ001
        until=datetime(1999, 1, 1),  # noqa: DTZ001
    )
    assert [f"{at:%Y-%m-%d %H}" for at in found] == [
        f"{day} 09"
        for day in (
            "1997-09-05", "1997-10-03", "1997-11-07", "1997-12-05", "1998-01-02",
            "1998-02-06", "1998-03-06", "1998-04-03", "1998-05-01", "1998-06-05",
        )
    ]  # fmt: skip


def test_CT_7_working_half_days_over_a_long_weekend():
    """Counted on the federal holidays of CT-6."""
    week = public_holidays("US", "", first=date(2026, 7, 2), last=date(2026, 7, 7))
    found = working_half_days(
        HalfDay(date(2026, 7, 2), "am"),
        HalfDay(date(2026, 7, 7), "am"),
        holidays=week,
    )
    thursday, monday = date(2026, 7, 2), date(2026, 7, 6)
    assert found == [
        (thursday, "am"), (thursday, "pm"), (monday, "am"), (monday, "pm"),
    ]  # fmt: skip


def test_a_dst_night_is_24_real_hours_after_24_hours():
    before = datetime(2026, 10, 24, 20, tzinfo=BERLIN)
    after = plus_hours(before, 24, BERLIN)
    assert after.astimezone(UTC) - before.astimezone(UTC) == timedelta(hours=24)
    assert after.hour == 19


@pytest.mark.parametrize(
    ("clock", "half"),
    [(time(), "am"), (time(11, 59), "am"), (time(12), "pm"), (time(23, 59), "pm")],
)
def test_noon_belongs_to_the_afternoon(clock, half):
    """Common practice, no source."""
    day = date(2026, 3, 29)
    found = half_day(starts_at(day, clock, BERLIN), BERLIN)
    assert found == (day, half)
    start, end = half_day_span(found, BERLIN)
    assert start <= starts_at(day, clock, BERLIN) < end


def test_a_morning_with_a_clock_change_is_an_hour_shorter():
    start, end = half_day_span(HalfDay(date(2026, 3, 29), "am"), BERLIN)
    assert end - start == timedelta(hours=11)
