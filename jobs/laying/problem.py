"""The room that an element is laid in: what is given, read from plain data and checked.

Lengths are millimetres on the floor plane, x right, y up.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite, pi
from typing import Any, Literal

from shapely import MultiPolygon, Polygon

from config.errors import DomainError
from jobs.area import MARGINS_MM, KeepOut, heatable
from jobs.outline import Point, UnusableOutline, checked

ElementKind = Literal["mat", "cable"]
Ends = Literal["one", "both"]

ARC_SEGMENTS = 16
"""Chords to a quarter of a rounded corner; they lie outside the arc, never inside a margin."""

LEAST_SPACING_MM = 50.0
"""Two points of wire are never nearer than this (common practice, no source)."""

MESH_EDGE_MM = 25.0
"""A mat's half-turns end this far inside either edge of the mesh."""


class UnusableRoom(DomainError):
    """The description of the room cannot be laid from; the detail says which part."""

    slug = "room-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One entry of the catalogue. `width_mm` and `length_mm` are 0 for a cable.

    `name` is what sentences call it, if that is not its id. `ends` is "one" for twin core (one
    lead, a sealed cap at the far end) and "both" for single core (both ends are spliced to leads).
    """

    id: str
    kind: ElementKind
    wire_mm: float
    spacing_mm: float
    least_spacing_mm: float
    most_spacing_mm: float
    watts: float
    volts: float
    min_bend_mm: float
    ends: Ends
    width_mm: float = 0.0
    length_mm: float = 0.0
    name: str = ""

    @property
    def gap_mm(self) -> float:
        """The least distance between two passes."""
        return max(LEAST_SPACING_MM, self.least_spacing_mm)

    @property
    def watts_per_mm(self) -> float:
        """Output of a millimetre of wire."""
        return self.watts / self.wire_mm

    @property
    def pass_mm(self) -> float:
        """Wire of a mat's pass and its half-turn: width - 50 - pitch + pi pitch / 2."""
        pitch = self.spacing_mm
        return self.width_mm - 2 * MESH_EDGE_MM - pitch + pi * pitch / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room to lay, with the catalogue to choose from. `may_use` is how many elements at most.

    `doorways` are stretches of wall that stand open to a heated neighbour.
    """

    name: str
    outline: tuple[Point, ...]
    keep_outs: tuple[KeepOut, ...]
    joints: tuple[tuple[Point, ...], ...]
    margins_mm: tuple[tuple[str, float], ...]
    control: Point
    cold_lead_mm: float
    max_w_per_m2: float
    may_use: int
    elements: tuple[Element, ...]
    doorways: tuple[tuple[Point, ...], ...] = ()

    def element(self, element_id: str) -> Element | None:
        """The entry of the catalogue with this id, or None."""
        return next((entry for entry in self.elements if entry.id == element_id), None)

    @property
    def floor(self) -> Polygon:
        """The floor inside the walls."""
        return Polygon(self.outline)

    @property
    def area(self) -> Polygon | MultiPolygon:
        """The heatable area."""
        return _area(self.outline, self.keep_outs, self.joints, self.margins_mm, self.doorways)


@lru_cache(maxsize=32)
def _area(
    outline: tuple[Point, ...],
    keep_outs: tuple[KeepOut, ...],
    joints: tuple[tuple[Point, ...], ...],
    margins_mm: tuple[tuple[str, float], ...],
    doorways: tuple[tuple[Point, ...], ...],
) -> Polygon | MultiPolygon:
    margins = dict(margins_mm)
    return heatable(
        outline,
        keep_outs,
        wall_margin_mm=margins["wall"],
        keep_out_margin_mm=margins["fixture"],
        joints=joints,
        joint_margin_mm=margins["joint"],
        doorways=doorways,
        quad_segs=ARC_SEGMENTS,
    ).polygon


def parse_room(data: Mapping[str, Any]) -> Room:
    """Read a room from plain data as JSON gives it.

    Raises UnusableRoom with a pointer to the part that cannot be used.
    """
    if not isinstance(data, Mapping):
        raise UnusableRoom("A room is an object with named parts.", pointer="#")
    margins = {**MARGINS_MM, **_margins(data)}
    try:
        outline = checked(_list(_have(data, "outline"), "#/outline"))
        keep_outs = tuple(
            _keep_out(entry, at, margins)
            for at, entry in enumerate(_list(data.get("keep_outs", ()), "#/keep_outs"))
        )
    except UnusableOutline as fault:
        raise UnusableRoom(fault.detail, pointer=fault.pointer) from fault
    entries = _list(_have(data, "elements"), "#/elements")
    elements = tuple(_element(entry, at) for at, entry in enumerate(entries))
    if not elements:
        raise UnusableRoom("There is no element to lay: list at least one.", pointer="#/elements")
    may_use = int(_number(data.get("may_use", 1), "#/may_use"))
    if may_use < 1:
        raise UnusableRoom("At least one element must be allowed.", pointer="#/may_use")
    return Room(
        name=str(data.get("name", "")),
        outline=outline.points,
        keep_outs=keep_outs,
        joints=tuple(
            points_of(joint, f"#/joints/{at}")
            for at, joint in enumerate(_list(data.get("joints", ()), "#/joints"))
        ),
        margins_mm=tuple(sorted(margins.items())),
        control=point_of(_have(data, "control"), "#/control"),
        cold_lead_mm=_positive(_have(data, "cold_lead_mm"), "#/cold_lead_mm"),
        max_w_per_m2=_positive(_have(data, "max_w_per_m2"), "#/max_w_per_m2"),
        may_use=may_use,
        elements=elements,
        doorways=tuple(
            points_of(ends, f"#/doorways/{at}")
            for at, ends in enumerate(_list(data.get("doorways", ()), "#/doorways"))
        ),
    )


def point_of(value: object, pointer: str) -> Point:
    """Read one point; raises UnusableRoom unless it is two finite numbers."""
    if isinstance(value, (str, bytes)) or not isinstance(value, Sequence) or len(value) != 2:
        raise UnusableRoom("A point is a pair of numbers.", pointer=pointer)
    return _number(value[0], pointer), _number(value[1], pointer)


def points_of(value: object, pointer: str, *, least: int = 2) -> tuple[Point, ...]:
    """Read a list of points; raises UnusableRoom if it has fewer than `least`."""
    points = _list(value, pointer)
    if len(points) < least:
        raise UnusableRoom(f"At least {least} points are needed.", pointer=pointer)
    return tuple(point_of(point, f"{pointer}/{at}") for at, point in enumerate(points))


def _list(value: object, pointer: str) -> Sequence[Any]:
    if isinstance(value, (str, bytes)) or not isinstance(value, Sequence):
        raise UnusableRoom("A list is needed.", pointer=pointer)
    return value


def _margins(data: Mapping[str, Any]) -> dict[str, float]:
    given = data.get("margins_mm", {})
    if not isinstance(given, Mapping):
        raise UnusableRoom("Margins are named distances.", pointer="#/margins_mm")
    return {kind: _margin(mm, f"#/margins_mm/{kind}") for kind, mm in given.items()}


def _margin(value: object, pointer: str) -> float:
    mm = _number(value, pointer)
    if mm < 0:
        raise UnusableRoom(
            f"A margin is a distance of 0 mm or more, not {mm:g} mm.", pointer=pointer
        )
    return mm


def _keep_out(entry: object, at: int, margins: Mapping[str, float]) -> KeepOut:
    pointer = f"#/keep_outs/{at}"
    if not isinstance(entry, Mapping) or "outline" not in entry:
        raise UnusableRoom("A keep-out has a kind and an outline.", pointer=pointer)
    kind = entry.get("kind", "other")
    if kind not in tuple(margins):  # whatever JSON gave, hashable or not
        raise UnusableRoom(f"There is no margin for “{kind}”.", pointer=f"{pointer}/kind")
    shape = checked(_list(entry["outline"], f"{pointer}/outline"), pointer=f"{pointer}/outline")
    own = entry.get("margin_mm")
    mm = margins[kind] if own is None else _margin(own, f"{pointer}/margin_mm")
    return KeepOut(outline=shape.points, kind=kind, margin_mm=mm)


def _element(entry: object, at: int) -> Element:
    pointer = f"#/elements/{at}"
    if not isinstance(entry, Mapping):
        raise UnusableRoom("An element is an object with named parts.", pointer=pointer)
    kind, ends = _have(entry, "kind", pointer), entry.get("ends", "one")
    if kind not in ("mat", "cable") or ends not in ("one", "both"):
        raise UnusableRoom("An element is a mat or a cable with one or both ends.", pointer=pointer)
    given = {
        key: _positive(_have(entry, key, pointer), f"{pointer}/{key}")
        for key in ("wire_mm", "spacing_mm", "watts", "volts", "min_bend_mm")
        + (("width_mm", "length_mm") if kind == "mat" else ())
    }
    least, most = point_of(_have(entry, "spacing_range_mm", pointer), f"{pointer}/spacing_range_mm")
    if not 0 < least <= most:
        raise UnusableRoom(
            "The range of the spacing runs from least to most.",
            pointer=f"{pointer}/spacing_range_mm",
        )
    return Element(
        id=str(_have(entry, "id", pointer)),
        name=str(entry.get("name", "")),
        kind=kind,
        ends=ends,
        least_spacing_mm=least,
        most_spacing_mm=most,
        **given,
    )


def _have(data: Mapping[str, Any], key: str, pointer: str = "#") -> Any:
    if key not in data:
        raise UnusableRoom(f"“{key}” is missing.", pointer=f"{pointer}/{key}")
    return data[key]


def _number(value: object, pointer: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not isfinite(value):
        raise UnusableRoom("A finite number is needed.", pointer=pointer)
    return float(value)


def _positive(value: object, pointer: str) -> float:
    number = _number(value, pointer)
    if number <= 0:
        raise UnusableRoom("A number above zero is needed.", pointer=pointer)
    return number
