"""A room as people type it: sides, walls or corners, a line each; and back again."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from config.errors import DomainError
from jobs.outline import Outline, Point, checked, from_walls, rectangle
from jobs.units import length_mm

TURNS = {"left": 90.0, "l": 90.0, "right": -90.0, "r": -90.0, "": 90.0}
KINDS = {
    "fixture": "Fixture",
    "toilet": "Toilet",
    "drain": "Drain",
    "vent": "Vent",
    "built_in": "Built-in",
    "door_swing": "Door swing",
}


class UnreadableRow(DomainError):
    """A line that is no wall, corner or point."""

    slug = "outline-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What was typed: the floor, and the places on its walls."""

    outline: Outline
    door: tuple[Point, Point] | None
    control: Point | None


def read(
    *,
    width_mm: float | None,
    depth_mm: float | None,
    walls: str,
    corners: str,
    door: str,
    control: str,
) -> Read:
    """Return the room; corners count before walls, walls before sides.

    Raises UnreadableRow with the line, or UnusableOutline.
    """
    if corners.strip():
        outline = checked(_points(corners, "corners"), pointer="#/corners")
    elif walls.strip():
        outline = from_walls(_walls(walls))
    elif width_mm is not None and depth_mm is not None:
        outline = rectangle(width_mm, depth_mm)
    else:
        raise UnreadableRow(
            "Give width and depth, or the walls, or the corners.", pointer="#/width"
        )
    ends = _points(door, "door")
    if ends and len(ends) != 2:
        raise UnreadableRow("A door's gap has two ends: right, up; right, up.", pointer="#/door")
    places = _points(control, "control")
    if len(places) > 1:
        raise UnreadableRow("The control is at one place: right, up.", pointer="#/control")
    return Read(
        outline=outline,
        door=(ends[0], ends[1]) if ends else None,
        control=places[0] if places else None,
    )


def corners_text(points: Sequence[Sequence[float]]) -> str:
    """Return corners as they are typed, a line each."""
    return "\n".join(f"{x:g}, {y:g}" for x, y in points)


def places_text(points: Sequence[Sequence[float]]) -> str:
    """Return places on a wall as they are typed, in one line."""
    return "; ".join(f"{x:g}, {y:g}" for x, y in points)


def rectangle_of(outline: Sequence[Sequence[float]]) -> dict[str, float] | None:
    """Return right, up, width and depth of an upright rectangle in millimetres; None for others."""
    xs, ys = sorted({x for x, _ in outline}), sorted({y for _, y in outline})
    if len(outline) != 4 or len(xs) != 2 or len(ys) != 2:
        return None
    return {"right": xs[0], "up": ys[0], "width": xs[1] - xs[0], "depth": ys[1] - ys[0]}


def keep_out_outline(given: dict[str, Any]) -> list[Point]:
    """Return the corners of a keep-out that was typed as place and size, or kept as corners."""
    if given.get("corners"):
        return [(x, y) for x, y in given["corners"]]
    x, y, wide, deep = (given[name] for name in ("right", "up", "width", "depth"))
    return [(x, y), (x + wide, y), (x + wide, y + deep), (x, y + deep)]


def _walls(text: str) -> list[tuple[float, float]]:
    found = []
    for at, line in enumerate(filter(None, map(str.strip, text.splitlines()))):
        match = re.fullmatch(r"(.*?)[\s,;]+(left|right|l|r|-?\d+(?:[.,]\d+)?)°?", line, re.I)
        length, turn = (match[1], match[2].lower()) if match else (line, "")
        try:
            degrees = TURNS[turn] if turn in TURNS else float(turn.replace(",", "."))
            found.append((length_mm(length), degrees))
        except DomainError as refused:
            raise UnreadableRow(
                f"Line {at + 1} is no wall: “{line}”. Write it as 3000 left.", pointer="#/walls"
            ) from refused
    return found


def _points(text: str, name: str) -> list[Point]:
    found = []
    for at, line in enumerate(filter(None, map(str.strip, re.split(r"[\n;]", text)))):
        match = re.fullmatch(r"(-?\d+(?:\.\d+)?)\s*[,\s]\s*(-?\d+(?:\.\d+)?)", line)
        if match is None:
            raise UnreadableRow(
                f"Point {at + 1} is none: “{line}”. Write it as 3000, 2400.", pointer=f"#/{name}"
            )
        found.append((float(match[1]), float(match[2])))
    return found
