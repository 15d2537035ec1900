"""Calendar files of other trades: zones, clock changes, series, bombs, and what is no calendar."""

import time
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.calendar_file import MOST_SERIES, read_calendar
from scheduling.calendar_text import MOST_BYTES, MOST_EVENTS
from scheduling.planned import HORIZON, MOST_TIMES, UnusableCalendar

AT = datetime(2027, 3, 10, 7, tzinfo=UTC)
OSLO, NEW_YORK = ZoneInfo("Europe/Oslo"), ZoneInfo("America/New_York")


def calendar(*events: str, more: str = "") -> str:
    inner = "".join(f"BEGIN:VEVENT\r\n{event}\r\nEND:VEVENT\r\n" for event in events)
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{more}{inner}END:VCALENDAR\r\n"


def event(*lines: str, uid: str = "a@trade") -> str:
    return "\r\n".join([f"UID:{uid}", *lines])


def read(*events: str, place: ZoneInfo = OSLO, more: str = ""):
    return read_calendar(calendar(*events, more=more), place=place, at=AT)


def spans(found) -> list[tuple[str, str]]:
    return [(f"{t.starts_at:%m-%d %H:%M}", f"{t.ends_at:%m-%d %H:%M}") for t in found.times]


def whys(found) -> list[str]:
    return [wrong.why for wrong in found.wrongs]


@pytest.mark.parametrize(
    ("lines", "span"),
    [
        (["DTSTART:20270401T080000Z", "DTEND:20270401T100000Z"], ("04-01 08:00", "04-01 10:00")),
        # floating: by the clock of the place, two hours ahead in summer
        (["DTSTART:20270401T080000", "DTEND:20270401T100000"], ("04-01 06:00", "04-01 08:00")),
        (
            ["DTSTART;TZID=America/New_York:20270401T080000", "DURATION:PT90M"],
            ("04-01 12:00", "04-01 13:30"),
        ),
        (
            ["DTSTART;TZID=W. Europe Standard Time:20270401T080000", "DURATION:PT1H"],
            ("04-01 06:00", "04-01 07:00"),
        ),
        (
            ["DTSTART;TZID=/example.org/20070129/Europe/Oslo:20270401T080000", "DURATION:PT1H"],
            ("04-01 06:00", "04-01 07:00"),
        ),
        # all day: from midnight to midnight of the place
        (["DTSTART;VALUE=DATE:20270401"], ("03-31 22:00", "04-01 22:00")),
        (
            ["DTSTART;VALUE=DATE:20270401", "DTEND;VALUE=DATE:20270403"],
            ("03-31 22:00", "04-02 22:00"),
        ),
        # across the night in which clocks go forward: 23 hours to the same time a day later
        (["DTSTART:20270327T120000", "DURATION:P1D"], ("03-27 11:00", "03-28 10:00")),
        (["DTSTART:20270327T120000", "DURATION:PT24H"], ("03-27 11:00", "03-28 11:00")),
        # a time that the clocks skip: with the offset before the change (RFC 5545, 3.3.5)
        (["DTSTART:20270328T023000", "DURATION:PT1H"], ("03-28 01:30", "03-28 02:30")),
    ],
)
def test_a_time_in_any_zone(lines, span):
    assert spans(read(event(*lines))) == [span]


OWN_ZONE = """BEGIN:VTIMEZONE
TZID:Ours
BEGIN:STANDARD
DTSTART:16011028T030000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10
TZOFFSETFROM:{summer}
TZOFFSETTO:{winter}
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:16010325T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3
TZOFFSETFROM:{winter}
TZOFFSETTO:{summer}
END:DAYLIGHT
END:VTIMEZONE
"""


def test_a_zone_that_the_file_defines_and_that_the_next_one_defines_otherwise():
    one = event("DTSTART;TZID=Ours:20270325T080000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=2")
    east = read(one, more=OWN_ZONE.format(winter="+0300", summer="+0400"))
    assert [at for at, _end in spans(east)] == ["03-25 05:00", "04-01 04:00"]
    west = read(one, more=OWN_ZONE.format(winter="-0500", summer="-0400"))
    assert [at for at, _end in spans(west)] == ["03-25 13:00", "04-01 12:00"]


def test_an_unknown_zone_is_told_and_the_rest_taken():
    found = read(
        event("DTSTART;TZID=Mars/Phobos:20270401T080000", "DURATION:PT1H", "SUMMARY:Dust"),
        event("DTSTART:20270401T080000Z", "DURATION:PT1H", uid="b@trade"),
    )
    assert whys(found) == ["Its time zone “Mars/Phobos” is not known here."]
    assert found.wrongs[0].where == "Dust, 20270401T080000"
    assert len(found.times) == 1


def test_a_series_keeps_its_clock_time_when_the_clocks_change():
    found = read(
        event(
            "DTSTART;TZID=Europe/Oslo:20270326T080000",
            "DTEND;TZID=Europe/Oslo:20270326T100000",
            "RRULE:FREQ=DAILY;COUNT=4",
            "EXDATE;TZID=Europe/Oslo:20270327T080000",
            "RDATE;TZID=Europe/Oslo:20270405T090000",
        )
    )
    assert [at for at, _end in spans(found)] == [
        "03-26 07:00", "03-28 06:00", "03-29 06:00", "04-05 07:00",
    ]  # fmt: skip


def test_until_is_by_the_clock_of_the_zone():
    """06:00 UTC is 8 o'clock in Oslo in summer: the third is just in time."""
    found = read(
        event(
            "DTSTART;TZID=Europe/Oslo:20270401T080000",
            "DURATION:PT1H",
            "RRULE:FREQ=DAILY;UNTIL=20270403T060000Z",
        )
    )
    assert len(found.times) == 3


def test_a_time_of_a_series_that_is_moved_or_called_off():
    series = event(
        "DTSTART:20270401T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=4", "SEQUENCE:2"
    )
    moved = event(
        "RECURRENCE-ID:20270402T080000Z",
        "DTSTART:20270402T140000Z",
        "DURATION:PT2H",
        "SEQUENCE:3",
    )
    off = event("RECURRENCE-ID:20270403T080000Z", "STATUS:CANCELLED", "SEQUENCE:4")
    found = read(moved, series, off)
    assert [at for at, _end in spans(found)] == ["04-01 08:00", "04-02 14:00", "04-04 08:00"]
    assert found.times[1].source == "a@trade/20270402T080000Z"
    assert (found.gone, found.whole) == ({"a@trade/20270403T080000Z": 4}, {"a@trade": 2})


def test_a_calendar_that_calls_off():
    off = event("DTSTART:20270401T080000Z", "DURATION:PT1H", "SEQUENCE:5")
    found = read(off, more="METHOD:CANCEL\r\n")
    assert (found.times, found.whole) == ((), {"a@trade": 5})
    found = read(event("STATUS:CANCELLED"))
    assert (found.times, found.whole) == ((), {"a@trade": 0})


def test_what_is_over_or_far_is_counted_and_left():
    found = read(
        event("DTSTART:20270301T080000Z", "DURATION:PT1H", uid="past"),
        event("DTSTART:20270310T060000Z", "DURATION:PT2H", uid="now"),
        event("DTSTART:20290401T080000Z", "DURATION:PT1H", uid="far"),
    )
    assert [each.source for each in found.times] == ["now"]
    assert (found.past, found.later) == (1, 1)


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        (["DURATION:PT1H"], "It does not say when it begins."),
        (["DTSTART:20270401T080000Z"], "It has neither an end nor a length."),
        (["DTSTART:tomorrow", "DURATION:PT1H"], "“tomorrow” is no time."),
        (["DTSTART:20271301T080000Z", "DURATION:PT1H"], "“20271301T080000Z” is no time."),
        (["DTSTART:00010101T080000Z", "DURATION:PT1H"], "“1-01-01” is no time."),
        (["DTSTART:20270401T080000Z", "DURATION:soon"], "“soon” is no time."),
        (["DTSTART:20270401T080000Z", "DTEND:20270401T070000Z"], "It ends before it begins."),
        (["DTSTART:20270401T080000Z", "DURATION:P93D"], "It lasts longer than 92 days."),
        (
            ["RECURRENCE-ID;RANGE=THISANDFUTURE:20270401T080000Z"],
            "A change of all later times of a series is not taken. Send the whole series.",
        ),
        (
            ["DTSTART:20270401T080000Z", "DURATION:PT1H", "RRULE:FREQ=SECONDLY"],
            "Its repetition cannot be worked out. A visit repeats daily, weekly, monthly or "
            "yearly, not otherwise.",
        ),
        (
            ["DTSTART:20270401T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;INTERVAL=0"],
            "Its repetition cannot be worked out. INTERVAL is a whole number from 1 to 1000.",
        ),
        (
            ["DTSTART:20270401T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;BYDAY=XX"],
            "Its repetition cannot be worked out. FREQ=DAILY;BYDAY=XX is no rule of repetition.",
        ),
    ],
)
def test_what_cannot_be_taken_is_named(lines, why):
    assert whys(read(event(*lines))) == [why]


def test_an_entry_without_a_uid_is_named():
    assert whys(read("DTSTART:20270401T080000Z")) == ["It has no UID."]


def test_alarms_inside_an_entry_are_not_its_own_times():
    alarm = "BEGIN:VALARM\r\nUID:other\r\nDURATION:PT5M\r\nTRIGGER:-PT15M\r\nEND:VALARM"
    found = read(event("DTSTART:20270401T080000Z", alarm, "DURATION:PT1H"))
    assert spans(found) == [("04-01 08:00", "04-01 09:00")]


def test_texts_are_unescaped_and_unfolded():
    found = read(
        event("DTSTART:20270401T080000Z", "DURATION:PT1H", "SUMMARY:Pipes\\, and\r\n  taps")
    )
    assert found.times[0].title == "Pipes, and taps"


# Bombs


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=DAILY",
        "FREQ=DAILY;COUNT=1000000000",
        "FREQ=DAILY;UNTIL=99991231T000000Z",
        "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30",  # never
        "FREQ=WEEKLY;BYDAY=MO;BYSETPOS=5",  # never
        "FREQ=MONTHLY;BYDAY=5MO;BYMONTHDAY=1",  # never
        "FREQ=YEARLY;BYDAY=MO;BYMONTHDAY=30;BYMONTH=2",  # never
        "FREQ=DAILY;BYHOUR=1,2,3,4,5;BYMINUTE=1,2,3",
        "FREQ=MINUTELY",
        "FREQ=DAILY;INTERVAL=1000",
    ],
)
def test_a_series_without_end_is_worked_out_at_once(rule):
    started = time.process_time()
    found = read(event("DTSTART:19000101T080000Z", "DURATION:PT1H", f"RRULE:{rule}"))
    assert time.process_time() - started < 1
    assert len(found.times) <= HORIZON.days + 1


def test_a_series_without_end_is_taken_for_a_year():
    found = read(event("DTSTART:20260101T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY"))
    assert len(found.times) == HORIZON.days  # today to the day before in a year
    assert found.times[-1].starts_at <= AT + HORIZON


def test_a_zone_is_no_way_in():
    bomb = OWN_ZONE.format(winter="+0100", summer="+0200").replace("YEARLY", "SECONDLY")
    found = read(event("DTSTART;TZID=Ours:20270401T080000", "DURATION:PT1H"), more=bomb)
    assert whys(found) == ["Its time zone “Ours” is not known here."]


def refusal(content) -> str:
    with pytest.raises(UnusableCalendar) as refused:
        read_calendar(content, place=OSLO, at=AT)
    return refused.value.detail


def test_a_hundred_thousand_entries_are_refused_with_the_limit():
    line = "BEGIN:VEVENT\nEND:VEVENT\n"
    assert refusal("BEGIN:VCALENDAR\n" + line * 100_000) == (
        "The calendar is larger than 1000 kB. Send the part that is about this job."
    )
    assert refusal("BEGIN:VCALENDAR\n" + line * (MOST_EVENTS + 1)) == (
        "The calendar has 2001 entries; at most 2000 are taken."
    )


def test_a_large_file_is_refused_unread():
    assert "larger than 1000 kB" in refusal(b"\xff" * (MOST_BYTES + 1))


def test_too_many_times_or_series_are_refused_with_the_limit():
    daily = [
        event("DTSTART:20270401T080000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY", uid=f"{n}")
        for n in range(MOST_SERIES + 1)
    ]
    assert f"more than {MOST_TIMES} times within a year" in refusal(calendar(*daily[:2]))
    once = [text.replace("FREQ=DAILY", "FREQ=DAILY;COUNT=1") for text in daily]
    assert f"more than {MOST_SERIES} series" in refusal(calendar(*once))
    assert len(read(*once[:-1]).times) == MOST_SERIES


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("", "This is no calendar: BEGIN:VCALENDAR is missing."),
        ("<html>", "This is no calendar: BEGIN:VCALENDAR is missing."),
        (b"BEGIN:VCALENDAR\xff\xfe", "The calendar is not UTF-8."),
    ],
)
def test_what_is_no_calendar_is_refused(content, why):
    assert refusal(content) == why


NAMES = ["UID", "DTSTART", "DTEND", "DURATION", "RRULE", "EXDATE", "RECURRENCE-ID", "BEGIN", "END"]
VALUES = ["VEVENT", "VTIMEZONE", "20270401T080000", "20270401", "PT1H", "FREQ=DAILY", "TZID=Ours"]


@given(
    st.lists(
        st.tuples(st.sampled_from(NAMES), st.sampled_from([":", ";"]), st.sampled_from(VALUES))
        | st.text(max_size=30).map(lambda text: ("", "", text)),
        max_size=30,
    )
)
def test_no_text_breaks_the_reader(parts):
    lines = "\r\n".join("".join(part) for part in parts)
    read_calendar(f"BEGIN:VCALENDAR\r\n{lines}", place=OSLO, at=AT)


instants = st.datetimes(datetime(2027, 3, 11), datetime(2028, 3, 1)).map(  # noqa: DTZ001
    lambda naive: naive.replace(microsecond=0)
)


@given(
    clock=instants,
    minutes=st.integers(1, 3000),
    zone=st.sampled_from([None, UTC, OSLO, NEW_YORK, ZoneInfo("Australia/Lord_Howe")]),
    title=st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=80),
)
def test_what_another_writer_writes_is_read_as_it_meant(clock, minutes, zone, title):
    """Written by the icalendar library; the end is an exact length after the start."""
    start = clock.replace(tzinfo=zone)
    in_utc = clock.replace(tzinfo=zone or OSLO).astimezone(UTC)
    end = (in_utc + timedelta(minutes=minutes)).astimezone(UTC)
    made = icalendar.Event()
    for name, value in (("uid", "x@y"), ("dtstart", start), ("dtend", end), ("summary", title)):
        made.add(name, value)
    whole = icalendar.Calendar()
    whole.add_component(made)
    (found,) = read_calendar(whole.to_ical(), place=OSLO, at=AT).times
    assert (found.starts_at, found.ends_at) == (in_utc, end)
    assert found.title.strip() == title.strip()
