"""The text of a calendar file (RFC 5545): unfolded, bounded, taken apart into its events.

Only what a visit needs is taken. Zones are those of the file alone: what one file calls a zone
means nothing to the next.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import tzinfo
from io import StringIO
from typing import NamedTuple

from dateutil.tz import tzical
from icalendar.parser import Contentline, Contentlines

from config.sentence import Sentence
from scheduling.planned import UnusableCalendar

MOST_BYTES = 1_000_000
MOST_EVENTS = 2_000
MOST_ZONES = 20
MOST_ZONE_LINES = 400
SINGLE = {"UID", "SEQUENCE", "STATUS", "SUMMARY", "DTSTART", "DTEND", "DURATION", "RECURRENCE-ID"}
READ = SINGLE | {"RRULE", "RDATE", "EXDATE"}
Zones = dict[str, tzinfo]


class Property(NamedTuple):
    """The value of a property, unescaped only where it is text, and its parameters."""

    value: str
    zone: str
    only_date: bool
    range: str


Event = dict[str, list[Property]]


class CalendarText(NamedTuple):
    """The events of a calendar, the zones that it defines, and whether it calls its events off."""

    events: list[Event]
    zones: Zones
    cancels: bool


def taken_apart(content: bytes | str) -> CalendarText:
    """The events of a calendar file; raises UnusableCalendar for none, or too much of one."""
    return _components(_lines(content))


def _lines(content: bytes | str) -> Sequence[Contentline]:
    if len(content) > MOST_BYTES:
        raise UnusableCalendar(
            Sentence(
                "The calendar is larger than {most} kB. Send the part that is about this job.",
                most=MOST_BYTES // 1000,
            ),
            pointer="#/calendar",
        )
    try:
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
    except UnicodeDecodeError as error:
        raise UnusableCalendar("The calendar is not UTF-8.", pointer="#/calendar") from error
    upper = text.upper()
    if "BEGIN:VCALENDAR" not in upper:
        raise UnusableCalendar(
            "This is no calendar: BEGIN:VCALENDAR is missing.", pointer="#/calendar"
        )
    if (found := upper.count("BEGIN:VEVENT")) > MOST_EVENTS:
        raise UnusableCalendar(
            Sentence(
                "The calendar has {found} entries; at most {most} are taken.",
                found=found,
                most=MOST_EVENTS,
            ),
            pointer="#/calendar",
        )
    lines: Sequence[Contentline] = Contentlines.from_ical(text.replace("\0", ""))  # type: ignore[no-untyped-call]
    return lines


def _components(lines: Sequence[Contentline]) -> CalendarText:
    events: list[Event] = []
    zones: Zones = {}
    cancels = False
    stack: list[str] = []
    zone: list[str] = []
    for line in lines:
        name = line.partition(":")[0].partition(";")[0].strip().upper()
        value = line.partition(":")[2].strip().upper()
        if name == "BEGIN":
            stack.append(value)
            if stack[-2:] == ["VCALENDAR", "VEVENT"]:
                events.append(defaultdict(list))
            if value == "VTIMEZONE":
                zone = []
        if "VTIMEZONE" in stack:
            zone.append(line)
        elif stack[-1:] == ["VEVENT"] and name in READ:
            events[-1][name].append(_property(name, line))
        elif stack == ["VCALENDAR"] and name == "METHOD":
            cancels = value == "CANCEL"
        if name == "END" and stack and stack[-1] == value:
            stack.pop()
            if value == "VTIMEZONE" and len(zones) < MOST_ZONES:
                zones |= _zone(zone)
    return CalendarText(events, zones, cancels)


def _property(name: str, line: Contentline) -> Property:
    try:
        parsed, params, value = line.parts() if name in ("UID", "SUMMARY") else line.raw_parts()
    except ValueError:
        return Property("", "", only_date=False, range="")
    assert parsed
    kind = str(params.get("VALUE", "")).upper()
    return Property(
        value.strip(),
        str(params.get("TZID", "")),
        only_date=kind == "DATE",
        range=str(params.get("RANGE", "")),
    )


def _zone(lines: Sequence[str]) -> Zones:
    """The zone of a VTIMEZONE; none where it is not of a kind that can be worked out quickly."""
    rules = [line.upper() for line in lines if line.upper().startswith("RRULE")]
    if len(lines) > MOST_ZONE_LINES or not all("FREQ=YEARLY" in rule for rule in rules):
        return {}
    try:
        made = tzical(StringIO("\r\n".join(lines)))
        named = {str(name): made.get(name) for name in made.keys()}  # noqa: SIM118 - no mapping
    except (ValueError, TypeError, KeyError, AttributeError, IndexError):
        return {}
    return {name: zone for name, zone in named.items() if zone is not None}
