"""When a repeated calendar entry comes, within bounds (RFC 5545, 3.3.10 and 3.8.5.3).

Works on the wall clock of the entry's zone: a visit at 8 comes at 8 whatever the clocks do.
"""

from __future__ import annotations

from datetime import UTC, datetime, time, tzinfo
from itertools import takewhile
from math import prod

from dateutil.rrule import rrule, rrulestr

from config.errors import DomainError
from config.sentence import Sentence

FREQUENCIES = ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")
TIMES_A_DAY = 4
LONGEST_INTERVAL = 1000
MOST_COUNTED = 40_000  # from the beginning of a series; daily for a century is less
EARLIEST_YEAR = 1900
# The calendar repeats after 400 years. A series is worked out as late as dates reach, so that a
# rule that never comes is given up after some 300 years instead of 8 000.
CYCLE_YEARS = 400
LAST_YEAR = 9999


class UnusableRecurrence(DomainError):
    """A rule that cannot be read, or would take without end to work out."""

    slug = "calendar-not-usable"


def occurrences(
    rule: str, start: datetime, *, zone: tzinfo, since: datetime, until: datetime
) -> list[datetime]:
    """The starts of a series from `since` to `until`, both included, in order.

    `rule` is the value of RRULE, `start` its first (DTSTART); all times are wall clock times of
    `zone`. Raises UnusableRecurrence.
    """
    parts = _bounded_parts(rule)
    if not EARLIEST_YEAR <= start.year <= until.year:
        if start.year > until.year:
            return []
        raise UnusableRecurrence(Sentence("The series begins before {year}.", year=EARLIEST_YEAR))
    if "UNTIL" in parts:
        until = min(until, _wall_clock(parts.pop("UNTIL"), zone))
    years = (LAST_YEAR - until.year) // CYCLE_YEARS * CYCLE_YEARS
    last = _later(until, years)
    found = []
    for number, at in enumerate(takewhile(lambda at: at <= last, _series(parts, start, years))):
        if number >= MOST_COUNTED:
            raise UnusableRecurrence("The series begins too long ago. Begin it this year.")
        here = _later(at, -years)
        if here >= since:
            found.append(here)
    return found


def _series(parts: dict[str, str], start: datetime, years: int) -> rrule:
    rule = ";".join(f"{name}={value}" for name, value in parts.items())
    try:
        series = rrulestr(rule, dtstart=_later(start, years))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise UnusableRecurrence(
            Sentence("{rule} is no rule of repetition.", rule=rule[:60])
        ) from error
    assert isinstance(series, rrule)
    return series


def _bounded_parts(rule: str) -> dict[str, str]:
    """The parts of a rule that can be worked out in bounded time, by name."""
    parts = {}
    for part in rule.upper().split(";"):
        name, _equals, value = part.strip().partition("=")
        if name:
            parts[name] = value
    if parts.get("FREQ") not in FREQUENCIES:
        raise UnusableRecurrence("A visit repeats daily, weekly, monthly or yearly, not otherwise.")
    times = prod(len(parts.get(name, "").split(",")) for name in ("BYHOUR", "BYMINUTE", "BYSECOND"))
    if times > TIMES_A_DAY:
        raise UnusableRecurrence(
            Sentence("A visit comes at most {most} times a day.", most=TIMES_A_DAY)
        )
    if "BYEASTER" in parts:
        raise UnusableRecurrence("BYEASTER is no part of a calendar's rule.")
    if "UNTIL" in parts and "COUNT" in parts:
        raise UnusableRecurrence("A series ends by UNTIL or by COUNT, not by both.")
    if not _from_1_to(LONGEST_INTERVAL, parts.get("INTERVAL", "1")):
        raise UnusableRecurrence(
            Sentence("INTERVAL is a whole number from 1 to {most}.", most=LONGEST_INTERVAL)
        )
    if not _from_1_to(10**9, parts.get("COUNT", "1")):
        raise UnusableRecurrence("COUNT is a whole number from 1.")
    return parts


def _from_1_to(most: int, text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 12 and 1 <= int(text) <= most


def _wall_clock(text: str, zone: tzinfo) -> datetime:
    """UNTIL by the wall clock of the zone; a date lasts until its end."""
    try:
        if len(text) == 8:
            return datetime.combine(datetime.strptime(text, "%Y%m%d"), time(23, 59, 59))  # noqa: DTZ007
        at = datetime.strptime(text.removesuffix("Z"), "%Y%m%dT%H%M%S")  # noqa: DTZ007
    except ValueError as error:
        raise UnusableRecurrence(Sentence("UNTIL={text} is no time.", text=text[:30])) from error
    return at.replace(tzinfo=UTC).astimezone(zone).replace(tzinfo=None) if text[-1] == "Z" else at


def _later(at: datetime, years: int) -> datetime:
    return at.replace(year=at.year + years)
