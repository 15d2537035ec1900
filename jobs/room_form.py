"""A room as people type it: sides, walls or corners, places on walls; and back again."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, degrees, hypot
from typing import Any, Literal

from shapely import LineString
from shapely import Point as Place

from config.errors import DomainError
from config.sentence import Sentence
from jobs.outline import Outline, Point, checked, from_walls, l_shape, rectangle
from jobs.units import System, length_mm, typed_length

Way = Literal["sides", "l", "walls", "corners"]
CUT_CORNERS = ("upper right", "upper left", "lower left", "lower right")
KINDS = {
    "fixture": "Fixture",
    "toilet": "Toilet",
    "drain": "Drain",
    "vent": "Vent",
    "built_in": "Built-in",
    "door_swing": "Door swing",
}
TURNS = {
    "left": 90.0, "l": 90.0, "izquierda": 90.0, "izq": 90.0, "": 90.0,
    "right": -90.0, "r": -90.0, "derecha": -90.0, "der": -90.0,
}  # fmt: skip

PLAIN_UNIT: Mapping[System, str] = {"metric": "mm", "imperial": "in"}
"""What a length without a unit is meant in."""

_NUMBER = r"-?\d+(?:[.,]\d+)?"


class UnreadableRow(DomainError):
    """A line that is no wall, corner or place."""

    slug = "outline-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class OnWall:
    """A place on a wall: its number from 1, how far from where it starts, and how wide (mm)."""

    wall: int
    from_mm: float
    width_mm: float = 0.0


def read(given: Mapping[str, Any], *, system: System) -> Outline:
    """Return the floor that was typed in one `way`.

    `given` has `way`, and of each way its fields: `width` and `depth` (mm); `cut_width`,
    `cut_depth`, `cut_corner`; `walls`; `corners`. Raises UnreadableRow with the line, or
    UnusableOutline.
    """
    match given.get("way"):
        case "corners":
            return checked(corners(given.get("corners", ""), system=system), pointer="#/corners")
        case "walls":
            return from_walls(tape(given.get("walls", ""), system=system))
        case "l":
            sides = [_side(given, name) for name in ("width", "depth", "cut_width", "cut_depth")]
            return l_shape(
                sides[0],
                sides[1],
                cut_width_mm=sides[2],
                cut_depth_mm=sides[3],
                corner=given.get("cut_corner") or "upper right",
            )
        case _:
            return rectangle(_side(given, "width"), _side(given, "depth"))


def tape(text: str, *, system: System) -> list[tuple[float, float]]:
    """Return walls as (mm, degrees to the left) from lines such as `3000 left` or `9' 10" 45°`.

    Without a turn a wall turns left at its end. In feet and inches degrees need their sign,
    since `9' 10` is a length. Raises UnreadableRow.
    """
    sign = "°" if system == "imperial" else "°?"
    words = "|".join(sorted(filter(None, TURNS), key=len, reverse=True))
    pattern = re.compile(rf"(.*?)[\s,;]+(?:({words})|({_NUMBER})\s*{sign})", re.IGNORECASE)
    found = []
    for at, line in enumerate(_lines(text)):
        match = pattern.fullmatch(line)
        length, turn, angle = match.groups() if match else (line, "", None)
        try:
            mm = length_mm(length, unit=PLAIN_UNIT[system])
        except DomainError as refused:
            raise UnreadableRow(
                Sentence("Line {at} is no wall: “{line}”. Write it as {example}.",
                     at=at + 1, line=line, example=_example(system, "left")),
                pointer="#/walls",
            ) from refused  # fmt: skip
        found.append((mm, TURNS[turn.lower()] if angle is None else _float(angle)))
    return found


def corners(text: str, *, system: System) -> list[Point]:
    """Return points from lines such as `3000, 2400` or `9' 10", 7' 10 1/2"`; raises UnreadableRow.

    Between the two lengths stands a comma and a space, or a semicolon; a bare pair of numbers
    may have only one of them.
    """
    found = []
    for at, line in enumerate(_lines(text)):
        pair = re.split(r"\s*;\s*|,\s+", line)
        if len(pair) == 1:
            bare = re.fullmatch(r"(-?[\d.]+)\s*[,\s]\s*(-?[\d.]+)|(.+?[^\d\s]),(.+)", line)
            pair = [part for part in bare.groups() if part] if bare else pair
        try:
            x, y = (signed_length_mm(part, unit=PLAIN_UNIT[system]) for part in pair)
        except ValueError as refused:
            raise UnreadableRow(
                Sentence("Line {at} is no corner: “{line}”. Write it as {example}.",
                     at=at + 1, line=line, example=_example(system, "")),
                pointer="#/corners",
            ) from refused  # fmt: skip
        found.append((x, y))
    return found


def openings(text: str, *, system: System) -> list[OnWall]:
    """Return doorways from lines such as `2: 900, 800` (wall, from its start, width)."""
    found = []
    for at, line in enumerate(_lines(text)):
        match = re.fullmatch(r"(\d{1,3})\s*[:;,]\s*(.+?)\s*(?:;\s*|,\s+|,(?=\d))(.+)", line)
        try:
            if match is None:
                raise UnreadableRow(line)
            start, width = (length_mm(part, unit=PLAIN_UNIT[system]) for part in match.groups()[1:])
        except DomainError as refused:
            raise UnreadableRow(
                Sentence("Line {at} is no doorway: “{line}”. Write it as {example}.",
                     at=at + 1, line=line, example="2: " + _example(system, "")),
                pointer="#/doorways",
            ) from refused  # fmt: skip
        found.append(OnWall(wall=int(match[1]), from_mm=start, width_mm=width))
    return found


def ends_of(outline: Sequence[Sequence[float]], place: OnWall, pointer: str) -> tuple[Point, Point]:
    """Return both ends of a place on a wall; raises UnreadableRow if the wall has no such place."""
    if not 1 <= place.wall <= len(outline):
        raise UnreadableRow(
            Sentence("There is no wall {wall}; this room has {count}.",
                 wall=place.wall, count=len(outline)),
            pointer=pointer,
        )  # fmt: skip
    (ax, ay), (bx, by) = outline[place.wall - 1], outline[place.wall % len(outline)]
    length = hypot(bx - ax, by - ay)
    if place.from_mm + place.width_mm > length + 1 or place.from_mm < 0:
        raise UnreadableRow(
            Sentence("Wall {wall} is {length} mm long; this ends at {end} mm.",
                 wall=place.wall, length=f"{length:.0f}",
                 end=f"{place.from_mm + place.width_mm:.0f}"),
            pointer=pointer,
        )  # fmt: skip

    def at(mm: float) -> Point:
        share = mm / length
        return ax + share * (bx - ax), ay + share * (by - ay)

    return at(place.from_mm), at(place.from_mm + place.width_mm)


def on_wall(outline: Sequence[Sequence[float]], ends: Sequence[Sequence[float]]) -> OnWall:
    """Return the wall that one or two points lie on, and where; the nearest if they lie off it."""
    points = [(x, y) for x, y in outline]
    walls = [LineString(pair) for pair in pairwise([*points, points[0]])]
    at = min(
        range(len(walls)), key=lambda one: max(walls[one].distance(Place(end)) for end in ends)
    )
    along = sorted(walls[at].project(Place(end)) for end in ends)
    return OnWall(wall=at + 1, from_mm=along[0], width_mm=along[-1] - along[0])


def typed(outline: Sequence[Sequence[float]], *, system: System) -> dict[str, str]:
    """Return the fields of the form that give this outline again."""
    fields = {
        "way": "corners",
        "corners": "\n".join(
            f"{typed_length(x, system)}, {typed_length(y, system)}" for x, y in outline
        ),
    }
    if (box := rectangle_of(outline)) and box["right"] == box["up"] == 0:
        sides = {name: typed_length(box[name], system) for name in ("width", "depth")}
        fields |= {"way": "sides", **sides}
    if walls := _walls_text(outline, system):
        fields["walls"] = walls
    return fields


def typed_openings(
    outline: Sequence[Sequence[float]], doorways: Sequence[Any], *, system: System
) -> str:
    """Return doorways as they are typed, a line each."""
    places = [on_wall(outline, ends) for ends in doorways]
    return "\n".join(
        f"{one.wall}: {typed_length(one.from_mm, system)}, {typed_length(one.width_mm, system)}"
        for one in places
    )


def rectangle_of(outline: Sequence[Sequence[float]]) -> dict[str, float] | None:
    """Return right, up, width and depth of an upright rectangle in millimetres; None for others."""
    xs, ys = sorted({x for x, _ in outline}), sorted({y for _, y in outline})
    if len(outline) != 4 or len(xs) != 2 or len(ys) != 2:
        return None
    return {"right": xs[0], "up": ys[0], "width": xs[1] - xs[0], "depth": ys[1] - ys[0]}


def keep_out_outline(given: Mapping[str, Any]) -> list[Point]:
    """Return the corners of a keep-out that was typed as place and size.

    One that is no rectangle keeps its corners, moved to the new place.
    """
    x, y = given["right"], given["up"]
    if kept := given.get("corners"):
        left, low = (min(values) for values in zip(*kept, strict=True))
        return [(px - left + x, py - low + y) for px, py in kept]
    wide, deep = given["width"], given["depth"]
    return [(x, y), (x + wide, y), (x + wide, y + deep), (x, y + deep)]


def signed_length_mm(text: str, *, unit: str = "mm") -> float:
    """Return a length that may be below 0; raises UnreadableLength."""
    plain = text.strip().replace("−", "-")
    below = plain.startswith("-")
    return (-1 if below else 1) * length_mm(plain.removeprefix("-"), unit=unit)


def _walls_text(outline: Sequence[Sequence[float]], system: System) -> str:
    """Walls as the tape reads them, if the first starts at (0, 0) and runs to the right."""
    points = [(x, y) for x, y in outline]
    headings = [
        degrees(atan2(by - ay, bx - ax)) for (ax, ay), (bx, by) in pairwise([*points, points[0]])
    ]
    if points[0] != (0, 0) or abs(headings[0]) > 1e-9:
        return ""
    lines = []
    for at, ((ax, ay), (bx, by)) in enumerate(pairwise([*points, points[0]])):
        turn = (headings[(at + 1) % len(points)] - headings[at] + 180) % 360 - 180
        words = {90.0: "left", -90.0: "right"}.get(round(turn, 6), f"{turn:g}°")
        lines.append(f"{typed_length(hypot(bx - ax, by - ay), system)} {words}")
    return "\n".join(lines)


def _side(given: Mapping[str, Any], name: str) -> float:
    mm = given.get(name)
    if mm is None:
        raise UnreadableRow(Sentence("This side is missing."), pointer=f"#/{name}")
    return float(mm)


def _lines(text: str) -> list[str]:
    return list(filter(None, map(str.strip, text.splitlines())))


def _example(system: System, turn: str) -> str:
    pair = {"metric": ("3000", "800"), "imperial": ("9' 10\"", "2' 8 1/2\"")}[system]
    return f"{pair[0]} {turn}" if turn else ", ".join(pair)


def _float(text: str) -> float:
    return float(text.replace(",", "."))
