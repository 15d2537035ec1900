"""What a continuity monitor on the leads says while others work over the cable.

An alarm is a finding. So is silence: a monitor that nobody heard proves nothing about the work
that was done meanwhile.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from config.errors import DomainError
from readings import wording
from readings.trend import Work

SILENT_AFTER = timedelta(hours=12)  # common practice, no source: somebody looks once a shift

EventKind = Literal["started", "alive", "alarm", "stopped"]


class MonitorUnclear(DomainError):
    """A time limit that no watch can keep."""

    slug = "not-acceptable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What the monitor said, or somebody saw on it."""

    at: datetime
    kind: EventKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """An alarm (`start` is its time), or a stretch in which nobody heard the monitor.

    `works` were done since the last good sign (alarm) or in that stretch (silence).
    """

    kind: Literal["alarm", "silence"]
    start: datetime
    end: datetime
    works: tuple[str, ...]
    because: str


def findings(
    events: Iterable[Event],
    works: Sequence[Work] = (),
    *,
    until: datetime,
    silent_after: timedelta = SILENT_AFTER,
) -> list[Finding]:
    """Alarms and silences of a watch up to `until`, in time; `events` may come in any order."""
    if silent_after <= timedelta(0):
        raise MonitorUnclear("The time after which silence counts must be above zero.")
    found: list[Finding] = []
    heard: datetime | None = None  # while watching: the last sign of life
    good: datetime | None = None  # the last sign that was no alarm
    for event in sorted((e for e in events if e.at <= until), key=lambda e: e.at):
        if heard is not None and event.at - heard > silent_after:
            found.append(_silence(heard, event.at, works))
        if event.kind == "alarm":
            found.append(_alarm(good, event.at, works))
        else:
            good = event.at
        heard = None if event.kind == "stopped" else event.at
    if heard is not None and until - heard > silent_after:
        found.append(_silence(heard, until, works))
    return found


def _alarm(good: datetime | None, at: datetime, works: Sequence[Work]) -> Finding:
    names = _between(good, at, works)
    return Finding(
        kind="alarm",
        start=at,
        end=at,
        works=names,
        because="The monitor raised an alarm: a core was cut or touched ground. "
        f"{_during(names, 'since its last good sign')} Stop the work there and measure now.",
    )


def _silence(start: datetime, end: datetime, works: Sequence[Work]) -> Finding:
    names = _between(start, end, works)
    hours = (end - start) / timedelta(hours=1)
    return Finding(
        kind="silence",
        start=start,
        end=end,
        works=names,
        because=f"Nobody heard the monitor for {hours:.0f} h. "
        f"{_during(names, 'in that time')} Nothing is proven for it; measure the element.",
    )


def _between(start: datetime | None, end: datetime, works: Sequence[Work]) -> tuple[str, ...]:
    return tuple(
        work.name
        for work in sorted(works, key=lambda work: work.at)
        if (start is None or start < work.at) and work.at <= end
    )


def _during(names: tuple[str, ...], when: str) -> str:
    if names:
        return f"Done {when}: {wording.listed(list(names))}."
    return f"No work is recorded {when}."
