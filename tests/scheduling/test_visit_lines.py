"""Visits as lines of text: each good one taken, each bad one named."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.planned import MOST_TIMES, UnusableCalendar
from scheduling.visit_lines import read_lines

AT = datetime(2027, 3, 10, 7, tzinfo=UTC)
OSLO = ZoneInfo("Europe/Oslo")
ROOMS = ["Bathroom", "Guest room"]


def read(text):
    return read_lines(text, rooms=ROOMS, place=OSLO, at=AT)


@pytest.mark.parametrize(
    ("line", "starts", "ends"),
    [
        ("2027-04-01 08:00-16:00 plumber", "04-01 06:00", "04-01 14:00"),
        ("2027-04-01 8-16 plumber", "04-01 06:00", "04-01 14:00"),
        ("2027-04-01  8.30 – 16.45  plumber", "04-01 06:30", "04-01 14:45"),
        ("2027-04-01 am plumber", "03-31 22:00", "04-01 10:00"),
        ("2027-04-01 PM plumber", "04-01 10:00", "04-01 22:00"),
        ("2027-04-01 plumber", "03-31 22:00", "04-01 22:00"),
        ("2027-04-01 22:00-2027-04-02 02:00 plumber", "04-01 20:00", "04-02 00:00"),
        ("2027-04-01 08:00-24:00 plumber", "04-01 06:00", "04-01 22:00"),
        ("2027-03-28 plumber", "03-27 23:00", "03-28 22:00"),  # a day of 23 hours
    ],
)
def test_a_day_and_its_times(line, starts, ends):
    (found,) = read(line).times
    assert (f"{found.starts_at:%m-%d %H:%M}", f"{found.ends_at:%m-%d %H:%M}") == (starts, ends)
    assert found.trade == "plumber"


def test_who_comes_where_and_what_for():
    (found,) = read(
        "2027-04-01 8-16 tile setter, Brook & Weir @ guest ROOM: drilling, walking"
    ).times
    assert (found.trade, found.company, found.room) == ("tile setter", "Brook & Weir", "Guest room")
    assert found.activities == ("walking", "drilling")


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("01.04.2027 8-16 plumber", "“01.04.2027” is no day. Write it as 2026-12-01."),
        ("2027-02-30 8-16 plumber", "“2027-02-30” is no day. Write it as 2026-12-01."),
        ("20270401 8-16 plumber", "“20270401” is no day. Write it as 2026-12-01."),
        ("2027-04-01 25:00-26:00 plumber", "“25:00” is no time."),
        ("2027-04-01 8:75-9 plumber", "“8:75” is no time."),
        ("2027-04-01 16-8 plumber", "It ends before it begins."),
        ("2027-04-01 8-2027-09-01 9 plumber", "It lasts longer than 92 days."),
        (
            "2027-04-01 8 plumber",
            "After the day comes from when until when, such as 08:00-16:00, or am, or pm.",
        ),
        ("2027-04-01 8-16", "After the times comes the trade."),
        ("2027-04-01 8-16 plumber @ Attic", "“Attic” is no room of this job."),
        ("2027-04-01 8-16 plumber: dancing", "“dancing” is none of the activities."),
        (f"2027-04-01 8-16 {'x' * 61}", f"“{'x' * 40}” is too long."),
    ],
)
def test_a_bad_line_is_named_and_the_others_are_taken(line, why):
    found = read(f"2027-04-01 8-16 plumber\n\n# tiles later\n{line}\n2027-04-02 am painter")
    (wrong,) = found.wrongs
    assert wrong.why == why
    assert wrong.where == f"4: {line[:60]}"
    assert [each.trade for each in found.times] == ["plumber", "painter"]


def test_what_is_over_or_far_is_counted():
    found = read("2027-03-01 plumber\n2029-03-01 plumber")
    assert (found.times, found.past, found.later) == ((), 1, 1)


def test_a_line_told_again_has_the_same_name():
    one, again = (
        read(line).times[0].source
        for line in ("2027-04-01 8-16 Plumber", "2027-04-01  08:00 - 16:00  plumber")
    )
    assert one == again
    assert read("2027-04-01 8-17 plumber").times[0].source != one


def test_too_many_lines_are_refused_with_the_limit():
    with pytest.raises(UnusableCalendar, match="501 lines; at most 500"):
        read("2027-04-01 am x\n" * (MOST_TIMES + 1))


@given(st.text(max_size=120))
def test_no_text_breaks_the_reader(text):
    found = read(text)
    assert len(found.times) + len(found.wrongs) + found.past + found.later <= len(text) + 1


@given(st.from_regex(r"2027-0[4-9]-[0-3]\d \d{1,2}[:.]?\d{0,2} ?- ?\d{1,2} [a-z@:, ]{0,12}"))
def test_no_near_miss_breaks_the_reader(text):
    read(text)
