"""What a calendar file says about planned times (iCalendar, RFC 5545): read, expanded, bounded.

Times without a zone are those of the place.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from hashlib import sha256
from typing import NamedTuple
from zoneinfo import ZoneInfo

from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from config.sentence import Sentence
from scheduling.calendar_text import Event, Property, Zones, taken_apart
from scheduling.halfday import UnknownZone, plus_days, starts_at, zone_named
from scheduling.planned import (
    HORIZON,
    MOST_TIMES,
    NotTaken,
    PlannedTime,
    Read,
    UnusableCalendar,
    Wrong,
    not_a_time,
    require_length,
)
from scheduling.recurrence import UnusableRecurrence, occurrences

MOST_SERIES = 50
LONGEST_UID = 200
LONGEST_TITLE = 200

DURATION = re.compile(
    r"\+?P(?:(?P<weeks>\d{1,4})W)?(?:(?P<days>\d{1,4})D)?"
    r"(?:T(?:(?P<hours>\d{1,5})H)?(?:(?P<minutes>\d{1,5})M)?(?:(?P<seconds>\d{1,6})S)?)?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """A wall clock time of a zone; a day is its midnight."""

    clock: datetime
    zone: tzinfo
    only_date: bool

    @property
    def at(self) -> datetime:
        return starts_at(self.clock.date(), self.clock.time(), self.zone)

    def named(self, clock: datetime) -> str:
        """The name of the occurrence that begins at that wall clock time."""
        if self.only_date:
            return f"{clock:%Y%m%d}"
        return f"{starts_at(clock.date(), clock.time(), self.zone):%Y%m%dT%H%M%SZ}"


class Length(NamedTuple):
    """Nominal days, then exact time (RFC 5545, 3.3.6)."""

    days: int
    exact: timedelta

    def after(self, at: datetime, zone: tzinfo) -> datetime:
        return plus_days(at, self.days, zone).astimezone(UTC) + self.exact


def read_calendar(content: bytes | str, *, place: ZoneInfo, at: datetime) -> Read:
    """The planned times to come of a calendar file, as of `at`.

    `place` is the zone of the place that they are about. Raises UnusableCalendar for what is no
    calendar, or too much of one.
    """
    found = taken_apart(content)
    return _read(found.events, found.zones, cancels=found.cancels, place=place, at=at)


class _Reader:
    """Reads events one after the other, with what they have in common."""

    def __init__(self, zones: Zones, place: ZoneInfo, at: datetime) -> None:
        self.zones, self.place, self.since, self.until = zones, place, at, at + HORIZON
        self.times: dict[str, PlannedTime] = {}
        self.past = self.later = self.series = 0

    def when(self, found: Property) -> When:
        """A property as a time; raises NotTaken."""
        text = found.value
        try:
            if found.only_date or len(text) == 8:
                clock = datetime.strptime(text, "%Y%m%d")  # noqa: DTZ007 - a wall clock time
                return self._when(clock, self.place, only_date=True)
            clock = datetime.strptime(text.removesuffix("Z"), "%Y%m%dT%H%M%S")  # noqa: DTZ007
        except ValueError as error:
            raise not_a_time(text[:40]) from error
        zone = UTC if text.endswith("Z") else self.zone(found.zone)
        return self._when(clock, zone, only_date=False)

    def _when(self, clock: datetime, zone: tzinfo, *, only_date: bool) -> When:
        if not 1900 <= clock.year < 2200:
            raise not_a_time(f"{clock:%Y-%m-%d}")
        return When(clock=clock, zone=zone, only_date=only_date)

    def zone(self, name: str) -> tzinfo:
        """By its IANA name, else as the file defines it, else by the name that Windows gives it."""
        if not name:
            return self.place
        plain = name.strip("/")
        parts = plain.split("/")
        candidates = [plain, *("/".join(parts[at:]) for at in range(1, len(parts) - 1))]
        for candidate in candidates:
            try:
                return zone_named(candidate)
            except UnknownZone:
                continue
        if name in self.zones:
            return self.zones[name]
        if plain in WINDOWS_TO_OLSON:
            return zone_named(WINDOWS_TO_OLSON[plain])
        raise NotTaken(Sentence("Its time zone “{text}” is not known here.", text=name[:60]))

    def length(self, event: Event, start: When) -> Length:
        if ends := event.get("DTEND"):
            end = self.when(ends[0])
            if start.only_date:
                return Length((end.clock.date() - start.clock.date()).days, timedelta())
            return Length(0, end.at - start.at)
        if lasts := event.get("DURATION"):
            found = DURATION.fullmatch(lasts[0].value.upper())
            if found is None:
                raise not_a_time(lasts[0].value[:40])
            given = {name: int(value) for name, value in found.groupdict().items() if value}
            days = given.pop("days", 0) + 7 * given.pop("weeks", 0)
            return Length(days, timedelta(**given))
        if start.only_date:
            return Length(1, timedelta())
        raise NotTaken("It has neither an end nor a length.")

    def add(self, event: Event, source: str, starts: datetime, ends: datetime) -> None:
        require_length(starts, ends)
        if ends <= self.since:
            self.past += "RRULE" not in event
        elif starts > self.until:
            self.later += "RRULE" not in event
        else:
            if len(self.times) >= MOST_TIMES and source not in self.times:
                raise UnusableCalendar(
                    Sentence(
                        "The calendar has more than {most} times within a year; so many are taken "
                        "at once at most.",
                        most=MOST_TIMES,
                    ),
                    pointer="#/calendar",
                )
            self.times[source] = PlannedTime(
                source=source,
                starts_at=starts,
                ends_at=ends,
                title=_first(event, "SUMMARY")[:LONGEST_TITLE],
                sequence=_sequence(event),
            )

    def add_event(self, uid: str, event: Event, without: set[str]) -> None:
        """An event and all its repetitions, but for those that are told of on their own."""
        start = self.when(event["DTSTART"][0])
        length = self.length(event, start)
        if not ("RRULE" in event or "RDATE" in event):
            self.add(event, uid, start.at, length.after(start.at, start.zone))
            return
        self.series += 1
        if self.series > MOST_SERIES:
            raise UnusableCalendar(
                Sentence(
                    "The calendar has more than {most} series; so many are taken at most.",
                    most=MOST_SERIES,
                ),
                pointer="#/calendar",
            )
        require_length(start.at, length.after(start.at, start.zone))
        for clock in self.clocks(event, start):
            name = start.named(clock)
            if name not in without:
                starts = starts_at(clock.date(), clock.time(), start.zone)
                self.add(event, f"{uid}/{name}", starts, length.after(starts, start.zone))

    def clocks(self, event: Event, start: When) -> list[datetime]:
        """The wall clock times at which a series begins, from today to the horizon."""
        # A visit that began yesterday may not be over.
        since = self.since.astimezone(start.zone).replace(tzinfo=None) - timedelta(days=93)
        until = self.until.astimezone(start.zone).replace(tzinfo=None)
        found = {start.clock}
        for rule in event.get("RRULE", ()):
            try:
                found |= set(
                    occurrences(rule.value, start.clock, zone=start.zone, since=since, until=until)
                )
            except UnusableRecurrence as error:
                raise NotTaken(
                    Sentence("Its repetition cannot be worked out. {text}", text=error.detail)
                ) from error
        found |= {self.in_zone(when, start) for when in self.many(event, "RDATE")}
        found -= {self.in_zone(when, start) for when in self.many(event, "EXDATE")}
        return sorted(found)

    def many(self, event: Event, name: str) -> Iterator[When]:
        for found in event.get(name, ()):
            for value in found.value.split(",")[:MOST_TIMES]:
                # Of a period, its start.
                yield self.when(found._replace(value=value.partition("/")[0].strip()))

    def in_zone(self, when: When, start: When) -> datetime:
        """The wall clock time that a series shows at that moment."""
        if when.only_date:
            return datetime.combine(when.clock.date(), start.clock.time())
        return when.at.astimezone(start.zone).replace(tzinfo=None)


def _read(
    events: Sequence[Event], zones: Zones, *, cancels: bool, place: ZoneInfo, at: datetime
) -> Read:
    reader = _Reader(zones, place, at)
    wrongs: list[Wrong] = []
    whole: dict[str, int] = {}
    gone: dict[str, int] = {}
    single: dict[str, set[str]] = defaultdict(set)
    masters: list[tuple[str, Event]] = []
    for number, event in enumerate(events, 1):
        try:
            uid = _uid(event)
            off = cancels or _first(event, "STATUS").upper() == "CANCELLED"
            if "RECURRENCE-ID" in event:
                _one_of_series(reader, uid, event, gone, single, off=off)
            elif off:
                whole[uid] = _sequence(event)
            elif "DTSTART" not in event:
                raise NotTaken("It does not say when it begins.")
            else:
                masters.append((uid, event))
        except NotTaken as error:
            wrongs.append(error.at(_where(number, event)))
    for uid, event in masters:
        kept = dict(reader.times)
        try:
            reader.add_event(uid, event, single[uid])
            whole[uid] = max(_sequence(event), whole.get(uid, 0))
        except NotTaken as error:
            reader.times = kept
            wrongs.append(error.at(_where(0, event)))
    times = sorted(reader.times.values(), key=lambda each: (each.starts_at, each.source))
    return Read(
        times=tuple(times),
        wrongs=tuple(wrongs),
        whole=whole,
        gone=gone,
        past=reader.past,
        later=reader.later,
    )


def _one_of_series(
    reader: _Reader,
    uid: str,
    event: Event,
    gone: dict[str, int],
    single: dict[str, set[str]],
    *,
    off: bool,
) -> None:
    """One time of a series that is told of on its own: moved, or called off."""
    named = event["RECURRENCE-ID"][0]
    if named.range:
        raise NotTaken(
            "A change of all later times of a series is not taken. Send the whole series."
        )
    instead = reader.when(named)
    name = instead.named(instead.clock)
    single[uid].add(name)
    if off:
        gone[f"{uid}/{name}"] = _sequence(event)
        return
    if "DTSTART" not in event:
        raise NotTaken("It does not say when it begins.")
    start = reader.when(event["DTSTART"][0])
    length = reader.length(event, start)
    reader.add(event, f"{uid}/{name}", start.at, length.after(start.at, start.zone))


def _uid(event: Event) -> str:
    uid = _first(event, "UID")
    if not uid:
        raise NotTaken("It has no UID.")
    return uid if len(uid) <= LONGEST_UID else sha256(uid.encode()).hexdigest()


def _sequence(event: Event) -> int:
    text = _first(event, "SEQUENCE")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


def _first(event: Event, name: str) -> str:
    return event[name][0].value if event.get(name) else ""


def _where(number: int, event: Event) -> str:
    """How people find the entry again: by its title and its time, else by its number."""
    said = [_first(event, "SUMMARY")[:60], _first(event, "DTSTART")[:16]]
    return ", ".join(filter(None, said)) or f"#{number}"
