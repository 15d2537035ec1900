"""What feeds show of a job, and what changes when the job does: pure bookkeeping of entries.

An entry that vanishes is called off, not forgotten; a sequence counts the changes that matter to
whoever keeps it in a calendar (RFC 5545, 3.8.7.4).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Any, Literal

from scheduling.halfday import starts_at
from scheduling.warmup import Limit, Step

Kind = Literal["booking", "visit", "heat", "warm-up"]
Half = Literal["am", "pm"]

# When a crew is on site in a half-day; common practice, no source.
WORKING: Mapping[str, tuple[time, time]] = {
    "am": (time(8), time(12)),
    "pm": (time(13), time(17)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing in a calendar, in UTC.

    `key` names what it stands for and is the same when that moves. `detail` are JSON values.
    """

    kind: Kind
    key: str
    starts_at: datetime
    ends_at: datetime
    room: str | None = None
    crew: str | None = None
    trade: str | None = None
    all_day: bool = False
    likely: bool = False
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An entry as it was told before."""

    entry: Entry
    sequence: int
    cancelled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What to write: new entries; told ones with their next sequence; keys that are called off."""

    new: tuple[Entry, ...]
    changed: tuple[tuple[Entry, int], ...]
    cancelled: tuple[tuple[str, int], ...]


def changes(kept: Iterable[Kept], wanted: Sequence[Entry]) -> Changes:
    """How the entries of a job become what they are to be."""
    before = {each.entry.key: each for each in kept}
    now = {entry.key: entry for entry in wanted}
    return Changes(
        new=tuple(entry for key, entry in now.items() if key not in before),
        changed=tuple(
            (entry, before[key].sequence + 1)
            for key, entry in now.items()
            if key in before and (before[key].cancelled or before[key].entry != entry)
        ),
        cancelled=tuple(
            (key, each.sequence + 1)
            for key, each in before.items()
            if key not in now and not each.cancelled
        ),
    )


def booking(
    *, id: str, crew: str, room: str | None, task: str, day: date, half: Half, zone: tzinfo
) -> Entry:
    """A crew's half-day. Another crew's is another entry: each has its own calendar."""
    begin, end = WORKING[half]
    return Entry(
        kind="booking",
        key=f"booking {id} {crew}",
        starts_at=starts_at(day, begin, zone),
        ends_at=starts_at(day, end, zone),
        room=room,
        crew=crew,
        detail={"task": task, "half": half},
    )


def heat(
    *, room: str, at: datetime, likely: bool, zone: tzinfo, assumed: Sequence[str] = ()
) -> Entry:
    """The day on which heat may come on, or came on; `assumed` are materials without a sheet."""
    day = at.astimezone(zone).date()
    return Entry(
        kind="heat",
        key=f"heat {room}",
        starts_at=starts_at(day, time(), zone),
        ends_at=starts_at(day + timedelta(days=1), time(), zone),
        room=room,
        all_day=True,
        likely=likely,
        detail=_resting(assumed),
    )


def warm_up(
    *, room: str, steps: Sequence[Step], limit: Limit, likely: bool, assumed: Sequence[str] = ()
) -> list[Entry]:
    """The steps of a first heating."""
    return [
        Entry(
            kind="warm-up",
            key=f"warm-up {room} {step.number}",
            starts_at=step.starts_at,
            ends_at=step.ends_at,
            room=room,
            likely=likely,
            detail={
                "number": step.number,
                "floor_c": step.floor_c,
                "limit_c": limit.celsius,
                "because": limit.because,
                **_resting(assumed),
            },
        )
        for step in steps
    ]


def _resting(assumed: Sequence[str]) -> dict[str, Any]:
    return {"assumed": list(assumed)} if assumed else {}
