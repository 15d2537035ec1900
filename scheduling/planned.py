"""Planned times as they come in from outside: in a calendar file, or in lines of text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from config.errors import DomainError
from config.sentence import Sentence

HORIZON = timedelta(days=366)
MOST_TIMES = 500
LONGEST_VISIT = timedelta(days=92)


class UnusableCalendar(DomainError):
    """A file or text that is taken whole or not at all, and cannot be."""

    slug = "calendar-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTime:
    """One time from outside, in UTC.

    `source` names it and stays the same when it is told again; an empty `trade`, `company` or
    `activities` leaves the word to whoever takes it, `room` is the name of one.
    """

    source: str
    starts_at: datetime
    ends_at: datetime
    title: str = ""
    sequence: int = 0
    trade: str = ""
    company: str = ""
    room: str = ""
    activities: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """Something that was not taken: where it stands, and why."""

    where: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What was read.

    `whole` are UIDs with their sequence of which every time to come is among `times`: another
    one that is known is gone. `gone` are single times, by source, that are called off. `past` and
    `later` count what is over already, or beyond the horizon.
    """

    times: tuple[PlannedTime, ...]
    wrongs: tuple[Wrong, ...] = ()
    whole: Mapping[str, int] = field(default_factory=dict)
    gone: Mapping[str, int] = field(default_factory=dict)
    past: int = 0
    later: int = 0


class NotTaken(Exception):
    """One time that cannot be taken, and why."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why

    def at(self, where: str) -> Wrong:
        return Wrong(where=where, why=self.why)


def require_length(starts_at: datetime, ends_at: datetime) -> None:
    """Raise NotTaken for a time that ends before it begins, or lasts for months."""
    if ends_at <= starts_at:
        raise NotTaken("It ends before it begins.")
    if ends_at - starts_at > LONGEST_VISIT:
        raise NotTaken(Sentence("It lasts longer than {days} days.", days=LONGEST_VISIT.days))


def not_a_time(text: str) -> NotTaken:
    return NotTaken(Sentence("“{text}” is no time.", text=text))
