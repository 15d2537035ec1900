"""A calendar for others to follow: iCalendar (RFC 5545) with the properties of RFC 7986."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Literal

from icalendar import vText
from icalendar.parser import Contentline

REFRESH = "PT1H"
SHORT_LINE_BYTES = 74
UNSPEAKABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\u2028\u2029]")
Status = Literal["CONFIRMED", "TENTATIVE", "CANCELLED"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedEvent:
    """One entry as a reader's calendar shows it; `ends` is the first moment or day after it."""

    uid: str
    sequence: int
    changed_at: datetime
    starts: datetime | date
    ends: datetime | date
    title: str
    text: str = ""
    place: str = ""
    url: str = ""
    category: str = ""
    status: Status = "CONFIRMED"


def feed(*, name: str, about: str, changed_at: datetime, events: Iterable[FeedEvent]) -> bytes:
    """The calendar as it is sent; the same events give the same bytes."""
    lines = [
        b"BEGIN:VCALENDAR",
        b"VERSION:2.0",
        b"PRODID:-//Firstwarm//Feed 1//EN",
        b"CALSCALE:GREGORIAN",
        _text("NAME", name),
        _text("X-WR-CALNAME", name),  # what most programs read instead
        _text("DESCRIPTION", about),
        f"LAST-MODIFIED:{_utc(changed_at)}".encode(),
        f"REFRESH-INTERVAL;VALUE=DURATION:{REFRESH}".encode(),
        f"X-PUBLISHED-TTL:{REFRESH}".encode(),
    ]
    for event in events:
        lines += _event(event)
    lines += [b"END:VCALENDAR", b""]
    return b"\r\n".join(lines)


def _event(event: FeedEvent) -> list[bytes]:
    changed = _utc(event.changed_at)
    lines = [
        b"BEGIN:VEVENT",
        _text("UID", event.uid),
        f"DTSTAMP:{changed}".encode(),
        f"LAST-MODIFIED:{changed}".encode(),
        f"SEQUENCE:{event.sequence}".encode(),
        _when("DTSTART", event.starts),
        _when("DTEND", event.ends),
        _text("SUMMARY", event.title),
        f"STATUS:{event.status}".encode(),
    ]
    if not isinstance(event.starts, datetime) or event.status == "CANCELLED":
        lines.append(b"TRANSP:TRANSPARENT")
    for name, value in (
        ("DESCRIPTION", event.text),
        ("LOCATION", event.place),
        ("CATEGORIES", event.category),
    ):
        if value:
            lines.append(_text(name, value))
    if event.url:
        lines.append(_folded(f"URL:{event.url}"))
    lines.append(b"END:VEVENT")
    return lines


def _when(name: str, at: datetime | date) -> bytes:
    if isinstance(at, datetime):
        return f"{name}:{_utc(at)}".encode()
    return f"{name};VALUE=DATE:{at:%Y%m%d}".encode()


def _utc(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"


@lru_cache(maxsize=4096)
def _text(name: str, value: str) -> bytes:
    """A property of type TEXT: escaped, so that no value starts a line of its own, and folded."""
    plain = UNSPEAKABLE.sub(" ", value.replace("\r\n", "\n").replace("\r", "\n"))
    return _folded(f"{name}:{vText(plain).to_ical().decode()}")


def _folded(line: str) -> bytes:
    raw = line.encode()
    if len(raw) <= SHORT_LINE_BYTES:
        return raw
    folded: bytes = Contentline(line).to_ical()  # type: ignore[no-untyped-call]
    return folded
