"""The rooms of a job as lanes over one time axis: what each floor was like, is, and is to be.

Pure: places and sizes in units of a drawing that is 1000 wide; a page draws them with its marks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling.chart_words import Language, day
from scheduling.exposure import BEGINNING, END, Window
from scheduling.halfday import starts_at

WIDTH = 1000.0
TOP, LANE, GAP, NAME, FOOT = 56, 62, 26, 44, 52
MOST_TICKS = 6
SHORTEST, LONGEST_BACK, LONGEST_AHEAD = timedelta(days=5), timedelta(days=21), timedelta(days=35)
MARK_WIDE = 72.0
LETTER_WIDE = 23.0
"""Of a word at the size that screens of a phone show; wider screens have room to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One state of a floor, named by its mark: an exposure, or `cleared` once heat may come on.

    `to_come` lies after now and is likely only; `begins` is false where the state goes on.
    """

    state: str
    x: float
    wide: float
    to_come: bool
    begins: bool
    starts_at: datetime | None
    ends_at: datetime | None
    likely: bool

    @property
    def fits_mark(self) -> bool:
        return self.wide >= MARK_WIDE

    def fits_word(self, word: str) -> bool:
        return self.begins and self.wide >= MARK_WIDE + LETTER_WIDE * len(word)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    name: str
    y: int
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lanes:
    """`ticks` are local midnights as `(x, words)`; lanes are `LANE` high."""

    lanes: tuple[Lane, ...]
    ticks: tuple[tuple[float, str], ...]
    now_x: float
    height: int


def lanes(
    rooms: Sequence[tuple[str, Sequence[Window]]],
    *,
    now: datetime,
    zone: ZoneInfo,
    language: Language = "en",
) -> Lanes:
    """Lay the windows of rooms, named, out over the days that matter around now."""
    start, end = _span([window for _, windows in rooms for window in windows], now)

    def x(at: datetime) -> float:
        return WIDTH * min(1.0, max(0.0, (at - start) / (end - start)))

    made = []
    for number, (name, windows) in enumerate(rooms):
        stretches = [
            stretch
            for window in windows
            for stretch in _stretches(window, start=start, end=end, now=now, x=x)
        ]
        y = TOP + NAME + number * (NAME + LANE + GAP)
        made.append(Lane(name=name, y=y, stretches=tuple(stretches)))
    return Lanes(
        lanes=tuple(made),
        ticks=tuple(_ticks(start, end, zone, language, x)),
        now_x=x(now),
        height=TOP + len(rooms) * (NAME + LANE + GAP) + FOOT,
    )


def _span(windows: Iterable[Window], now: datetime) -> tuple[datetime, datetime]:
    """From the first turn to the last likely one, a day around them, so that now lies within."""
    turns = [turn for window in windows for turn in (window.starts_at, window.ends_at) if turn]
    margin = timedelta(days=1)
    start = min([now - SHORTEST, *(turn - margin for turn in turns)])
    end = max([now + SHORTEST, *(turn + margin for turn in turns)])
    return max(start, now - LONGEST_BACK), min(end, now + LONGEST_AHEAD)


def _stretches(
    window: Window, *, start: datetime, end: datetime, now: datetime, x: Callable[[datetime], float]
) -> Iterable[Stretch]:
    """The part of a window that is past, and the part to come."""
    first, last = window.starts_at or BEGINNING, window.ends_at or END
    warm = window.state == "embedded" and "switching-on" not in window.forbids
    for since, until, to_come in (
        (max(first, start), min(last, now), False),
        (max(first, now), min(last, end), True),
    ):
        if since < until:
            yield Stretch(
                state="cleared" if warm else window.state,
                x=x(since),
                wide=x(until) - x(since),
                to_come=to_come,
                begins=since == max(first, start),
                starts_at=window.starts_at,
                ends_at=window.ends_at,
                likely=window.likely,
            )


def _ticks(
    start: datetime,
    end: datetime,
    zone: ZoneInfo,
    language: Language,
    x: Callable[[datetime], float],
) -> Iterable[tuple[float, str]]:
    first, last = start.astimezone(zone).date(), end.astimezone(zone).date()
    days = (last - first).days
    step = max(1, math.ceil(days / MOST_TICKS))
    month = 0
    for number in range(1, days + 1, step):
        date = first + timedelta(days=number)
        place = x(starts_at(date, datetime.min.time(), zone))
        if 30 <= place <= WIDTH - 60:
            yield place, day(date, language, with_month=date.month != month)
            month = date.month
