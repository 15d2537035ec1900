"""Judge a laying plan, whoever made it: each violation is a sentence that begins with its kind.

Shares nothing with the methods that lay but the format. Lengths are millimetres.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely import Point as Place
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from jobs.laying.check_mesh import mesh_faults
from jobs.laying.check_wire import (
    ALONG,
    MOST_TURN_RAD,
    along,
    bow,
    chainages,
    nearest_to_itself,
    overbent,
    sharpest,
)
from jobs.laying.measures import COVER_TOLERANCE_MM, covered, spacings
from jobs.laying.plan import FloatArray, LaidElement, LayingPlan, UnusablePlan, parse_plan
from jobs.laying.problem import Element, Room
from jobs.outline import Point

TOLERANCE_MM = 1.0
LENGTH_TOLERANCE = 0.005
SPLICE_MM = 150.0
SPLICE_BOW_MM = 2.0
LEAD_CLEARANCE_MM = 20.0
LEAD_FREE_MM = 150.0
SQUARE_MM = 400.0
SQUARE_STEP_MM = 200.0
SQUARE_LEAST_MM2 = 0.04e6
LOST_MM2 = 1.0
MEAN_FACTOR = 1.02
SQUARE_FACTOR = 1.25
ANGLE_TOLERANCE_RAD = 1e-3


def violations(room: Room, plan: LayingPlan | Mapping[str, Any]) -> list[str]:
    """Return what makes `plan` (a LayingPlan, or plain data as from JSON) invalid; [] if nothing.

    The order is that of the checks. What cannot be read is judged no further.
    """
    try:
        read = plan if isinstance(plan, LayingPlan) else parse_plan(plan)
    except UnusablePlan as fault:
        return [f"format: {fault.detail} ({fault.pointer})"]
    if faults := [*_format(room, read), *_elements(room, read)]:
        return faults
    chosen = [entry for laid in read.elements if (entry := room.element(laid.element))]
    names = _names(room, read)
    paths = [LineString(laid.path) for laid in read.elements]
    faults = []
    for entry, name, laid, path in zip(chosen, names, read.elements, paths, strict=True):
        faults += _wire(room, entry, name, laid, path)
        faults += _ends(entry, name, laid)
        faults += _leads(room, entry, name, laid, paths)
    faults += _between(chosen, names, paths)
    faults += _sensor(room, chosen, read, paths)
    faults += _power(room, chosen, paths)
    faults += mesh_faults(room.area, chosen, names, read.elements)
    faults += _claims(room, chosen, read, paths)
    return faults


def _names(room: Room, plan: LayingPlan) -> list[str]:
    """What the catalogue calls each element laid, counted where one is laid several times."""
    ids = [laid.element for laid in plan.elements]
    found = []
    for at, element_id in enumerate(ids):
        entry = room.element(element_id)
        name = (entry and entry.name) or element_id
        number = ids[: at + 1].count(element_id)
        found.append(f"{name} ({number})" if ids.count(element_id) > 1 else name)
    return found


def _format(room: Room, plan: LayingPlan) -> Iterator[str]:
    if not plan.elements:
        yield "format: the plan lays no element."
    for name, laid in zip(_names(room, plan), plan.elements, strict=True):
        points = [*laid.path, laid.splice, laid.end, *laid.lead, *laid.lead_end]
        if len(laid.path) < 2 or not np.isfinite(np.asarray(points)).all():
            yield f"format: the path of {name} is not a list of finite points."


def _elements(room: Room, plan: LayingPlan) -> Iterator[str]:
    for laid in plan.elements:
        if room.element(laid.element) is None:
            yield f"element: “{laid.element}” is not in the catalogue."
    if len(plan.elements) > room.may_use:
        yield f"element: {len(plan.elements)} are laid, {room.may_use} may be used."


def _wire(
    room: Room, entry: Element, name: str, laid: LaidElement, path: LineString
) -> Iterator[str]:
    points = np.asarray(laid.path, dtype=np.float64)
    repeated = np.flatnonzero((np.diff(points, axis=0) == 0).all(axis=1))
    if len(repeated):
        yield f"chainage: {name} has a repeated point at {_at(points[repeated[0]])}."
        points = np.delete(points, repeated, axis=0)
        if len(points) < 2:
            return
    last, reach = 0.0, max(path.length, entry.wire_mm) + TOLERANCE_MM
    for start, end in laid.loose_from_mm:
        if start < last - TOLERANCE_MM or end <= start or end > reach:
            yield f"chainage: the loose stretch {start:g} to {end:g} mm of {name} is out of order."
        last = end
    off = path.length / entry.wire_mm - 1
    if abs(off) > LENGTH_TOLERANCE:
        yield (
            f"length: the path of {name} is {path.length:.0f} mm, its wire {entry.wire_mm:.0f} mm."
        )
    outside = path.difference(room.area.buffer(TOLERANCE_MM))
    if not outside.is_empty:
        yield f"outside: {name} leaves the heatable area at {_at(_first(outside))}."
    for joint in room.joints:
        if path.intersects(LineString(joint)):
            yield f"joint: {name} meets an expansion joint."
    if not path.is_simple:
        yield f"crossing: {name} crosses or touches itself."
    if near := nearest_to_itself(points, entry.gap_mm - TOLERANCE_MM):
        yield f"spacing: {name} comes within {near[0]:.1f} mm of itself at {_at(near[1])}."
    turn, where = sharpest(points)
    if turn > MOST_TURN_RAD + ANGLE_TOLERANCE_RAD:
        yield f"bend: {name} turns {np.degrees(turn):.1f} degrees at one point, {_at(where)}."
    if tight := overbent(points, entry.min_bend_mm):
        yield f"bend: {name} bends tighter than {entry.min_bend_mm:g} mm at {_at(tight[1])}."


def _between(chosen: list[Element], called: list[str], paths: list[LineString]) -> Iterator[str]:
    for one in range(len(paths)):
        for other in range(one):
            names = f"{called[other]} and {called[one]}"
            gap = max(chosen[one].gap_mm, chosen[other].gap_mm)
            if paths[one].intersects(paths[other]):
                yield f"crossing: {names} cross or touch."
            elif paths[one].distance(paths[other]) < gap - TOLERANCE_MM:
                apart = paths[one].distance(paths[other])
                yield f"spacing: {names} come within {apart:.1f} mm of each other."


def _ends(entry: Element, name: str, laid: LaidElement) -> Iterator[str]:
    points = np.asarray(laid.path, dtype=np.float64)
    if _apart(laid.splice, laid.path[0]) > TOLERANCE_MM:
        yield f"splice: that of {name} is not at the start of its path."
    if bow(points, SPLICE_MM) > SPLICE_BOW_MM:
        yield f"splice: the first 150 mm of {name} are not straight."
    if _apart(laid.end, laid.path[-1]) > TOLERANCE_MM:
        yield f"end: that of {name} is not at the end of its path."
    if entry.ends == "both" and bow(points[::-1], SPLICE_MM) > SPLICE_BOW_MM:
        yield f"end: the last 150 mm of {name} are not straight."


def _leads(
    room: Room, entry: Element, name: str, laid: LaidElement, paths: list[LineString]
) -> Iterator[str]:
    wanted = [(laid.lead, laid.splice)]
    if entry.ends == "both":
        wanted.append((laid.lead_end, laid.end))
    for lead, to in wanted:
        if len(lead) < 2:
            yield f"lead: {name} has no lead to {_at(to)}."
            continue
        if _apart(lead[0], room.control) > TOLERANCE_MM or _apart(lead[-1], to) > TOLERANCE_MM:
            yield f"lead: that of {name} does not run from the control to {_at(to)}."
        line = LineString(lead)
        if line.length > room.cold_lead_mm + TOLERANCE_MM:
            yield (
                f"lead: that of {name} is {line.length:.0f} mm long, "
                f"{room.cold_lead_mm:.0f} mm are left."
            )
        if reason := _off_floor(room, line, swings=True):
            yield f"lead: that of {name} {reason}."
        far = substring(line, 0, line.length - LEAD_FREE_MM) if line.length > LEAD_FREE_MM else None
        approach = substring(line, 0, max(line.length - TOLERANCE_MM, 0))
        for path in paths:
            if far is not None and far.distance(path) < LEAD_CLEARANCE_MM - TOLERANCE_MM:
                yield f"lead: that of {name} runs within 20 mm of wire."
            if approach.intersects(path):
                yield f"lead: that of {name} crosses wire."


def _off_floor(room: Room, line: LineString, *, swings: bool) -> str:
    """Say how a line leaves the floor; `swings` is whether a door may swing over it."""
    if not room.floor.buffer(TOLERANCE_MM).covers(line):
        return "leaves the room"
    for keep_out in room.keep_outs:
        if swings and keep_out.kind == "door_swing":
            continue
        if Polygon(keep_out.outline).buffer(-TOLERANCE_MM).intersects(line):
            return f"runs through a keep-out ({keep_out.kind})"
    return ""


def _sensor(
    room: Room, chosen: list[Element], plan: LayingPlan, paths: list[LineString]
) -> Iterator[str]:
    sensor, tube = Place(plan.sensor), plan.sensor_route
    if not room.area.buffer(TOLERANCE_MM).covers(sensor):
        yield "sensor: it lies outside the heatable area."
    yield from _between_passes(chosen, plan)
    if _apart(tube[0], room.control) > TOLERANCE_MM or _apart(tube[-1], plan.sensor) > TOLERANCE_MM:
        yield "sensor: its tube does not run from the control to the sensor."
    line = LineString(tube)
    if reason := _off_floor(room, line, swings=False):
        yield f"sensor: its tube {reason}."
    if any(line.distance(path) < LEAD_CLEARANCE_MM - TOLERANCE_MM for path in paths):
        yield "sensor: its tube comes within 20 mm of wire."


def _between_passes(chosen: list[Element], plan: LayingPlan) -> Iterator[str]:
    """Judge the sensor by the nearest pass, and the next that is 1.6 gaps away along the wire."""
    here = np.asarray(plan.sensor, dtype=np.float64)
    feet = []
    for number, (entry, laid) in enumerate(zip(chosen, plan.elements, strict=True)):
        path = np.asarray(laid.path, dtype=np.float64)
        at = chainages(path)
        fine = np.unique(np.concatenate([at, np.arange(0, at[-1], 1.0)]))
        points = along(path, at, fine)
        feet.append((number, entry, fine, points, np.hypot(*(points - here).T)))
    near = min(feet, key=lambda foot: float(foot[4].min()))
    first = int(np.argmin(near[4]))
    d_first, p_first = float(near[4][first]), near[3][first]
    d_second, p_second = np.inf, p_first
    for number, entry, fine, points, apart in feet:
        other = apart
        if number == near[0]:
            other = np.where(np.abs(fine - near[2][first]) < ALONG * entry.gap_mm, np.inf, apart)
        second = int(np.argmin(other))
        if other[second] < d_second:
            d_second, p_second = float(other[second]), points[second]
    most, least = near[1].most_spacing_mm / 2 + 15, near[1].gap_mm / 2 - 5
    if d_second - d_first > 6:
        yield f"sensor: {d_first:.1f} mm from one pass, {d_second:.1f} mm from the next."
    if max(d_first, d_second) > most + 0.5:
        yield f"sensor: {max(d_first, d_second):.1f} mm from a pass, at most {most:g} mm."
    if d_first < least - 0.5:
        yield f"sensor: {d_first:.1f} mm from a pass, at least {least:g} mm."
    if float(np.dot(p_first - here, p_second - here)) >= 0:
        yield "sensor: its two nearest passes are on one side of it."


def _power(room: Room, chosen: list[Element], paths: list[LineString]) -> Iterator[str]:
    reach = [s / 2 for s in spacings(chosen, room.area.area)]
    warm = covered(room.area, paths, reach)
    watts = sum(entry.watts for entry in chosen)
    if warm.is_empty:
        return
    mean = watts / (warm.area / 1e6)
    if mean > MEAN_FACTOR * room.max_w_per_m2:
        yield f"power: {mean:.0f} W/m² over the warm floor, {room.max_w_per_m2:g} at most."
    floor, power = _squares(room, chosen, paths, warm)
    enough = floor >= SQUARE_LEAST_MM2
    density = np.divide(power * 1e6, floor, out=np.zeros_like(floor), where=enough)
    if density.size and density.max() > SQUARE_FACTOR * room.max_w_per_m2:
        x, y = np.unravel_index(int(np.argmax(density)), density.shape)
        left, low = room.floor.bounds[:2]
        place = (left + float(x) * SQUARE_STEP_MM, low + float(y) * SQUARE_STEP_MM)
        yield f"power: {density.max():.0f} W/m² in the 400 mm square at {_at(place)}."


def _squares(
    room: Room, chosen: list[Element], paths: list[LineString], warm: BaseGeometry
) -> tuple[FloatArray, FloatArray]:
    """Warm floor in mm² and watts of every 400 mm square, by its place in steps of 200 mm."""
    left, low, right, high = room.floor.bounds
    columns = int(np.ceil((right - left) / SQUARE_STEP_MM)) + 1
    rows = int(np.ceil((high - low) / SQUARE_STEP_MM)) + 1
    floor = np.zeros((columns, rows))
    _fill(floor, warm, left, low, 0, columns, 0, rows)
    power = np.zeros_like(floor)
    for entry, path in zip(chosen, paths, strict=True):
        points = np.asarray(path.coords)
        at = chainages(points)
        edges = np.linspace(0, at[-1], max(2, int(at[-1] / 5)))
        middle = along(points, at, (edges[:-1] + edges[1:]) / 2)
        cells = np.floor((middle - (left, low)) / SQUARE_STEP_MM).astype(int)
        cells = cells[np.all((cells >= 0) & (cells < floor.shape), axis=1)]  # wire off the floor
        np.add.at(
            power, (cells[:, 0], cells[:, 1]), entry.watts_per_mm * float(edges[1] - edges[0])
        )
    return _by_four(floor), _by_four(power)


def _fill(
    floor: FloatArray,
    part: BaseGeometry,
    left: float,
    low: float,
    x0: int,
    x1: int,
    y0: int,
    y1: int,
) -> None:
    """Enter the area of `part` in every cell of columns x0 to x1 and rows y0 to y1, by halves."""
    if part.is_empty:
        return
    if x1 - x0 == 1 and y1 - y0 == 1:
        floor[x0, y0] = part.area
        return
    if x1 - x0 >= y1 - y0:
        half = (x0 + x1) // 2
        cells = ((x0, half, y0, y1), (half, x1, y0, y1))
    else:
        half = (y0 + y1) // 2
        cells = ((x0, x1, y0, half), (x0, x1, half, y1))
    boxes = [
        (left + a * SQUARE_STEP_MM, low + c * SQUARE_STEP_MM,
         left + b * SQUARE_STEP_MM, low + d * SQUARE_STEP_MM)
        for a, b, c, d in cells
    ]  # fmt: skip
    halves = [shapely.clip_by_rect(part, *box) for box in boxes]
    if abs(_total(halves) - part.area) > LOST_MM2:  # clipping is quick, but may drop a piece
        halves = [shapely.make_valid(part).intersection(shapely.box(*box)) for box in boxes]
    for cell, piece in zip(cells, halves, strict=True):
        _fill(floor, piece, left, low, *cell)


def _by_four(cells: FloatArray) -> FloatArray:
    total: FloatArray = cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]
    return total


def _claims(
    room: Room, chosen: list[Element], plan: LayingPlan, paths: list[LineString]
) -> Iterator[str]:
    area = room.area.area
    if abs(plan.heatable_m2 * 1e6 - area) > 0.005 * area:
        yield f"claims: heatable_m2 is {plan.heatable_m2:g}, measured {area / 1e6:.3f}."
    reach = [s / 2 + COVER_TOLERANCE_MM for s in spacings(chosen, area)]
    warm = covered(room.area, paths, reach).area
    if abs(plan.covered_m2 * 1e6 - warm) > 0.01 * warm:
        yield f"claims: covered_m2 is {plan.covered_m2:g}, measured {warm / 1e6:.3f}."
    rings = [Polygon(ring) for ring in plan.unreached]
    if any(not ring.is_valid for ring in rings):
        yield "claims: an outline of unreached floor crosses itself."
    elif abs(_total(rings) - (area - warm)) > 0.03 * area + 0.02e6:
        yield (
            f"claims: unreached adds up to {_total(rings) / 1e6:.3f} m², "
            f"measured {(area - warm) / 1e6:.3f}."
        )
    if area - warm > 0.03 * area and not any(sentence.strip() for sentence in plan.because):
        yield "claims: more than 3 % stays cold and because is empty."


def _first(line: BaseGeometry) -> FloatArray:
    first: FloatArray = shapely.get_coordinates(line)[0]
    return first


def _total(rings: Iterable[BaseGeometry]) -> float:
    return float(sum(ring.area for ring in rings))


def _apart(one: Point, other: Point) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))


def _at(point: Any) -> str:
    return f"({float(point[0]):.0f} mm, {float(point[1]):.0f} mm)"
