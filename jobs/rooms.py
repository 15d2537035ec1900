"""A room's shapes as they are stored: clean, inside one another, with what was put right."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from typing import Any

from shapely import LineString, Point

from config.errors import DomainError
from config.sentence import Sentence
from jobs.outline import SAME_POINT_MM, Outline, checked, off_wall, unit_doubt

# A control or door that is drawn a little off its wall still belongs to it.
ON_WALL_MM = 50.0

# What a room must have proven before heat, unless the office says otherwise; the kinds are
# those of the energize decision.
PROOFS = (
    "check:arrival",
    "check:laid",
    "check:covered",
    "sensor",
    "control",
    "leakage-protection",
    "electrician",
)

Corner = Sequence[float]


class KeepOutOutside(DomainError):
    slug = "keep-out-outside"


class NotOnWall(DomainError):
    slug = "not-on-wall"


LEAST_DOORWAY_MM = 300.0
"""What is narrower lets nobody through; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """Outlines counter-clockwise in mm; `notes` say what was put right or looks odd."""

    outline: tuple[tuple[float, float], ...]
    keep_outs: tuple[dict[str, Any], ...]
    doorways: tuple[tuple[tuple[float, float], tuple[float, float]], ...]
    control_mm: tuple[float, float] | None
    notes: tuple[str, ...]


def shapes(
    outline: Sequence[Corner],
    keep_outs: Sequence[Mapping[str, Any]] = (),
    *,
    control_mm: Corner | None = None,
    door_mm: Sequence[Corner] | None = None,
    doorways: Sequence[Sequence[Corner]] = (),
) -> Shapes:
    """Clean a room's outline and its keep-outs and see that each lies in the room.

    A keep-out is a mapping with `outline` and whatever else it carries. A doorway is a pair of
    ends on one wall that stands open to a heated neighbour; it is moved onto that wall, and so is
    the control: a lead cannot start behind a wall. Raises UnusableOutline, KeepOutOutside or
    NotOnWall with the field.
    """
    room = checked(outline)
    notes = list(room.notes)
    if doubt := unit_doubt(room):
        notes.append(doubt)
    cleaned = []
    for at, given in enumerate(keep_outs):
        pointer = f"#/keep_outs/{at}/outline"
        shape = checked(given["outline"], pointer=pointer)
        notes += [
            Sentence("Keep-out {number}: {note}", number=at + 1, note=note) for note in shape.notes
        ]
        notes += _beyond(room, shape, at + 1, pointer)
        cleaned.append({**given, "outline": shape.points})
    control = (
        None if control_mm is None else _on_wall(room, control_mm, "The control", "#/control_mm")
    )
    for end in door_mm or ():
        _on_wall(room, end, "This end of the door", "#/door_mm")
    opened = tuple(_opening(room, ends, f"#/doorways/{at}") for at, ends in enumerate(doorways))
    return Shapes(
        outline=room.points,
        keep_outs=tuple(cleaned),
        doorways=opened,
        control_mm=control,
        notes=tuple(notes),
    )


def _beyond(room: Outline, shape: Outline, number: int, pointer: str) -> list[str]:
    inside = room.polygon.intersection(shape.polygon).area
    if inside == 0:
        raise KeepOutOutside(
            Sentence(
                "Keep-out {number} lies wholly outside the room. Give its corners from the same "
                "corner of the room as the outline.",
                number=number,
            ),
            pointer=pointer,
        )
    beyond = shape.polygon.area - inside
    if beyond > shape.polygon.area * 1e-9:
        return [
            Sentence(
                "Keep-out {number} reaches {area} m² beyond the walls.",
                number=number,
                area=f"{beyond / 1e6:.2f}",
            )
        ]
    return []


def _opening(
    room: Outline, ends: Sequence[Corner], pointer: str
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The doorway on the wall that it was drawn at: heat goes up to the wall's own line there."""
    corners = [*room.points, room.points[0]]
    walls = [LineString(pair) for pair in pairwise(corners)]
    near = min(walls, key=lambda wall: max(wall.distance(Point(end)) for end in ends))
    off = max(near.distance(Point(end)) for end in ends)
    if off > ON_WALL_MM:
        raise NotOnWall(
            Sentence(
                "This doorway leaves its wall by {off} mm; both its ends belong on one wall.",
                off=f"{off:.0f}",
            ),
            pointer=pointer,
        )
    (ax, ay), (bx, by) = (near.interpolate(near.project(Point(end))).coords[0] for end in ends)
    if hypot(bx - ax, by - ay) < LEAST_DOORWAY_MM:
        raise NotOnWall(
            Sentence("A doorway is at least {mm} mm wide.", mm=f"{LEAST_DOORWAY_MM:g}"),
            pointer=pointer,
        )
    return (ax, ay), (bx, by)


def _on_wall(room: Outline, place: Corner, what: str, pointer: str) -> tuple[float, float]:
    """The place on the wall that this one is meant on."""
    walls, given = room.polygon.exterior, Point(place)
    if (off := walls.distance(given)) > ON_WALL_MM:
        raise NotOnWall(off_wall(room.points, place, what=what), pointer=pointer)
    on = walls.interpolate(walls.project(given)) if off > SAME_POINT_MM else given
    return round(on.x, 2), round(on.y, 2)
