"""Where heat may go in a room: the floor less margins, keep-outs and joints, each with its reason.

Lengths are millimetres, areas square metres. A margin is a true distance: the heatable floor is
every point at least that far from walls, keep-outs and joints, so a corner that looks into the
room comes out round.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import cos, isfinite, pi
from typing import Any, Literal

from shapely import LineString, MultiPolygon, Polygon, unary_union
from shapely import Point as Place
from shapely.geometry.base import BaseGeometry

from config.errors import DomainError
from jobs.outline import Outline, Point, checked

KeepOutKind = Literal["fixture", "toilet", "drain", "vent", "built_in", "door_swing", "other"]

MARGINS_MM: Mapping[str, float] = {
    "wall": 100,
    "fixture": 50,
    "toilet": 100,
    "drain": 100,
    "vent": 100,
    "built_in": 50,
    "door_swing": 0,
    "joint": 50,
    "other": 50,
}
"""Distance from the wire by what it keeps away from; common practice, no source.

The element's own sheet rules wherever it prints a figure: see `margin_mm`.
"""

QUAD_SEGS = 128
"""Chords to a quarter circle: an area true to 1e-6 m2 for the corners of a room."""


class UnusableMargin(DomainError):
    """A margin that is not a distance."""

    slug = "margin-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A shape in the room where no heat may go; `margin_mm` None means the margin of the room."""

    outline: Sequence[Sequence[float]]
    kind: KeepOutKind = "other"
    margin_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Excluded:
    """Floor without heat, and why. Parts do not overlap: each place has its first reason.

    `keep_out` is the index of the keep-out that it belongs to, None for walls and joints.
    """

    kind: str
    because: str
    area_m2: float
    shape: Polygon | MultiPolygon
    keep_out: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatableArea:
    """What is left of a floor. `floor_m2` is `area_m2` plus the area of everything excluded."""

    floor_m2: float
    area_m2: float
    polygon: Polygon | MultiPolygon
    excluded: tuple[Excluded, ...]
    notes: tuple[str, ...] = ()

    @property
    def pieces(self) -> tuple[Polygon, ...]:
        """The connected pieces, largest first."""
        return tuple(sorted(_polygons(self.polygon), key=lambda piece: -piece.area))


def heatable_room(
    outline: Iterable[Sequence[float]],
    keep_outs: Iterable[Mapping[str, Any]] = (),
    *,
    joints: Iterable[Sequence[Sequence[float]]] = (),
    margins_mm: Mapping[str, float] | None = None,
    doorways: Iterable[Sequence[Sequence[float]]] = (),
) -> HeatableArea:
    """Return the heatable floor of a room as it is stored: margins by kind of edge.

    A keep-out has `outline`, `kind` and maybe `margin_mm`. `margins_mm` is what the element's
    sheet prints; where it says nothing, common practice holds. Raises as `heatable`.
    """
    shapes = []
    for given in keep_outs:
        own = given.get("margin_mm")
        kind = given.get("kind", "other")
        mm = margin_mm(kind, sheet_mm=margins_mm) if own is None else own
        shapes.append(KeepOut(outline=given["outline"], kind=kind, margin_mm=mm))
    return heatable(
        outline,
        shapes,
        wall_margin_mm=margin_mm("wall", sheet_mm=margins_mm),
        keep_out_margin_mm=margin_mm("other", sheet_mm=margins_mm),
        joints=joints,
        joint_margin_mm=margin_mm("joint", sheet_mm=margins_mm),
        doorways=doorways,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the heatable floor by what can warm it, and a sentence for the installer."""

    reach: Literal["mat", "loose wire", "single run", "apart"]
    because: str
    area_m2: float
    shape: Polygon


def heatable(
    outline: Iterable[Sequence[float]] | Outline,
    keep_outs: Iterable[KeepOut | Sequence[Sequence[float]]] = (),
    *,
    wall_margin_mm: float,
    keep_out_margin_mm: float,
    joints: Iterable[Sequence[Sequence[float]]] = (),
    joint_margin_mm: float = MARGINS_MM["joint"],
    doorways: Iterable[Sequence[Sequence[float]]] = (),
    quad_segs: int = QUAD_SEGS,
) -> HeatableArea:
    """Return the floor at least the margins away from every wall, keep-out and joint.

    A keep-out is a list of (x, y) or a KeepOut, which may have a margin of its own. A joint is
    a polyline. A doorway is a stretch ((x, y), (x, y)) of wall that stands open to a heated
    neighbour: there the floor counts up to the outline, and the margin is kept from its jambs.
    Arcs are drawn outside the true arc with `quad_segs` chords a quarter, so that a margin is
    never too small. Nothing left is an area of 0 and a note, not an error.

    Raises UnusableOutline (outline or keep-out) or UnusableMargin.
    """
    room = outline if isinstance(outline, Outline) else checked(outline)
    wall_margin_mm = _distance(wall_margin_mm, "#/margins_mm/wall")
    keep_out_margin_mm = _distance(keep_out_margin_mm, "#/margins_mm/fixture")
    joint_margin_mm = _distance(joint_margin_mm, "#/margins_mm/joint")
    floor = room.polygon
    notes = list(room.notes)

    zones: list[tuple[str, str, int | None, BaseGeometry]] = []
    margins: list[tuple[str, str, int | None, BaseGeometry]] = []
    for at, given in enumerate(keep_outs):
        keep_out = given if isinstance(given, KeepOut) else KeepOut(outline=given)
        shape = checked(keep_out.outline, pointer=f"#/keep_outs/{at}/outline")
        name = f"Keep-out {at + 1} ({keep_out.kind.replace('_', ' ')})"
        notes += _standing(name, shape.polygon, floor)
        own = keep_out.margin_mm
        mm = keep_out_margin_mm if own is None else _distance(own, f"#/keep_outs/{at}/margin_mm")
        zones.append((keep_out.kind, f"{name}: no heat under it.", at, shape.polygon))
        margins.append(
            (
                keep_out.kind,
                f"Within {mm:g} mm of {name[0].lower()}{name[1:]}.",
                at,
                grown_polygon(shape, mm, quad_segs=quad_segs),
            )
        )
    for joint in joints:
        because = f"Within {joint_margin_mm:g} mm of an expansion joint."
        margins.append(("joint", because, None, grown_line(joint, joint_margin_mm, quad_segs)))
    walls = _walls(room, doorways, wall_margin_mm, quad_segs)
    margins.append(("wall", f"Within {wall_margin_mm:g} mm of a wall.", None, walls))

    zones += margins
    left = _floor_only(floor.difference(unary_union([zone for *_, zone in zones])))
    if left.is_empty:
        notes.append("Margins and keep-outs leave no heatable floor: check their figures.")
    return HeatableArea(
        floor_m2=floor.area / 1e6,
        area_m2=left.area / 1e6,
        polygon=left,
        excluded=_reasons(floor, zones),
        notes=tuple(notes),
    )


def reaches(area: HeatableArea, *, mat_width_mm: float, spacing_mm: float) -> tuple[Part, ...]:
    """Tell apart what a mat can reach, what is only narrow, and what lies apart, largest first.

    - `mat`: a strip of the mat's width fits in.
    - `loose wire`: narrower than that, but a wire goes in and comes back one spacing beside.
    - `single run`: narrower than a spacing; only a wire that need not come back (twin core).
    - `apart`: cut off from the largest piece; it needs an element of its own.

    Parts smaller than a square of one spacing are the crumbs of rounding and are left out.
    Raises UnusableMargin for a width or spacing not above 0.
    """
    for name, mm in (("mat_width_mm", mat_width_mm), ("spacing_mm", spacing_mm)):
        if _distance(mm, f"#/{name}") == 0:
            raise UnusableMargin("A width is more than 0 mm.", pointer=f"#/{name}")
    parts: list[Part] = []
    for at, piece in enumerate(area.pieces):
        if at > 0:
            parts.append(_part("apart", piece))
            continue
        mat = _holding(piece, mat_width_mm)
        wire = _holding(piece, spacing_mm)
        single = piece.difference(unary_union([wire, mat]))
        for reach, shape in (
            ("mat", mat), ("loose wire", wire.difference(mat)), ("single run", single),
        ):  # fmt: skip
            parts += [_part(reach, one) for one in _polygons(shape) if one.area >= spacing_mm**2]
    return tuple(sorted(parts, key=lambda part: -part.area_m2))


def margin_mm(kind: str, *, sheet_mm: Mapping[str, float] | None = None) -> float:
    """Return the margin for `kind`: what the element's sheet prints, else common practice."""
    if sheet_mm and kind in sheet_mm:
        return _distance(sheet_mm[kind], f"#/margins_mm/{kind}")
    if kind not in MARGINS_MM:
        raise UnusableMargin(f"There is no margin for “{kind}”.", pointer="#/kind")
    return MARGINS_MM[kind]


def grown_polygon(outline: Outline, by_mm: float, *, quad_segs: int = QUAD_SEGS) -> BaseGeometry:
    """Return `outline` and all that is within `by_mm` of it, its arcs outside the true ones."""
    points = outline.points
    corners = [points[at] for at in range(len(points)) if not _looks_in(points, at)]
    return _grown(outline.polygon, corners, by_mm, quad_segs)


def grown_line(
    line: Sequence[Sequence[float]], by_mm: float, quad_segs: int = QUAD_SEGS
) -> BaseGeometry:
    """Return all that is within `by_mm` of a polyline, its arcs outside the true ones."""
    return _grown(LineString(line), [(x, y) for x, y in line], by_mm, quad_segs)


_REACH = {
    "mat": "A strip of the mat fits in.",
    "loose wire": "Too narrow for the mat, wide enough for loose wire.",
    "single run": "Narrower than one spacing: only the end of a twin core goes in.",
    "apart": "Cut off from the rest: no wire comes here without leaving the heatable floor.",
}


def _part(reach: str, shape: Polygon) -> Part:
    return Part(reach=reach, because=_REACH[reach], area_m2=shape.area / 1e6, shape=shape)  # type: ignore[arg-type]


def _holding(piece: Polygon, width_mm: float) -> BaseGeometry:
    """The part of `piece` in which something `width_mm` wide fits: shrunk, and grown back.

    Grown back with sharp corners, since a strip reaches into a square corner; half a millimetre
    less than half the width, so that what is exactly as wide counts.
    """
    half = width_mm / 2 - 0.5
    core = piece.buffer(-half, quad_segs=16)
    return core.buffer(half, join_style="mitre", mitre_limit=1.5).intersection(piece)


def _walls(
    room: Outline, doorways: Iterable[Sequence[Sequence[float]]], by_mm: float, quad_segs: int
) -> BaseGeometry:
    """What is within `by_mm` of a wall; a doorway is no wall, its jambs are."""
    points = room.points
    round_at = [points[at] for at in range(len(points)) if _looks_in(points, at)]
    openings = [LineString(doorway) for doorway in doorways]
    walls: BaseGeometry = room.polygon.exterior
    for opening in openings:
        if opening.distance(walls) > 1 or walls.hausdorff_distance(opening) == 0:
            raise UnusableMargin("A doorway must lie in a wall.", pointer="#/doorways")
        walls = walls.difference(opening.buffer(0.5, cap_style="flat"))
        round_at += [(x, y) for x, y in opening.coords]
    return _grown(walls, round_at, by_mm, quad_segs)


def _grown(
    shape: BaseGeometry, round_at: Iterable[Point], by_mm: float, quad_segs: int
) -> BaseGeometry:
    """Buffer `shape`; at `round_at` the chords of the arc are moved outside the arc.

    A buffer's chords lie up to r (1 - cos(pi / (4 quad_segs))) inside, which would make a margin
    too small; its straight sides are exact and stay so.
    """
    if by_mm < 1e-6:  # a buffer so thin comes out empty
        return shape if isinstance(shape, Polygon) else Polygon()
    outside = by_mm / cos(pi / (4 * quad_segs))
    discs = [Place(point).buffer(outside, quad_segs=quad_segs) for point in round_at]
    return unary_union([shape.buffer(by_mm, quad_segs=quad_segs), *discs])


def _looks_in(points: Sequence[Point], at: int) -> bool:
    """Whether the corner `at` of a counter-clockwise outline looks into it (over 180 degrees)."""
    (ax, ay), (bx, by) = points[at - 1], points[at]
    cx, cy = points[(at + 1) % len(points)]
    return (bx - ax) * (cy - by) - (by - ay) * (cx - bx) < 0


def _standing(name: str, shape: Polygon, floor: Polygon) -> list[str]:
    inside = shape.intersection(floor).area
    if inside == 0:
        return [f"{name} lies outside the room."]
    if inside < shape.area * (1 - 1e-9):
        return [f"{name} reaches {(shape.area - inside) / 1e6:.2f} m² beyond the walls."]
    return []


def _reasons(
    floor: Polygon, zones: Sequence[tuple[str, str, int | None, BaseGeometry]]
) -> tuple[Excluded, ...]:
    """Give every excluded place to the first zone that takes it."""
    left: BaseGeometry = floor
    found = []
    for kind, because, keep_out, zone in zones:
        part = _floor_only(left.intersection(zone))
        if part.area > 0:
            found.append(
                Excluded(
                    kind=kind,
                    because=because,
                    area_m2=part.area / 1e6,
                    shape=part,
                    keep_out=keep_out,
                )
            )
            left = left.difference(zone)
    return tuple(found)


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if isinstance(part, Polygon) and not part.is_empty]


def _floor_only(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """Drop the lines and points that set operations leave behind."""
    parts = _polygons(shape)
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def _distance(mm: float, pointer: str) -> float:
    if not isfinite(mm) or mm < 0:
        raise UnusableMargin(
            f"A margin is a distance of 0 mm or more, not {mm:g} mm.", pointer=pointer
        )
    return float(mm)
