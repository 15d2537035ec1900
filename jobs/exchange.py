"""A room's plan for those who draw: GeoJSON in local coordinates, and DXF in and out.

All in millimetres of the room, x right, y up.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from itertools import pairwise
from typing import Any

from ezdxf import path as dxf_path
from ezdxf import units as dxf_units
from ezdxf.enums import InsertUnits
from ezdxf.filemanagement import new, read
from ezdxf.lldxf.const import DXFError
from shapely import Polygon

from config.errors import DomainError
from jobs.outline import Outline, Point, UnusableOutline, checked, unit_doubt
from jobs.plan_picture import PlanPicture, marks

LARGEST_DXF_BYTES = 5_000_000
ARC_SAGITTA_MM = 1.0
"""How far the chords of a drawn arc may lie from it when a DXF is read."""

_LAYERS = {
    "WALLS": 7,
    "NO_HEAT": 8,
    "EXPANSION_JOINTS": 3,
    "HEATING_CABLE": 6,
    "COLD_LEADS": 1,
    "SENSOR_TUBE": 5,
    "POINTS": 7,
}


class UnusableDrawing(DomainError):
    """A drawing file that no room can be read from."""

    slug = "drawing-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRoom:
    """A room read from a drawing, moved so that its lower left corner is at (0, 0)."""

    outline: Outline
    keep_outs: tuple[Outline, ...]
    notes: tuple[str, ...]


def to_geojson(picture: PlanPicture) -> dict[str, Any]:
    """Return the plan as a GeoJSON FeatureCollection (RFC 7946) in local millimetres.

    RFC 7946 knows only longitude and latitude; coordinates in another system are by prior
    arrangement (section 4), which the member `coordinates_in` states.
    """
    features = [_feature("Polygon", [_ring(picture.outline)], part="outline", name=picture.name)]
    for at, keep_out in enumerate(picture.keep_outs):
        features.append(
            _feature(
                "Polygon",
                [_ring(keep_out.outline)],
                part="keep_out",
                kind=keep_out.kind,
                name=keep_out.name,
                number=at + 1,
            )
        )
    for joint in picture.expansion_joints:
        features.append(_feature("LineString", _line(joint), part="expansion_joint"))
    for cable in picture.cables:
        features.append(_feature("LineString", _line(cable.path), part="cable", name=cable.name))
        for lead in (cable.lead, cable.lead_end):
            if lead:
                features.append(_feature("LineString", _line(lead), part="cold_lead"))
    if picture.sensor_route:
        features.append(_feature("LineString", _line(picture.sensor_route), part="sensor_tube"))
    for mark in marks(picture):
        features.append(_feature("Point", list(mark.at), part=mark.kind, letter=mark.letter))
    return {
        "type": "FeatureCollection",
        "coordinates_in": "millimetres of the room, x right, y up",
        "basis": picture.basis,
        "tolerance_mm": picture.tolerance_mm,
        "features": features,
    }


def to_dxf(picture: PlanPicture) -> str:
    """Return the plan as a DXF drawing in millimetres, one layer for each kind of thing."""
    drawing = new("R2010", units=dxf_units.MM)
    for name, colour in _LAYERS.items():
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()

    def polyline(points: Sequence[Point], layer: str, *, close: bool = False) -> None:
        space.add_lwpolyline(list(points), close=close, dxfattribs={"layer": layer})

    polyline(picture.outline, "WALLS", close=True)
    for keep_out in picture.keep_outs:
        polyline(keep_out.outline, "NO_HEAT", close=True)
    for joint in picture.expansion_joints:
        polyline(joint, "EXPANSION_JOINTS")
    for cable in picture.cables:
        polyline(cable.path, "HEATING_CABLE")
        for lead in (cable.lead, cable.lead_end):
            if lead:
                polyline(lead, "COLD_LEADS")
    if picture.sensor_route:
        polyline(picture.sensor_route, "SENSOR_TUBE")
    for mark in marks(picture):
        space.add_circle(mark.at, 25, dxfattribs={"layer": "POINTS"})
        space.add_text(
            mark.letter, height=80, dxfattribs={"layer": "POINTS", "insert": (*mark.at, 0)}
        )
    written = StringIO()
    drawing.write(written)
    return written.getvalue()


def from_dxf(text: str) -> DrawnRoom:
    """Return the room in a DXF: its largest closed polyline, with those inside it as keep-outs.

    The drawing's own unit is used; without one millimetres are taken and noted. Raises
    UnusableDrawing if nothing is closed in it, it cannot be read, or it is too large.
    """
    if len(text) > LARGEST_DXF_BYTES:
        raise UnusableDrawing("This drawing is too large; save the room alone.", pointer="#/dxf")
    try:
        drawing = read(StringIO(text))
    except (DXFError, ValueError, KeyError, IndexError, TypeError, AttributeError) as fault:
        raise UnusableDrawing("This file is no DXF that can be read.", pointer="#/dxf") from fault
    mm_per_unit, notes = _unit(drawing.units)
    rings = [_scaled(ring, mm_per_unit) for ring in _closed(drawing.modelspace(), mm_per_unit)]
    rings = [ring for ring in rings if _extent(ring) > 0]
    if not rings:
        raise UnusableDrawing(
            "Nothing is closed in this drawing. Draw the walls as one closed polyline.",
            pointer="#/dxf",
        )
    rings.sort(key=_extent, reverse=True)
    try:
        outline = checked(rings[0], pointer="#/dxf")
    except UnusableOutline as fault:
        raise UnusableDrawing(
            f"The largest closed shape: {fault.detail}", pointer="#/dxf"
        ) from fault
    inside, left_out = [], 0
    for ring in rings[1:]:
        shape = Polygon(ring)
        if shape.is_valid and outline.polygon.contains(shape.representative_point()):
            inside.append(checked(ring, pointer="#/dxf"))
        else:
            left_out += 1
    if left_out:
        notes.append(f"Left out {left_out} closed shapes that are not in the room.")
    x, y, *_ = outline.polygon.bounds
    moved = checked([(px - x, py - y) for px, py in outline])
    notes += outline.notes
    if doubt := unit_doubt(moved):
        notes.append(doubt)
    return DrawnRoom(
        outline=moved,
        keep_outs=tuple(checked([(px - x, py - y) for px, py in shape]) for shape in inside),
        notes=tuple(notes),
    )


def _closed(space: Any, mm_per_unit: float) -> list[list[Point]]:
    """The rings of all closed polylines, arcs as chords."""
    rings = []
    for entity in space.query("LWPOLYLINE POLYLINE"):
        if entity.dxftype() == "POLYLINE" and not entity.is_2d_polyline:
            continue
        points = [
            (float(point.x), float(point.y))
            for point in dxf_path.make_path(entity).flattening(ARC_SAGITTA_MM / mm_per_unit)
        ]
        if len(points) > 3 and _met(points, mm_per_unit):
            rings.append(points)
    return rings


def _met(points: Sequence[Point], mm_per_unit: float) -> bool:
    """Whether a polyline ends where it starts, to a millimetre."""
    (ax, ay), (bx, by) = points[0], points[-1]
    return max(abs(ax - bx), abs(ay - by)) * mm_per_unit <= 1.0


def _extent(ring: Sequence[Point]) -> float:
    """How much floor a ring spans; one that crosses itself has no area to go by."""
    return float(Polygon(ring).convex_hull.area)


def _scaled(ring: Sequence[Point], mm_per_unit: float) -> list[Point]:
    points = [(round(x * mm_per_unit, 3), round(y * mm_per_unit, 3)) for x, y in ring]
    return [points[0], *(point for before, point in pairwise(points) if point != before)]


def _unit(code: int) -> tuple[float, list[str]]:
    if code == dxf_units.MM:
        return 1.0, []
    if not code:
        return 1.0, ["The drawing names no unit; millimetres were taken."]
    factor = float(dxf_units.conversion_factor(InsertUnits(code), InsertUnits.Millimeters))
    return factor, [f"The drawing is in {dxf_units.unit_name(code)}; it was converted."]


def _feature(geometry: str, coordinates: Any, **properties: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": geometry, "coordinates": coordinates},
        "properties": properties,
    }


def _ring(points: Sequence[Point]) -> list[list[float]]:
    return [*_line(points), list(points[0])]


def _line(points: Sequence[Point]) -> list[list[float]]:
    return [list(point) for point in points]
