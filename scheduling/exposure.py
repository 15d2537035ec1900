"""What a room's cable is like over time, what that forbids, and whose visits it meets.

`none`, `bare` (keep off), `wet` (keep off, no heat), `embedded` (no fastening, ever). A window that
has not begun or ended yet is likely, not known, and is held to its latest plausible end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal

State = Literal["none", "bare", "wet", "embedded"]

ACTIVITIES = (
    "walking",
    "carrying",
    "wet-work",
    "cleaning-joints",
    "fastening",
    "cutting",
    "drilling",
    "heating-room",
    "switching-on",
)
INTO_THE_FLOOR = frozenset({"cleaning-joints", "fastening", "cutting", "drilling"})
ON_THE_FLOOR = frozenset({"walking", "carrying", "wet-work"})
FORBIDS: Mapping[State, frozenset[str]] = {
    # common practice, no source
    "none": frozenset(),
    "bare": ON_THE_FLOOR | INTO_THE_FLOOR | {"switching-on"},
    "wet": ON_THE_FLOOR | INTO_THE_FLOOR | {"switching-on", "heating-room"},
    "embedded": INTO_THE_FLOOR,
}
RULES: Mapping[State, str] = {
    "none": "No cable lies here yet.",
    "bare": "A heating cable lies bare. Keep off this floor.",
    "wet": "Fresh mortar over a heating cable. Keep off this floor; no heat.",
    "embedded": "A heating cable lies in this floor. Nothing may go into it, ever.",
}
NO_HEAT_YET = "The floor may not be heated yet."
HOW = (
    "The cable lies bare from when it was laid until a layer covers it, under fresh mortar until "
    "that bears walking, and in the floor for good from then on.",
    "What has not begun or ended yet is likely, not known: visits are held against the latest "
    "plausible end.",
    "What is asked of people in each of these states is common practice, no source.",
)
BEGINNING = datetime.min.replace(tzinfo=UTC)
END = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covering:
    """A layer over the cable: when it was (or is to be) placed and bears walking.

    `walkable_likely_at` and `walkable_latest_at` are equal once it does; None means never.
    `planned` is true for a layer that is only booked.
    """

    placed_at: datetime
    walkable_likely_at: datetime | None
    walkable_latest_at: datetime | None
    planned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A stretch of time of one exposure; `None` as an end means without one.

    `ends_at` is the likely end, `over_at` the latest plausible one. `likely` marks a window of
    which start or end is not known but expected.
    """

    state: State
    starts_at: datetime | None
    ends_at: datetime | None
    over_at: datetime | None
    likely: bool
    forbids: tuple[str, ...]
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedVisit:
    """Somebody's planned time in rooms, and what they mean to do there."""

    id: str
    rooms: tuple[str, ...]
    starts_at: datetime
    ends_at: datetime
    activities: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """A visit that meets a window: what of it is forbidden, why, and the nearest free time.

    `nearest_start_at` is None where no time within a year is free of every conflict.
    """

    visit: str
    room: str
    window: Window
    forbidden: tuple[str, ...]
    because: str
    nearest_start_at: datetime | None


SEARCH = timedelta(days=365)


def windows(
    *,
    laid_at: datetime | None,
    laying_planned: bool,
    coverings: Sequence[Covering],
    heat_likely_at: datetime | None,
    heat_latest_at: datetime | None,
    now: datetime,
) -> tuple[Window, ...]:
    """The windows of a room from the beginning to the end of time, one after the other.

    `laid_at` is when the cable was laid, or is to be (`laying_planned`); None leaves the room at
    `none`. Layers placed before the cable are not coverings. `heat_…_at` is when heat may come on.
    """
    if laid_at is None:
        return (_window("none", None, None, None, now=now),)
    over = sorted(
        (each for each in coverings if each.placed_at >= laid_at), key=lambda each: each.placed_at
    )
    first = over[0].placed_at if over else None
    planned_cover = bool(over) and over[0].planned
    made = [
        _window("none", None, laid_at, laid_at, now=now, uncertain=laying_planned),
        _window("bare", laid_at, first, first, now=now, uncertain=laying_planned or planned_cover),
    ]
    for number, covering in enumerate(over):
        following = over[number + 1].placed_at if number + 1 < len(over) else None
        made += _covered(covering, following, heat_likely_at, heat_latest_at, now)
    return tuple(made)


def exposure_at(made: Sequence[Window], at: datetime) -> Window:
    """The window in which an instant falls, by the likely ends."""
    return next(
        window
        for window in made
        if (window.starts_at or BEGINNING) <= at and (window.ends_at is None or at < window.ends_at)
    )


def conflicts(
    visits: Iterable[PlannedVisit],
    windows_of: Mapping[str, Sequence[Window]],
    *,
    not_before: datetime,
) -> list[Conflict]:
    """Every visit that meets a window which forbids something it means to do.

    `windows_of` maps a room to its windows. `not_before` bounds the search for a better time.
    """
    found = []
    for visit in visits:
        met = [
            (room, window, hit)
            for room in visit.rooms
            for window in windows_of.get(room, ())
            if _overlaps(window, visit.starts_at, visit.ends_at)
            and (hit := _forbidden(window, visit.activities))
        ]
        if not met:
            continue
        nearest = _nearest_start(visit, windows_of, not_before)
        found += [
            Conflict(
                visit=visit.id,
                room=room,
                window=window,
                forbidden=hit,
                because=window.because,
                nearest_start_at=nearest,
            )
            for room, window, hit in met
        ]
    return found


def _covered(
    covering: Covering,
    following: datetime | None,
    heat_likely_at: datetime | None,
    heat_latest_at: datetime | None,
    now: datetime,
) -> list[Window]:
    """Wet until it bears walking, then embedded, without heat as long as there is none."""
    walkable_at = _soonest(covering.walkable_likely_at, following)
    surely_at = _soonest(covering.walkable_latest_at, following)
    wet = _window(
        "wet", covering.placed_at, walkable_at, surely_at, now=now, uncertain=covering.planned
    )
    if walkable_at is None or walkable_at == following:
        return [wet]
    cold_until = _soonest(heat_likely_at, following)
    cold_surely = _soonest(heat_latest_at, following)
    if cold_until is not None and cold_until <= walkable_at:
        return [wet, _window("embedded", walkable_at, following, following, now=now)]
    cold = _window(
        "embedded", walkable_at, cold_until, cold_surely, now=now, uncertain=False, no_heat=True
    )
    if cold_until is None or cold_until == following:
        return [wet, cold]
    return [wet, cold, _window("embedded", cold_until, following, following, now=now)]


def _window(
    state: State,
    starts_at: datetime | None,
    ends_at: datetime | None,
    over_at: datetime | None,
    *,
    now: datetime,
    uncertain: bool = False,
    no_heat: bool = False,
) -> Window:
    forbids = FORBIDS[state] | ({"switching-on"} if no_heat else frozenset())
    to_come = (starts_at or BEGINNING) > now or (ends_at is not None and ends_at > now)
    return Window(
        state=state,
        starts_at=starts_at,
        ends_at=ends_at,
        over_at=over_at,
        likely=uncertain or to_come,
        forbids=tuple(activity for activity in ACTIVITIES if activity in forbids),
        because=f"{RULES[state]} {NO_HEAT_YET}" if no_heat else RULES[state],
    )


def _soonest(first: datetime | None, second: datetime | None) -> datetime | None:
    dates = [date for date in (first, second) if date is not None]
    return min(dates, default=None)


def _overlaps(window: Window, starts_at: datetime, ends_at: datetime) -> bool:
    return starts_at < (window.over_at or END) and (window.starts_at or BEGINNING) < ends_at


def _forbidden(window: Window, activities: Iterable[str]) -> tuple[str, ...]:
    return tuple(activity for activity in activities if activity in window.forbids)


def _nearest_start(
    visit: PlannedVisit, windows_of: Mapping[str, Sequence[Window]], not_before: datetime
) -> datetime | None:
    """The free start nearest to the planned one: just before or after windows that forbid."""
    length = visit.ends_at - visit.starts_at
    against = [
        window
        for room in visit.rooms
        for window in windows_of.get(room, ())
        if _forbidden(window, visit.activities)
    ]
    starts = [not_before, *(w.over_at for w in against if w.over_at is not None)]
    starts += [window.starts_at - length for window in against if window.starts_at is not None]
    free = [
        start
        for start in starts
        if start >= not_before
        and abs(start - visit.starts_at) <= SEARCH
        and not any(_overlaps(window, start, start + length) for window in against)
    ]
    return min(free, key=lambda start: (abs(start - visit.starts_at), start), default=None)
