"""Visits as lines of text, one a line:

    2026-12-01 08:00-16:00 plumber, Brook & Weir @ Bathroom: walking, drilling
    2026-12-02 am painter
    2026-12-03 tiler

A day, from when until when (`am`, `pm`, or the whole day where nothing is said), the trade; then,
where wanted, the company after a comma, a room after `@`, and what they mean to do after a colon.
Times are those of the wall clock of the place. Empty lines and lines that begin with # are skipped.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import date, datetime, time, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo

from config.sentence import Sentence
from scheduling.exposure import ACTIVITIES
from scheduling.halfday import HalfDay, half_day_span, starts_at
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

FORMAT = (
    "One visit a line: a day, from when until when (`08:00-16:00`, `am`, `pm`, or nothing for the "
    "whole day), the trade; then, where wanted, the company after a comma, a room after `@`, and "
    "what they do after a colon: "
    "`2026-12-01 08:00-16:00 plumber, Brook & Weir @ Bathroom: walking, drilling`."
)
LONGEST_LINE = 400
LONGEST_TRADE, LONGEST_COMPANY = 60, 120
LINE = re.compile(
    r"(?P<day>\S+)(?:\s+(?P<times>am|pm|[\d:.]+\s*[-–]\s*(?:\S*\d{4}-\d\d-\d\d\s+)?[\d:.]+))?"
    r"\s*(?P<rest>.*)",
    re.IGNORECASE,
)
CLOCK = re.compile(r"(\d{1,2})[:.]?(\d\d)?")


def read_lines(text: str, *, rooms: Collection[str], place: ZoneInfo, at: datetime) -> Read:
    """The planned times to come that lines of text tell of, as of `at`.

    `rooms` are the names of the job's rooms, `place` is its zone. A line told again has the same
    `source`. Raises UnusableCalendar for too many lines.
    """
    lines = [line.strip() for line in text.splitlines()]
    said = [(number, line) for number, line in enumerate(lines, 1) if line and line[0] != "#"]
    if len(said) > MOST_TIMES:
        raise UnusableCalendar(
            Sentence(
                "These are {found} lines; at most {most} are taken at once.",
                found=len(said),
                most=MOST_TIMES,
            ),
            pointer="#/lines",
        )
    times: dict[str, PlannedTime] = {}
    wrongs: list[Wrong] = []
    past = later = 0
    by_name = {name.casefold(): name for name in rooms}
    for number, line in said:
        try:
            found = _read_line(line, by_name, place)
        except NotTaken as error:
            wrongs.append(error.at(f"{number}: {line[:60]}"))
            continue
        if found.ends_at <= at:
            past += 1
        elif found.starts_at > at + HORIZON:
            later += 1
        else:
            times[found.source] = found
    in_order = sorted(times.values(), key=lambda each: (each.starts_at, each.source))
    return Read(times=tuple(in_order), wrongs=tuple(wrongs), past=past, later=later)


def _read_line(line: str, rooms: dict[str, str], place: ZoneInfo) -> PlannedTime:
    if len(line) > LONGEST_LINE:
        raise NotTaken(Sentence("“{text}” is too long.", text=line[:40]))
    parts = LINE.fullmatch(line)
    assert parts is not None  # a line has something in it
    day = _day(parts["day"])
    starts, ends = _span(day, parts["times"], parts["rest"], place)
    require_length(starts, ends)
    rest, _colon, doing = parts["rest"].partition(":")
    rest, _at, room = rest.partition("@")
    trade, _comma, company = (part.strip() for part in rest.partition(","))
    if not trade:
        raise NotTaken("After the times comes the trade.")
    for said, longest in ((trade, LONGEST_TRADE), (company, LONGEST_COMPANY)):
        if len(said) > longest:
            raise NotTaken(Sentence("“{text}” is too long.", text=said[:40]))
    room = room.strip()
    if room and room.casefold() not in rooms:
        raise NotTaken(Sentence("“{text}” is no room of this job.", text=room[:60]))
    activities = _activities(doing)
    told = f"{starts}|{ends}|{trade}|{company}|{room}".casefold()
    return PlannedTime(
        source=f"line-{sha256(told.encode()).hexdigest()[:32]}",
        starts_at=starts,
        ends_at=ends,
        title=trade,
        trade=trade,
        company=company,
        room=rooms.get(room.casefold(), ""),
        activities=activities,
    )


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise NotTaken(
            Sentence("“{text}” is no day. Write it as 2026-12-01.", text=text[:30])
        ) from error
    if len(text) != 10 or not 2000 <= day.year < 2200:
        raise NotTaken(Sentence("“{text}” is no day. Write it as 2026-12-01.", text=text[:30]))
    return day


def _span(day: date, times: str | None, rest: str, place: ZoneInfo) -> tuple[datetime, datetime]:
    if times is None:
        if rest[:1].isdecimal():
            raise NotTaken(
                "After the day comes from when until when, such as 08:00-16:00, or am, or pm."
            )
        return starts_at(day, time(), place), starts_at(day + timedelta(days=1), time(), place)
    if times.lower() in ("am", "pm"):
        return half_day_span(HalfDay(day, "am" if times.lower() == "am" else "pm"), place)
    first, last = (part.strip() for part in re.split(r"\s*[-–]\s*", times, maxsplit=1))
    last_day, _space, last_clock = last.rpartition(" ")
    until = _day(last_day.strip()) if last_day else day
    from_ = starts_at(day, _clock(first), place)
    clock = _clock(last_clock)
    if last_clock in ("24:00", "24"):
        return from_, starts_at(until + timedelta(days=1), time(), place)
    return from_, starts_at(until, clock, place)


def _clock(text: str) -> time:
    found = CLOCK.fullmatch(text)
    if text in ("24:00", "24"):
        return time()
    if found is None or int(found[1]) > 23 or int(found[2] or 0) > 59:
        raise not_a_time(text[:20])
    return time(int(found[1]), int(found[2] or 0))


def _activities(text: str) -> tuple[str, ...]:
    wanted = [name.strip().lower() for name in text.split(",") if name.strip()]
    for name in wanted:
        if name not in ACTIVITIES:
            raise NotTaken(Sentence("“{text}” is none of the activities.", text=name[:40]))
    return tuple(name for name in ACTIVITIES if name in wanted)
