"""From wires on the floor to a whole plan: leads, sensor, what is warmed and what is not."""

from collections.abc import Sequence

import shapely
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from jobs.laying.leads import lead_to, sensor_place, ways
from jobs.laying.measures import COVER_TOLERANCE_MM, covered, spacings
from jobs.laying.plan import LaidElement, LaidWire, LayingPlan, as_points
from jobs.laying.problem import Room
from jobs.outline import Point

LEAST_UNREACHED_MM2 = 200.0
COLD_WORTH_SAYING = 0.03
WIDE_MM2 = 0.05e6
"""Cold floor as large as this is no corner between turns."""


def connect(room: Room, wires: Sequence[LaidWire]) -> LayingPlan | None:
    """Return the plan with these wires, or None if a lead or the sensor finds no way."""
    paths = [wire.path for wire in wires]
    lines = MultiLineString([LineString(path) for path in paths])
    found = ways(room, paths, off=None, swings=True)
    laid = []
    for wire in wires:
        ends = [wire.path[0]] + ([wire.path[-1]] if wire.element.ends == "both" else [])
        leads = [lead_to(room, found, end, lines) for end in ends]
        if any(lead is None for lead in leads):
            return None
        points = as_points(wire.path)
        laid.append(
            LaidElement(
                element=wire.element.id,
                path=points,
                mesh=wire.mesh,
                loose_from_mm=wire.loose,
                splice=points[0],
                end=points[-1],
                lead=leads[0] or (),
                lead_end=(leads[1] or ()) if len(leads) > 1 else (),
            )
        )
    if (sensor := sensor_place(room, wires)) is None:
        return None
    warm, cold = _warm_and_cold(room, wires)
    return LayingPlan(
        elements=tuple(laid),
        sensor=sensor[0],
        sensor_route=sensor[1],
        covered_m2=warm.area / 1e6,
        heatable_m2=room.area.area / 1e6,
        unreached=_outlines(cold),
        because=_because(room, cold),
    )


def _warm_and_cold(room: Room, wires: Sequence[LaidWire]) -> tuple[BaseGeometry, BaseGeometry]:
    area = room.area
    reach = [s / 2 + COVER_TOLERANCE_MM for s in spacings([w.element for w in wires], area.area)]
    warm = covered(area, [LineString(wire.path) for wire in wires], reach)
    return warm, area.difference(warm)


def _outlines(cold: BaseGeometry) -> tuple[tuple[Point, ...], ...]:
    """Outer outlines of the cold floor; a piece with a hole is cut so that it has none.

    Corners are moved to what is written before pieces are cut, so that no outline is lost
    because it touches itself after rounding.
    """
    rings = []
    for part in _fine(cold):
        if part.area < LEAST_UNREACHED_MM2:
            continue
        for cut in _without_holes(part):
            for whole in _fine(cut):
                ring = tuple((round(x, 1), round(y, 1)) for x, y in whole.exterior.coords[:-1])
                if len(ring) >= 3 and Polygon(ring).is_valid:
                    rings.append(ring)
    return tuple(rings)


def _fine(shape: BaseGeometry) -> list[Polygon]:
    """The polygons of a shape, valid with corners on a grid of 0.1 mm.

    They are not held to the grid in what is done with them next, where that can fail.
    """
    parts = shapely.get_parts(shapely.set_precision(shapely.set_precision(shape, 0.1), 0.0))
    return [part for part in parts if isinstance(part, Polygon) and part.area > 0]


def _without_holes(part: Polygon) -> list[Polygon]:
    if not part.interiors:
        return [part]
    x0, y0, x1, y1 = part.bounds
    middle = Polygon(part.interiors[0]).centroid.x
    halves = [shapely.box(x0, y0, middle, y1), shapely.box(middle, y0, x1, y1)]
    return [
        whole
        for half in halves
        for piece in shapely.get_parts(part.intersection(half))
        if isinstance(piece, Polygon) and piece.area > 0
        for whole in _without_holes(piece)
    ]


def _because(room: Room, cold: BaseGeometry) -> tuple[str, ...]:
    """What was given up, if it is worth saying: how much floor, and where."""
    share = cold.area / room.area.area
    if share <= COLD_WORTH_SAYING:
        return ()
    wide = [part.area for part in shapely.get_parts(cold) if part.area >= WIDE_MM2]
    said = [f"{cold.area / 1e6:.2f} m² ({share:.0%}) stay cold."]
    if wide:
        places = "1 place" if len(wide) == 1 else f"{len(wide)} places"
        said.append(
            f"{sum(wide) / 1e6:.2f} m² of them the wire does not reach, or is used up before: "
            f"{places} of {WIDE_MM2 / 1e6:g} m² or more."
        )
    if (rest := cold.area - sum(wide)) >= LEAST_UNREACHED_MM2:
        said.append(f"{rest / 1e6:.2f} m² of them are corners and gaps between turns.")
    return tuple(said)
