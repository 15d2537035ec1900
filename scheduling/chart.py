"""The cure chart of a room as SVG: temperature above, hours reached below, over one time axis.

Pure: the same facts give the same bytes, on a page, in a PDF and in print. Presentation attributes
are as for print; on screen the classes override them: axis, measured, likely, nodata, limit,
wedge, dot, now.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from jobs import svg
from jobs.svg import EDGE, INK
from jobs.units import System, fahrenheit
from scheduling.chart_words import Language, caption, day, title, words
from scheduling.energize import Decision
from scheduling.floor import Facts, Layer, coldest_plausible_c, room_course
from scheduling.forecast import likely_course
from scheduling.halfday import starts_at
from scheduling.progress import CureProgress, cured, dried
from scheduling.temperatures import Course

Array = NDArray[np.float64]
Point = tuple[float, float]

LEFT, RIGHT = 100.0, 985.0
WARM_TOP, WARM_BOTTOM = 75.0, 300.0
CURE_TOP, CURE_BOTTOM = 415.0, 620.0
DAYS_AT, NOW_AT, BELOW_WORDS = 668.0, 722.0, 23.0
PRINT_TEXT = 34
STOP, ASK, ASK_TINT, NO_DATA, GRID = "#8D161D", "#AC6810", "#FBEBD2", "#E9ECE8", "#999999"
LIMIT_DASHES, LIKELY_DASHES = "12 4 3 4", "5 5"
MOST_DAYS = 5
MOST_POINTS = 600
LONGEST_AHEAD_H = 60 * 24.0


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing, the sentence that stands for it, and the legend to print below it."""

    svg: str
    title: str
    caption: str


@dataclass(frozen=True, slots=True)
class Axis:
    """Hours from now to units of the drawing."""

    start_h: float
    end_h: float

    @property
    def shows_now(self) -> bool:
        return self.start_h <= 0 <= self.end_h

    def x(self, hours: float) -> float:
        share = (hours - self.start_h) / (self.end_h - self.start_h)
        return LEFT + share * (RIGHT - LEFT)

    def inside(self, hours: float) -> float:
        return self.x(min(max(hours, self.start_h), self.end_h))


@dataclass(frozen=True, slots=True)
class Scale:
    """Values to heights of the drawing, low at the bottom."""

    low: float
    high: float
    top: float
    bottom: float

    def y(self, value: float) -> float:
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)


def cure_chart(
    facts: Facts,
    decision: Decision,
    *,
    language: Language = "en",
    system: System = "metric",
    key: str = "cure",
) -> Chart | None:
    """Draw how the layer that governs a decision cures; None where no layer is placed.

    `key` begins the drawing's ids, so that several fit on one page.
    """
    if decision.governed_by is None:
        return None
    number = [layer.id for layer in facts.layers].index(decision.governed_by)
    layer, progress = facts.layers[number], decision.layers[number]
    known = room_course(facts)
    drying = dried(layer, known, facts) if progress.drying_governs else None
    run = drying or cured(layer, known, facts.now)
    since, reached, shown = run.since, run.reached, progress.governing
    axis = _axis(since, progress, facts.now)
    ahead = likely_course(
        known,
        promises=facts.promises,
        now=facts.now,
        zone=facts.zone,
        hours=min(max(axis.end_h, 1.0), LONGEST_AHEAD_H),
        otherwise_c=coldest_plausible_c(facts),
    )
    said = title(facts, layer, progress, decision, language=language, system=system)
    frost = decision.earliest is None
    height = (NOW_AT if axis.shows_now else DAYS_AT) + BELOW_WORDS
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 1000 {height:g}" '
        f'role="img" aria-labelledby={quoteattr(key + "-title")} '
        f'font-family="Liberation Sans, DejaVu Sans, sans-serif" font-size="{PRINT_TEXT}">',
        f"<title id={quoteattr(key + '-title')}>{escape(said)}</title>",
        *_temperatures(since, ahead, layer, axis, facts, language, system),
        *_curing(since, reached, shown, axis, facts.now, language, frost=frost),
        *_days(axis, facts, language),
        *_now(axis, language),
        "</svg>",
    ]
    return Chart(
        svg="\n".join(parts),
        title=said,
        caption=caption(facts, layer, progress, language=language, system=system),
    )


def _axis(since: Course, progress: CureProgress, now: datetime) -> Axis:
    """From placing to the latest date, or to what shows the likely one well."""
    start_h = float(since.edges_h[0])
    if progress.ready is not None:
        ready_h = _hours(progress.ready, now)
        return Axis(start_h, min(0.0, ready_h + 0.25 * (ready_h - start_h)) + 1e-6)
    dates = [progress.earliest, progress.likely, progress.latest]
    ends_h = [_hours(date, now) for date in dates if date is not None]
    likely_h = ends_h[min(1, len(ends_h) - 1)]
    end_h = min(ends_h[-1], likely_h + 0.6 * (likely_h - start_h))
    return Axis(start_h, end_h + 0.03 * (end_h - start_h))


def _temperatures(
    since: Course,
    ahead: Course,
    layer: Layer,
    axis: Axis,
    facts: Facts,
    language: Language,
    system: System,
) -> Iterable[str]:
    lowest_c = layer.material.lowest_c
    values = np.concatenate((since.from_c, since.to_c, ahead.from_c, [lowest_c]))
    scale, ticks = _warm_scale(float(values.min()), float(values.max()), system)
    yield svg.text("words", words("floor", language, system), (LEFT, 40), anchor="start", bold=True)
    for shown, celsius in ticks:
        yield _level("axis", scale.y(celsius), GRID, 1)
        yield svg.text("words", f"{shown:g}", (LEFT - 14, scale.y(celsius) + 12), anchor="end")
    for start_h, end_h in _stretches(since, known=False):
        left, right = axis.inside(start_h), axis.inside(end_h)
        if right - left > 0.5:
            corners = [
                (left, WARM_TOP), (right, WARM_TOP), (right, WARM_BOTTOM), (left, WARM_BOTTOM),
            ]  # fmt: skip
            yield svg.shape("nodata", corners, fill=NO_DATA, stroke=EDGE, width=1.5)
    yield _level("limit", scale.y(lowest_c), STOP, 2, dashes=LIMIT_DASHES)
    measured = [
        _thinned([(axis.x(at), scale.y(celsius)) for at, celsius in run if at <= axis.end_h])
        for run in _known_runs(since)
    ]
    measured = [run for run in measured if len(run) > 1]
    if measured:
        yield svg.lines("measured", measured, stroke=INK, width=2.5)
    if axis.end_h > 0:
        dashed = [
            (axis.x(at), scale.y(celsius))
            for at, celsius in _middles(ahead, float(since.to_c[-1]) if len(since.to_c) else None)
            if at <= axis.end_h
        ]
        if len(dashed) > 1:
            line = [_thinned(dashed)]
            yield svg.lines("likely", line, stroke=INK, width=2.5, dashes=LIKELY_DASHES)


def _curing(
    since: Course,
    reached: Array,
    progress: CureProgress,
    axis: Axis,
    now: datetime,
    language: Language,
    *,
    frost: bool,
) -> Iterable[str]:
    required = max(progress.required_hours, 1e-9)
    scale = Scale(0.0, required * 1.08, CURE_TOP, CURE_BOTTOM)
    label = words("drying" if progress.drying_governs else "curing", language)
    yield svg.text("words", label, (LEFT, 375), anchor="start", bold=True)
    for hours in (0.0, progress.required_hours):
        yield svg.text("words", f"{hours:g}", (LEFT - 14, scale.y(hours) + 12), anchor="end")
    yield _level("axis", scale.y(0), INK, 2)
    if progress.ready is None and progress.earliest is not None and not frost:
        yield from _wedge(progress, axis, scale, now)
    yield _level("limit", scale.y(required), STOP, 2, dashes=LIMIT_DASHES)
    line = [
        (axis.x(at), scale.y(min(value, required)))
        for at, value in zip(since.edges_h.tolist(), reached.tolist(), strict=True)
        if at <= axis.end_h
    ]
    if len(line) > 1:
        yield svg.lines("measured", [_thinned(line)], stroke=INK, width=3)
    date = progress.ready or progress.likely
    if date is not None and not frost and (end_h := _hours(date, now)) <= axis.end_h:
        at = axis.x(end_h), scale.y(required)
        if progress.ready is None:
            start = axis.x(0), scale.y(progress.equivalent_hours)
            yield svg.lines("likely", [[start, at]], stroke=INK, width=2.5, dashes=LIKELY_DASHES)
        yield f'<circle class="dot" cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="10" fill="{INK}"/>'


def _wedge(progress: CureProgress, axis: Axis, scale: Scale, now: datetime) -> Iterable[str]:
    """From what is reached now to the earliest and the latest date; open where that is beyond."""
    assert progress.earliest is not None
    required = progress.required_hours
    corners = [
        (axis.x(0), scale.y(progress.equivalent_hours)),
        (axis.inside(_hours(progress.earliest, now)), scale.y(required)),
    ]
    latest_h = _hours(progress.latest, now) if progress.latest else math.inf
    if latest_h <= axis.end_h:
        corners.append((axis.x(latest_h), scale.y(required)))
    else:
        gained = (required - progress.equivalent_hours) * axis.end_h / latest_h
        corners.append((axis.x(axis.end_h), scale.y(required)))
        corners.append((axis.x(axis.end_h), scale.y(progress.equivalent_hours + gained)))
    yield svg.shape("wedge", corners, fill=ASK_TINT, stroke=ASK, width=1.5)


def _days(axis: Axis, facts: Facts, language: Language) -> Iterable[str]:
    """A tick at local midnights, so few that their labels do not touch."""
    first = (facts.now + timedelta(hours=axis.start_h)).astimezone(facts.zone).date()
    last = (facts.now + timedelta(hours=axis.end_h)).astimezone(facts.zone).date()
    step = max(1, math.ceil(((last - first).days + 1) / MOST_DAYS))
    month = 0
    for number in range(1, (last - first).days + 1, step):
        date = first + timedelta(days=number)
        x = axis.x(_hours(starts_at(date, datetime.min.time(), facts.zone), facts.now))
        yield svg.lines("axis", [[(x, CURE_BOTTOM), (x, CURE_BOTTOM + 10)]], stroke=INK, width=2)
        label = day(date, language, with_month=date.month != month)
        anchor = "start" if x < LEFT + 60 else "end" if x > RIGHT - 60 else "middle"
        yield svg.text("words", label, (x, DAYS_AT), anchor=anchor)
        month = date.month


def _now(axis: Axis, language: Language) -> Iterable[str]:
    if not axis.shows_now:
        return
    x = axis.x(0)
    yield svg.lines(
        "now",
        [[(x, WARM_TOP - 10), (x, WARM_BOTTOM)], [(x, CURE_TOP - 10), (x, CURE_BOTTOM)]],
        stroke=INK,
        width=2,
    )
    anchor = "start" if x < LEFT + 50 else "end" if x > RIGHT - 50 else "middle"
    yield svg.text("words", words("now", language), (x, NOW_AT), anchor=anchor, bold=True)


def _level(css: str, y: float, stroke: str, width: float, *, dashes: str = "") -> str:
    return svg.lines(css, [[(LEFT, y), (RIGHT, y)]], stroke=stroke, width=width, dashes=dashes)


def _warm_scale(
    low_c: float, high_c: float, system: System
) -> tuple[Scale, list[tuple[float, float]]]:
    """A temperature scale and its ticks `(shown, °C)`, round in the unit that is shown."""
    low, high = (fahrenheit(low_c), fahrenheit(high_c)) if system == "imperial" else (low_c, high_c)
    step = next((step for step in (5, 10, 20) if (high - low) / step <= 4.5), 50)
    first, last = math.floor(low / step) * step, math.ceil(high / step) * step
    last = max(last, first + step)
    in_c = (lambda value: (value - 32) / 1.8) if system == "imperial" else float
    ticks = [(float(value), in_c(value)) for value in range(first, last + 1, step)]
    return Scale(in_c(first), in_c(last), WARM_TOP, WARM_BOTTOM), ticks


def _stretches(course: Course, *, known: bool) -> list[tuple[float, float]]:
    """Joined stretches `(start, end)` in hours that are known, or that are not."""
    joined: list[tuple[float, float]] = []
    for number in np.flatnonzero(course.known == known).tolist():
        start, end = float(course.edges_h[number]), float(course.edges_h[number + 1])
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def _known_runs(course: Course) -> list[list[Point]]:
    """Lines `(hours, °C)` of the known stretches, joined where they touch."""
    runs: list[list[Point]] = []
    end_h = math.nan
    for number in np.flatnonzero(course.known).tolist():
        start_h = float(course.edges_h[number])
        if start_h != end_h:
            runs.append([(start_h, float(course.from_c[number]))])
        end_h = float(course.edges_h[number + 1])
        runs[-1].append((end_h, float(course.to_c[number])))
    return runs


def _middles(ahead: Course, start_c: float | None) -> Iterable[Point]:
    """A line through the middles of the hours to come, from where the past ended."""
    if start_c is not None:
        yield 0.0, start_c
    for number, celsius in enumerate(ahead.from_c.tolist()):
        yield float(ahead.edges_h[number] + ahead.edges_h[number + 1]) / 2, celsius


def _thinned(line: Sequence[Point]) -> list[Point]:
    """At most some hundred points that keep every swing: lowest and highest of each column."""
    if len(line) <= MOST_POINTS:
        return list(line)
    columns: dict[int, list[Point]] = {}
    for point in line:
        columns.setdefault(int(point[0] // 4), []).append(point)
    kept = [line[0]]
    for points in columns.values():
        ends = {min(points, key=lambda p: p[1]), max(points, key=lambda p: p[1])}
        kept += sorted(ends)
    return [*kept, line[-1]]


def _hours(at: datetime, now: datetime) -> float:
    return (at - now) / timedelta(hours=1)
