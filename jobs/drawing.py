"""The plan of a room as SVG: one function for page, print and PDF.

The drawing is 1000 units wide. Presentation attributes are as for print (PDF makers do not apply a
page's style sheet inside inline SVG); on screen the classes override them: floor, keep, hatch,
expansion, band, pass, lead, tube, wall, mark, letter, halo, dimension, words, fault, asked.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, ceil, cos, degrees, hypot, pi, sin
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon, unary_union
from shapely.affinity import rotate
from shapely.ops import polylabel

from jobs import svg
from jobs.grips import Fields, Grip, layer, matrix
from jobs.outline import Point
from jobs.plan_picture import (
    WORDS,
    Language,
    Mark,
    PlanPicture,
    View,
    marks,
    size_mm,
    title,
    view,
)
from jobs.svg import EDGE, INK, SHEET
from jobs.units import MM_PER_FOOT, System, shown_dimension, shown_length

WIDTH = 1000.0
MARGIN = 100.0
MOST_ROOM_HEIGHT = 1200.0
FOOT = 110.0

PRINT_TEXT = 24.0
LEAST_TEXT_MM = 2.65
"""7.5 pt, the smallest type on paper."""

HATCH_STEP = 14.0
SIMPLER_MM = 1.0
"""How far a drawn wire may leave the recorded one: under its own thickness."""

SET, SET_TINT, WET, STOP = "#421159", "#EFE1EE", "#1B58BA", "#8D161D"

SCALES = (20, 25, 50, 100)


@dataclass(frozen=True, slots=True)
class Frame:
    """Maps a point of the room to units of the drawing."""

    seen: View
    left: float
    top: float
    low: Point
    high: Point
    unit_per_mm: float

    def at(self, point: Sequence[float]) -> Point:
        x, y = self.seen.seen(point)
        return (
            self.left + (x - self.low[0]) * self.unit_per_mm,
            self.top + (self.high[1] - y) * self.unit_per_mm,
        )

    def all(self, shape: Iterable[Sequence[float]]) -> list[Point]:
        return [self.at(point) for point in shape]

    def seen_at(self, spot: Point) -> Point:
        """The place, as seen from the door, of a point of the drawing."""
        return (
            (spot[0] - self.left) / self.unit_per_mm + self.low[0],
            self.high[1] - (spot[1] - self.top) / self.unit_per_mm,
        )

    @property
    def right(self) -> float:
        return self.left + (self.high[0] - self.low[0]) * self.unit_per_mm

    @property
    def bottom(self) -> float:
        return self.top + (self.high[1] - self.low[1]) * self.unit_per_mm


def draw(
    picture: PlanPicture,
    *,
    language: Language = "en",
    system: System = "metric",
    scale: int | None = None,
    key: str = "plan",
    grips: Sequence[Grip] = (),
    fields: Fields | None = None,
) -> str:
    """Return the plan as one `<svg>` element, the door at the bottom.

    With `scale` (20 means 1:20) it has a size in millimetres and prints to that scale, and each
    wall carries its length. `key` begins every id, so that several fit on one page. `fields` says
    in which coordinates a page's number fields are, for a script that writes them where a grip
    is dragged to; in those of the room the walls carry their numbers.
    """
    frame = _frame(picture)
    height = frame.bottom + FOOT
    type_size = _text_size(frame, scale)
    said = title(picture, language=language, system=system)
    size = _size(frame, height, scale)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="plan" viewBox="0 0 1000 {height:.0f}" '
        f'{size} role="img" aria-labelledby={quoteattr(key + "-title")} {_script(frame, fields)}'
        f'font-family="Liberation Sans, DejaVu Sans, sans-serif" font-size="{type_size:g}">',
        f"<title id={quoteattr(key + '-title')}>{escape(said)}</title>",
        svg.shape("floor", frame.all(picture.outline), fill=SHEET),
        *_keep_outs(picture, frame),
        *_expansion_joints(picture, frame),
        *_cables(picture, frame, key),
        *_walls(picture, frame),
        *_dimensions(
            picture,
            frame,
            system,
            type_size,
            walls_too=scale is not None or fields == "room",
            numbered=fields == "room",
        ),
        *_foot(picture, frame, language, system),
        *_faults(picture, frame),
        *_asked(picture, frame),
        *_marks(picture, frame, language),
        *_numbers(picture, frame),
        *layer(grips, frame.at),
        "</svg>",
    ]
    return "\n".join(parts)


def largest_scale(picture: PlanPicture, *, width_mm: float, height_mm: float) -> int | None:
    """Return the largest of 1:20, 1:25, 1:50, 1:100 at which the drawing fits; None if none."""
    frame = _frame(picture)
    height = frame.bottom + FOOT
    for scale in SCALES:
        paper_mm_per_unit = 1 / frame.unit_per_mm / scale
        if WIDTH * paper_mm_per_unit <= width_mm and height * paper_mm_per_unit <= height_mm:
            return scale
    return None


def room_point(picture: PlanPicture, x: float, y: float, *, width: float) -> Point:
    """Return the place in the room for a touch at (x, y) on a drawing shown `width` wide."""
    frame = _frame(picture)
    units = WIDTH / width
    return frame.seen.stored(frame.seen_at((x * units, y * units)))


def touch_u_mm(picture: PlanPicture, *, width: float, finger: float = 5.0) -> float:
    """Return how well a touch is known: `finger` pixels on a drawing shown `width` wide."""
    return finger * WIDTH / width / _frame(picture).unit_per_mm


def draw_open(walls: Sequence[Point], *, misses: str, key: str = "plan") -> str:
    """Return walls that do not close, numbered, with the gap between end and start.

    `walls` are their corners in the order of the tape, the last is where it ended; `misses` is
    the sentence that stands for the drawing.
    """
    ends = [walls[0], walls[-1]]
    frame = _frame(PlanPicture(name="", outline=walls))
    numbers = [
        _letter(str(at + 1), frame.at(((ax + bx) / 2, (ay + by) / 2)))
        for at, ((ax, ay), (bx, by)) in enumerate(pairwise(walls))
    ]
    height = frame.bottom + MARGIN
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="plan" viewBox="0 0 1000 {height:.0f}" '
            f'width="1000" height="{height:.0f}" role="img" '
            f"aria-labelledby={quoteattr(key + '-title')} "
            f'font-family="Liberation Sans, DejaVu Sans, sans-serif" font-size="{PRINT_TEXT:g}">',
            f"<title id={quoteattr(key + '-title')}>{escape(misses)}</title>",
            svg.lines("wall", [frame.all(walls)], stroke=INK, width=4),
            svg.lines("fault", [frame.all(ends)], stroke=STOP, width=4, dashes="12 8"),
            *(part for number in numbers for part in number),
            "</svg>",
        ]
    )


def _script(frame: Frame, fields: Fields | None) -> str:
    """What a script needs to write number fields from places on the drawing."""
    if fields is None:
        return ""

    def to_field(spot: Point) -> Point:
        seen = frame.seen_at(spot)
        return frame.seen.stored(seen) if fields == "room" else seen

    return f'data-to-field="{matrix(to_field)}" '


def _frame(picture: PlanPicture) -> Frame:
    seen = view(picture)
    xs, ys = zip(*map(seen.seen, picture.outline), strict=True)
    wide, deep = size_mm(picture)
    unit_per_mm = min((WIDTH - 2 * MARGIN) / wide, MOST_ROOM_HEIGHT / deep)
    return Frame(
        seen=seen,
        left=(WIDTH - wide * unit_per_mm) / 2,
        top=MARGIN,
        low=(min(xs), min(ys)),
        high=(max(xs), max(ys)),
        unit_per_mm=unit_per_mm,
    )


def _size(frame: Frame, height: float, scale: int | None) -> str:
    if scale is None:
        return f'width="1000" height="{height:.0f}"'
    paper = 1 / frame.unit_per_mm / scale
    return f'width="{WIDTH * paper:.2f}mm" height="{height * paper:.2f}mm"'


def _text_size(frame: Frame, scale: int | None) -> float:
    if scale is None:
        return PRINT_TEXT
    return max(PRINT_TEXT, ceil(LEAST_TEXT_MM * frame.unit_per_mm * scale))


def _keep_outs(picture: PlanPicture, frame: Frame) -> Iterator[str]:
    for keep_out in picture.keep_outs:
        shape = frame.all(keep_out.outline)
        yield svg.lines("hatch", _hatch(shape), stroke=EDGE, width=1)
        yield svg.shape("keep", shape, stroke=INK, width=1.5)


def _numbers(picture: PlanPicture, frame: Frame) -> Iterator[str]:
    for at, keep_out in enumerate(picture.keep_outs):
        shape = Polygon(frame.all(keep_out.outline))
        middle = shape.centroid if shape.convex_hull.equals(shape) else polylabel(shape, 4)
        yield from _letter(str(at + 1), (middle.x, middle.y))


def _hatch(shape: Sequence[Point]) -> list[Sequence[Point]]:
    """Lines at 45 degrees inside a shape, as lines: every PDF maker draws those alike."""
    polygon = Polygon(shape)
    middle = (500.0, 500.0)
    upright = rotate(polygon, 45, origin=middle)
    left, low, right, high = upright.bounds
    first = ceil(low / HATCH_STEP) * HATCH_STEP
    levels = np.arange(first, high, HATCH_STEP)
    lines = MultiLineString([[(left - 1, y), (right + 1, y)] for y in levels])
    inside = rotate(lines.intersection(upright), -45, origin=middle)
    parts = [part for part in getattr(inside, "geoms", [inside]) if part.geom_type == "LineString"]
    return [[(x, y) for x, y in part.coords] for part in parts if not part.is_empty]


def _expansion_joints(picture: PlanPicture, frame: Frame) -> Iterator[str]:
    for joint in picture.expansion_joints:
        yield svg.lines("expansion", [frame.all(joint)], stroke=INK, width=1.5, dashes="16 6")


def _cables(picture: PlanPicture, frame: Frame, key: str) -> Iterator[str]:
    band = 2 * (picture.tolerance_mm or 0) * frame.unit_per_mm
    wires = [f"{key}-wire-{at + 1}" for at in range(len(picture.cables))]
    yield "<defs>"
    for name, cable in zip(wires, picture.cables, strict=True):
        simpler = LineString(cable.path).simplify(SIMPLER_MM).coords
        yield f"<path id={quoteattr(name)} d={quoteattr(svg.path_of(frame.all(simpler)))}/>"
    yield "</defs>"
    for css, width, colour in (("band", band, SET_TINT), ("pass", 2.0, SET)):
        for name in wires if width else ():
            yield (
                f'<use href={quoteattr("#" + name)} class="{css}" fill="none" stroke="{colour}" '
                f'stroke-width="{width:.1f}" stroke-linejoin="round" stroke-linecap="round"/>'
            )
    for cable in picture.cables:
        for lead in (cable.lead, cable.lead_end):
            if lead:
                yield svg.lines("lead", [frame.all(lead)], stroke=INK, width=2, dashes="7 4")
    if picture.sensor_route:
        route = [frame.all(picture.sensor_route)]
        yield svg.lines("tube", route, stroke=WET, width=2, dashes="2 4")


def _walls(picture: PlanPicture, frame: Frame) -> Iterator[str]:
    ring = frame.all(picture.outline)
    openings = [frame.all(ends) for ends in picture.doorways]
    door = frame.all(picture.door) if picture.door else []
    gaps = [each for each in (door, *openings) if each]
    if not gaps:
        yield svg.shape("wall", ring, stroke=INK, width=4)
        return
    whole = LineString([*ring, ring[0]])
    left = whole.difference(
        unary_union([LineString(each).buffer(3, cap_style="flat") for each in gaps])
    )
    pieces = [list(part.coords) for part in getattr(left, "geoms", [left])]
    # The ring's start is no gap: the last piece runs on into the first.
    if len(pieces) > 1 and pieces[0][0] == pieces[-1][-1]:
        pieces = [pieces[-1] + pieces[0][1:], *pieces[1:-1]]
    yield svg.lines("wall", pieces, stroke=INK, width=4)
    if door:
        ticks = [[(x, y), (x, y + 16)] for x, y in door]
        yield svg.lines("wall", ticks, stroke=INK, width=2)
    if openings:
        yield svg.lines("expansion", openings, stroke=INK, width=1.5, dashes="4 8")


def _dimensions(
    picture: PlanPicture,
    frame: Frame,
    system: System,
    type_size: float,
    *,
    walls_too: bool,
    numbered: bool,
) -> Iterator[str]:
    wide, deep = (shown_dimension(mm, system) for mm in size_mm(picture))
    left, right, top, bottom = frame.left, frame.right, frame.top, frame.bottom
    over, beside = top - 50, left - 40
    yield svg.lines(
        "dimension",
        [
            [(left, over), (right, over)],
            [(left, over - 13), (left, over + 13)],
            [(right, over - 13), (right, over + 13)],
            [(beside, top), (beside, bottom)],
            [(beside - 13, top), (beside + 13, top)],
            [(beside - 13, bottom), (beside + 13, bottom)],
        ],
        stroke=EDGE,
        width=1,
    )
    yield svg.text("words", wide, ((left + right) / 2, over - 14))
    middle = (beside - 14, (top + bottom) / 2)
    yield svg.text("words", deep, middle, turned=-90)
    if walls_too and (numbered or len(picture.outline) > 4):
        yield from _wall_lengths(picture, frame, system, type_size, numbered=numbered)


def _wall_lengths(
    picture: PlanPicture, frame: Frame, system: System, type_size: float, *, numbered: bool
) -> Iterator[str]:
    """Each wall's length inside the room along it; the door's and short walls have the table.

    Numbered ones are counted in the order of the outline, and each has at least its number.
    """
    door = None if picture.door is None else LineString(picture.door).centroid
    corners = list(picture.outline)
    for number, (start, end) in enumerate(pairwise([*corners, corners[0]]), start=1):
        length = hypot(end[0] - start[0], end[1] - start[1])
        shown = shown_length(length, system)
        (ax, ay), (bx, by) = frame.at(start), frame.at(end)
        span = hypot(bx - ax, by - ay)
        too_long = span < 0.62 * type_size * (len(shown) + 4 * numbered)
        if numbered:
            shown = str(number) if too_long else f"{number}: {shown}"
        elif too_long or (door is not None and door.distance(LineString([start, end])) < 1):
            continue
        away = (24 if numbered else 8) + type_size * 0.4
        x = (ax + bx) / 2 + (by - ay) / span * away
        y = (ay + by) / 2 - (bx - ax) / span * away
        turn = (degrees(atan2(by - ay, bx - ax)) + 90.1) % 180 - 90.1  # read from below or right
        yield svg.text(
            "words", shown, (x, y + type_size * 0.35), turned=turn, halo=True, pivot=(x, y)
        )


def _foot(picture: PlanPicture, frame: Frame, language: Language, system: System) -> Iterator[str]:
    half_mm = 2 * float(MM_PER_FOOT) if system == "imperial" else 500.0
    half = half_mm * frame.unit_per_mm
    y = frame.bottom + 50
    left = frame.left
    if picture.door is not None:
        ends = frame.all(picture.door)
        x = (ends[0][0] + ends[1][0]) / 2
        yield svg.text("words", WORDS[language]["door"], (x, y + 16))
        if x < left + 2 * half + 180:
            left = max(frame.right, left + 2 * half + 120) - 2 * half - 100
    yield (
        f'<rect class="dimension" x="{left:.1f}" y="{y:.1f}" width="{half:.1f}" height="12" '
        f'fill="{EDGE}" stroke="{EDGE}"/>'
        f'<rect class="dimension" x="{left + half:.1f}" y="{y:.1f}" width="{half:.1f}" '
        f'height="12" fill="none" stroke="{EDGE}"/>'
    )
    shown = shown_length(2 * half_mm, system) if system == "imperial" else "1\N{NO-BREAK SPACE}m"
    yield svg.text("words", shown, (left + 2 * half + 16, y + 16), anchor="start")


def _faults(picture: PlanPicture, frame: Frame) -> Iterator[str]:
    for spot in picture.faults:
        band = frame.all(spot.band)
        yield svg.lines("fault", [band], stroke=STOP, width=9, more=' stroke-opacity="0.45"')
    for spot in picture.faults:
        x, y = frame.at(spot.at)
        cross = [[(x - 14, y - 14), (x + 14, y + 14)], [(x - 14, y + 14), (x + 14, y - 14)]]
        yield svg.lines("fault", cross, stroke=STOP, width=4)


def _asked(picture: PlanPicture, frame: Frame) -> Iterator[str]:
    if picture.asked is None:
        return
    x, y = frame.at(picture.asked)
    measures = [[(frame.left, y), (x, y)], [(x, frame.bottom), (x, y)]]
    yield svg.lines("dimension", measures, stroke=EDGE, width=1)
    cross = [[(x - 22, y), (x + 22, y)], [(x, y - 22), (x, y + 22)]]
    yield svg.lines("asked", cross, stroke=INK, width=2)
    yield (
        f'<circle class="asked" cx="{x:.1f}" cy="{y:.1f}" r="11" fill="none" '
        f'stroke="{INK}" stroke-width="2"/>'
    )


def _marks(picture: PlanPicture, frame: Frame, language: Language) -> Iterator[str]:
    found = marks(picture, language)
    for mark in found:
        yield _sign(mark, frame.at(mark.at))
    lettered = [(mark.letter, frame.at(mark.at)) for mark in found]
    lettered += [(spot.label, frame.at(spot.at)) for spot in picture.faults if spot.label != "F"]
    yield from _letters(lettered, _busy(picture, frame))


def _sign(mark: Mark, at: Point) -> str:
    x, y = at
    style = f'class="mark" fill="{SHEET}" stroke="{INK}" stroke-width="2"'
    match mark.kind:
        case "splice":
            return f'<rect {style} x="{x - 12:.1f}" y="{y - 12:.1f}" width="24" height="24"/>'
        case "control":
            return f'<circle {style} cx="{x:.1f}" cy="{y:.1f}" r="14"/>'
        case "end":
            corners = [(x, y - 15), (x + 15, y), (x, y + 15), (x - 15, y)]
        case "sensor":
            corners = [(x, y - 16), (x + 16, y + 12), (x - 16, y + 12)]
        case "joint":
            corners = [(x - 16, y - 8), (x + 16, y + 8), (x + 16, y - 8), (x - 16, y + 8)]
    return f'<polygon {style} points="{svg.points_of(corners)}"/>'


def _busy(picture: PlanPicture, frame: Frame) -> NDArray[np.float64]:
    """Points of what a letter should not stand on."""
    lines = [LineString(frame.all(cable.path)) for cable in picture.cables]
    lines += [LineString(frame.all(keep_out.outline)) for keep_out in picture.keep_outs]
    lines += [LineString(frame.all(cable.lead)) for cable in picture.cables if cable.lead]
    lines.append(LineString(frame.all([*picture.outline, picture.outline[0]])))
    fine = [line.segmentize(20).coords for line in lines]
    return np.array([point for coords in fine for point in coords])


def _letters(
    lettered: Sequence[tuple[str, Point]],
    busy: NDArray[np.float64],
) -> Iterator[str]:
    """Each letter beside its mark, on that side where most is free."""
    taken = [at for _, at in lettered]
    for letter, (x, y) in lettered:
        best, best_room = (x, y), -1.0
        for eighth in range(8):
            angle = eighth * pi / 4
            spot = (x + 44 * cos(angle), y - 44 * sin(angle))
            if not (24 <= spot[0] <= WIDTH - 24 and spot[1] >= 24):
                continue
            others = [hypot(spot[0] - ox, spot[1] - oy) for ox, oy in taken if (ox, oy) != (x, y)]
            near = min(others, default=60.0)
            free = float(np.hypot(*(busy - spot).T).min())
            room = min(near, 60.0) + min(free, 40.0)
            if room > best_room + 0.5:
                best, best_room = spot, room
        taken.append(best)
        yield from _letter(letter, best)


def _letter(letter: str, at: Point) -> Iterator[str]:
    x, y = at
    yield (
        f'<ellipse class="halo" cx="{x:.1f}" cy="{y:.1f}" ry="20" '
        f'rx="{18 + 8 * (len(letter) - 1)}" fill="{SHEET}"/>'
    )
    yield svg.text("letter", letter, (x, y), bold=True)
