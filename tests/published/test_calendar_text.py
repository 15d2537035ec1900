"""The text of calendars against published values (DF-4 to DF-6)."""

import re
from datetime import UTC, date, datetime

import pytest

from scheduling.feed import FeedEvent, feed

AT = datetime(2027, 3, 10, 7, tzinfo=UTC)


def written(**event) -> bytes:
    whole = {
        "uid": "a@b",
        "sequence": 0,
        "changed_at": AT,
        "starts": date(2027, 3, 11),
        "ends": date(2027, 3, 12),
        "title": "x",
        **event,
    }
    return feed(name="n", about="a", changed_at=AT, events=[FeedEvent(**whole)])


@pytest.mark.parametrize(
    "title",
    ["a" * 300, "ø" * 300, "€" * 300, "😀" * 300, "a,;\\" * 90],
    ids=lambda t: f"DF-4-{t[:3]}",
)
def test_DF_4_lines_are_folded_at_75_octets_and_never_inside_a_character(title):
    """RFC 5545 3.1; icalendar 7.3.2."""
    raw = written(title=title)
    lines = raw.split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert max(len(line) for line in lines) <= 75
    for line in lines:
        line.decode()  # a character that was cut would not decode


def test_DF_5_text_is_escaped():
    """RFC 5545 3.3.11; icalendar 7.3.2."""
    raw = written(text="Keep off, wet; cable bare\nroom 2")
    assert b"DESCRIPTION:Keep off\\, wet\\; cable bare\\nroom 2\r\n" in raw


def test_DF_6_a_refresh_interval_is_a_duration_and_comes_once():
    """RFC 7986 5.7."""
    raw = written()
    (line,) = re.findall(rb"^REFRESH-INTERVAL.*\r$", raw, re.MULTILINE)
    assert re.fullmatch(rb"REFRESH-INTERVAL;VALUE=DURATION:PT\d+H\r", line)
