"""From a plan to what was really laid: the changes on site, how true they are, what differs.

Millimetres on the floor plane. When a run is moved, every metre keeps its place on the wire: what
was 12.40 m from the splice stays 12.40 m from it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from config.errors import DomainError
from config.sentence import Sentence
from jobs.outline import Point
from jobs.wire import Wire, chainage_at, point_at, runs, wire

TAPE_TOLERANCE_MM = 30.0
"""What two tape distances by hand are true to; common practice, no source."""

UNPROVEN_TOLERANCE_MM = 100.0
"""For what nobody measured, drawn as planned; common practice, no source."""

LEAST_TOLERANCE_MM = 10.0
"""No record of a cable is truer than the cable and its turns; common practice, no source."""

NOTICED_MM = 10.0
"""What differs less from the plan is not listed."""

STRETCH_SHARE = 0.01
"""By which a wire may seem longer or shorter on the drawing before it is asked about."""

PartKind = Literal["splice", "end", "sensor", "control", "joint"]


class UnusableChange(DomainError):
    """A change on site that the plan cannot take."""

    slug = "change-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedRun:
    """Run `number` (from 1 at the splice) of element `element` lies this far from the plan."""

    element: int
    number: int
    by_mm: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPart:
    """A part lies at `at`. A splice or end takes the first or last run's end with it."""

    kind: PartKind
    at: Point
    element: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class AsLaid:
    """What lies in the floor. `wires` carry the chainage of the plan, `joints` are by element."""

    wires: tuple[Wire, ...]
    sensor: Point | None
    control: Point | None
    joints: tuple[tuple[Point, ...], ...]
    tolerance_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that lies elsewhere than planned, by `mm`."""

    what: str
    mm: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoScale:
    """How a photograph maps to the floor: a 3 x 3 homography, and how true it is.

    `residual_mm` is the root mean square miss of the scale points, None if they leave nothing
    over to check by.
    """

    matrix: NDArray[np.float64]
    residual_mm: float | None
    tolerance_mm: float
    because: str


def as_planned(wires: Iterable[Wire], *, sensor: Point | None, control: Point | None) -> AsLaid:
    """Return a plan as if laid so, with the tolerance of what nobody measured."""
    laid = tuple(wires)
    return AsLaid(
        wires=laid,
        sensor=sensor,
        control=control,
        joints=((),) * len(laid),
        tolerance_mm=UNPROVEN_TOLERANCE_MM,
    )


def changed(
    planned: AsLaid, changes: Sequence[MovedRun | MovedPart], *, tolerance_mm: float
) -> AsLaid:
    """Return what lies in the floor after the changes on site, true to `tolerance_mm`.

    The turns beside a moved run follow it halfway. Raises UnusableChange for an element or run
    that is not there, a joint off the wire, or a tolerance that no record has.
    """
    if not isfinite(tolerance_mm) or tolerance_mm < LEAST_TOLERANCE_MM:
        raise UnusableChange(
            Sentence("No record of a cable is truer than ±{mm} mm.", mm=f"{LEAST_TOLERANCE_MM:g}"),
            pointer="#/tolerance_mm",
        )
    laid = replace(planned, tolerance_mm=tolerance_mm)
    for at, change in enumerate(changes):
        pointer = f"#/changes/{at}"
        if isinstance(change, MovedRun):
            laid = _with_run(laid, change, pointer)
        else:
            laid = _with_part(laid, change, pointer)
    return laid


def read_plan(plan: Mapping[str, Any], *, control: Point | None, tolerance_mm: float) -> AsLaid:
    """Return what a stored plan says of where things lie.

    A plan has the shape of `jobs.laying.plan`; one that was laid has `chainage_mm` and `joints` in
    its elements. Raises UnusableWire.
    """
    sensor = plan.get("sensor")
    elements = plan["elements"]
    return AsLaid(
        wires=tuple(wire(one["path"], one.get("chainage_mm")) for one in elements),
        sensor=None if sensor is None else (sensor[0], sensor[1]),
        control=control,
        joints=tuple(tuple((x, y) for x, y in one.get("joints", ())) for one in elements),
        tolerance_mm=tolerance_mm,
    )


def write_plan(plan: Mapping[str, Any], laid: AsLaid) -> dict[str, Any]:
    """Return `plan` with its wires, sensor and joints as laid; leads and tube follow their ends."""
    elements = []
    for given, now, joints in zip(plan["elements"], laid.wires, laid.joints, strict=True):
        path = [[round(x, 2), round(y, 2)] for x, y in now.points]
        element = {
            **given,
            "path": path,
            "chainage_mm": [round(mm, 2) for mm in now.chainage_mm],
            "joints": [[round(x, 2), round(y, 2)] for x, y in joints],
            "splice": path[0],
            "end": path[-1],
        }
        for lead, end in (("lead", path[0]), ("lead_end", path[-1])):
            if given.get(lead):
                element[lead] = _between(given[lead], laid.control, end)
        elements.append(element)
    written = {**plan, "elements": elements}
    if laid.sensor is not None:
        written["sensor"] = list(laid.sensor)
        written["sensor_route"] = _between(plan.get("sensor_route", ()), laid.control, laid.sensor)
    return written


def differences(planned: AsLaid, laid: AsLaid) -> tuple[Difference, ...]:
    """Return what lies elsewhere than planned, farthest first, and wire that cannot be right."""
    found = []
    for at, (plan, now) in enumerate(zip(planned.wires, laid.wires, strict=True)):
        name = f"element {at + 1}, " if len(laid.wires) > 1 else ""
        found += _moved_runs(plan, now, name)
        found += _moved(f"{name}splice", plan.points[0], now.points[0])
        found += _moved(f"{name}end", plan.points[-1], now.points[-1])
        found += _stretched(now, name)
    found += _moved("sensor", planned.sensor, laid.sensor)
    found += _moved("control", planned.control, laid.control)
    for at, joints in enumerate(laid.joints):
        new = [joint for joint in joints if joint not in planned.joints[at]]
        for joint in new:
            chainage, _ = chainage_at(laid.wires[at], joint)
            says = Sentence(
                "A joint lies {at} m from the splice; the plan has none there.",
                at=f"{chainage / 1000:.2f}",
            )
            found.append(Difference(what="joint", mm=0.0, says=says))
    return tuple(sorted(found, key=lambda difference: -difference.mm))


def scale_pairs(points: Iterable[Mapping[str, Sequence[float]]]) -> list[tuple[Point, Point]]:
    """Return (pixel, floor mm) pairs from points as they are sent and stored."""
    return [
        ((one["pixel"][0], one["pixel"][1]), (one["floor_mm"][0], one["floor_mm"][1]))
        for one in points
    ]


def photo_scale(pairs: Sequence[tuple[Point, Point]]) -> PhotoScale:
    """Return how a photo maps to the floor from (pixel, floor mm) pairs of at least 4 points.

    A homography by the normalised direct linear transform: right for a flat floor seen from any
    side by a lens without bend. With 4 points nothing is left over to check by, and the tolerance
    is that of an unmeasured plan; from 5 on it is twice the residual's standard deviation.
    Raises UnusableChange for fewer points, or points on a line.

    Source: Hartley and Zisserman, Multiple View Geometry, 4.1 and 4.4 (from memory).
    """
    if len(pairs) < 4:
        raise UnusableChange(
            Sentence("Mark at least 4 points of known place."), pointer="#/scale_points"
        )
    pixels = np.array([pixel for pixel, _ in pairs], dtype=float)
    floor = np.array([place for _, place in pairs], dtype=float)
    if not (np.isfinite(pixels).all() and np.isfinite(floor).all()):
        raise UnusableChange("A scale point is two finite numbers.", pointer="#/scale_points")
    into, back = _centred(pixels), _centred(floor)
    rows = []
    for (u, v, _), (x, y, _) in zip(
        _homogeneous(pixels) @ into.T, _homogeneous(floor) @ back.T, strict=True
    ):
        rows.append([-u, -v, -1, 0, 0, 0, x * u, x * v, x])
        rows.append([0, 0, 0, -u, -v, -1, y * u, y * v, y])
    _, weights, basis = np.linalg.svd(np.array(rows))
    if weights[7] < 1e-6 * weights[0]:
        raise UnusableChange(
            Sentence("The scale points lie on one line; mark some beside it."),
            pointer="#/scale_points",
        )
    matrix = np.linalg.inv(back) @ basis[-1].reshape(3, 3) @ into
    matrix = matrix / matrix[2, 2]
    misses = floor - np.array([on_floor(matrix, pixel) for pixel in pixels])
    spare = 2 * len(pairs) - 8
    if spare == 0:
        return PhotoScale(
            matrix=matrix,
            residual_mm=None,
            tolerance_mm=UNPROVEN_TOLERANCE_MM,
            because=Sentence("Four points leave nothing to check by; mark a fifth."),
        )
    residual = float(np.sqrt((misses**2).sum() / len(pairs)))
    spread = float(np.sqrt((misses**2).sum() / spare))  # of one coordinate
    tolerance = max(LEAST_TOLERANCE_MM, 2 * spread * np.sqrt(2))
    return PhotoScale(
        matrix=matrix,
        residual_mm=residual,
        tolerance_mm=float(tolerance),
        because=Sentence(
            "{count} points miss by {mm} mm in the mean.",
            count=len(pairs),
            mm=f"{residual:.0f}",
        ),
    )


def on_floor(matrix: NDArray[np.float64], pixel: Sequence[float]) -> Point:
    """Return the place on the floor of a pixel of the photo."""
    x, y, w = matrix @ np.array([pixel[0], pixel[1], 1.0])
    return float(x / w), float(y / w)


def _between(
    route: Sequence[Sequence[float]], control: Point | None, end: Sequence[float]
) -> list[list[float]]:
    """A route from the control to its end, both where they lie now."""
    start = list(control) if control else list(route[0]) if route else list(end)
    return [start, *(list(point) for point in route[1:-1]), list(end)]


def _with_run(laid: AsLaid, change: MovedRun, pointer: str) -> AsLaid:
    now = _wire(laid, change.element, pointer)
    found = runs(now)
    if not 1 <= change.number <= len(found):
        raise UnusableChange(
            f"There is no run {change.number}; this wire has {len(found)}.",
            pointer=f"{pointer}/number",
        )
    run = found[change.number - 1]
    before = found[change.number - 2].to_mm if change.number > 1 else 0.0
    after = found[change.number].from_mm if change.number < len(found) else now.length_mm
    dx, dy = change.by_mm
    moved = []
    for (x, y), chainage in zip(now.points, now.chainage_mm, strict=True):
        share = float(
            np.interp(
                chainage,
                [before - 1e-9, run.from_mm, run.to_mm, after + 1e-9],
                [0.0 if change.number > 1 else 1.0, 1.0, 1.0,
                 0.0 if change.number < len(found) else 1.0],
            )
        )  # fmt: skip
        moved.append((x + share * dx, y + share * dy))
    return _put(laid, change.element, wire(moved, now.chainage_mm))


def _with_part(laid: AsLaid, change: MovedPart, pointer: str) -> AsLaid:
    if not all(isfinite(value) for value in change.at):
        raise UnusableChange("A place is two finite numbers.", pointer=f"{pointer}/at")
    match change.kind:
        case "sensor":
            return replace(laid, sensor=change.at)
        case "control":
            return replace(laid, control=change.at)
        case "joint":
            now = _wire(laid, change.element, pointer)
            _, distance = chainage_at(now, change.at)
            if distance > laid.tolerance_mm:
                raise UnusableChange(
                    Sentence(
                        "The nearest wire is {distance} mm from this joint; the record is true to "
                        "±{tolerance} mm. Move the run first.",
                        distance=f"{distance:.0f}",
                        tolerance=f"{laid.tolerance_mm:g}",
                    ),
                    pointer=f"{pointer}/at",
                )
            joints = list(laid.joints)
            joints[change.element] = (*joints[change.element], change.at)
            return replace(laid, joints=tuple(joints))
        case "splice" | "end":
            now = _wire(laid, change.element, pointer)
            points = list(now.points)
            points[0 if change.kind == "splice" else -1] = change.at
            return _put(laid, change.element, wire(points, now.chainage_mm))


def _wire(laid: AsLaid, element: int, pointer: str) -> Wire:
    if not 0 <= element < len(laid.wires):
        raise UnusableChange("There is no such element.", pointer=f"{pointer}/element")
    return laid.wires[element]


def _put(laid: AsLaid, element: int, now: Wire) -> AsLaid:
    wires = list(laid.wires)
    wires[element] = now
    return replace(laid, wires=tuple(wires))


def _moved_runs(plan: Wire, now: Wire, name: str) -> list[Difference]:
    """Runs of the plan whose wire lies elsewhere, told by how far its middle moved."""
    found = []
    for run in runs(plan):
        middle = (run.from_mm + run.to_mm) / 2
        was, lies = point_at(plan, middle), point_at(now, middle)
        found += _moved(f"{name}run {run.number}", was, lies)
    return found


def _moved(what: str, was: Point | None, lies: Point | None) -> list[Difference]:
    if was is None or lies is None:
        return []
    mm = hypot(lies[0] - was[0], lies[1] - was[1])
    if mm < NOTICED_MM:
        return []
    says = Sentence("{what} lies {mm} mm from the plan.", what=_named(what), mm=f"{mm:.0f}")
    return [Difference(what=what, mm=mm, says=says)]


def _named(what: str) -> Sentence:
    """A part of the floor as a sentence begins with it: `Run 2`, `Element 1, splice`."""
    *element, part = what.split(", ")
    kind, _, number = part.partition(" ")
    names = {
        "run": Sentence("run {number}", number=number),
        "splice": Sentence("splice"),
        "end": Sentence("end"),
        "sensor": Sentence("sensor"),
        "control": Sentence("control"),
    }
    if element:
        return Sentence("Element {number}, {part}", number=element[0].split()[1], part=names[kind])
    return {
        "run": Sentence("Run {number}", number=number),
        "splice": Sentence("Splice"),
        "end": Sentence("End"),
        "sensor": Sentence("Sensor"),
        "control": Sentence("Control"),
    }[kind]


def _stretched(now: Wire, name: str) -> list[Difference]:
    """A drawn wire that is longer or shorter than the wire: something was moved wrongly."""
    drawn = LineString(now.points).length
    off = drawn - now.length_mm
    if abs(off) <= STRETCH_SHARE * now.length_mm:
        return []
    figures = {"name": name or "", "m": f"{abs(off) / 1000:.2f}"}
    says = (
        Sentence(
            "Drawn like this, {name}the wire is {m} m longer than the wire there is. Is another "
            "run moved too?",
            **figures,
        )
        if off > 0
        else Sentence(
            "Drawn like this, {name}the wire is {m} m shorter than the wire there is. Is another "
            "run moved too?",
            **figures,
        )
    )
    return [Difference(what=f"{name}wire", mm=abs(off), says=says)]


def _centred(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The transform that moves points to their middle and scales them to about 1."""
    middle = points.mean(axis=0)
    size = float(np.hypot(*(points - middle).T).mean())
    if size == 0:
        raise UnusableChange("All scale points are one point.", pointer="#/scale_points")
    scale = np.sqrt(2) / size
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1.0]])


def _homogeneous(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([points, np.ones(len(points))])
