"""May somebody fasten here? The distance to the nearest recorded cable, and never a bare yes.

Millimetres on the floor plane. A record says where a cable was laid, not that none lies elsewhere.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isfinite, radians, tan
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely import Point as Place

from config.errors import DomainError
from config.sentence import Sentence
from jobs.asbuilt import UNPROVEN_TOLERANCE_MM
from jobs.outline import Point
from jobs.plan_picture import Basis, Language, PlanPicture
from jobs.units import System, feet_inches, grouped
from jobs.wire import nearest_on

Answer = Literal["keep out", "only after locating on site", "no cable recorded"]

CABLE_RADIUS_MM = 4.0
"""Half of the thickest wire or lead in use; common practice, no source."""

LOCATE_WITHIN_MM = 100.0
"""Nearer than this beyond every tolerance, the cable is located first; common practice, no source.
"""

DRILL_LEAN = tan(radians(5))
"""Sideways travel of the tip per millimetre of depth, held by hand; common practice, no source."""

CAUTION: dict[Language, str] = {
    "en": "Not checked: pipes, other wiring, other rooms, and what was changed after this record. "
    "Switch the circuit off and prove it dead.",
    "es": "No comprobado: tuberías, otros cables, otros cuartos y lo que se cambió después de este "
    "registro. Corte el circuito y verifique que no hay tensión.",
}

_SAYS: dict[Language, dict[str, str]] = {
    "en": {
        "keep out": "Keep out. The nearest {what} is {distance} away; the record is true to "
        "±{tolerance}.",
        "near": "Only after locating on site. The nearest {what} is {distance} away; the record "
        "is true to ±{tolerance}.",
        "planned": "Only after locating on site. There is a plan, but no record of where the "
        "cable was laid.",
        "nothing": "Only after locating on site. Nothing is recorded for this floor.",
        "outside": "Only after locating on site. This spot lies outside the recorded floor.",
        "none": "No cable recorded within {clear}.",
        "cable": "cable", "lead": "cold lead", "tube": "sensor tube",
    },
    "es": {
        "keep out": "No perfore aquí. El {what} más cercano está a {distance}; el registro puede "
        "errar ±{tolerance}.",
        "near": "Solo después de localizar en el lugar. El {what} más cercano está a {distance}; "
        "el registro puede errar ±{tolerance}.",
        "planned": "Solo después de localizar en el lugar. Hay un plano, pero ningún registro de "
        "dónde se colocó el cable.",
        "nothing": "Solo después de localizar en el lugar. No hay nada registrado para este piso.",
        "outside": "Solo después de localizar en el lugar. Este punto está fuera del piso "
        "registrado.",
        "none": "Ningún cable registrado a menos de {clear}.",
        "cable": "cable", "lead": "cable frío", "tube": "tubo del sensor",
    },
}  # fmt: skip


class UnusableQuestion(DomainError):
    """A place, depth or drill that no answer can be given for."""

    slug = "clearance-not-answerable"


@dataclass(frozen=True, slots=True, eq=False)
class FloorRecord:
    """What is recorded of one floor, ready to be asked; made by `floor_record`.

    `starts` and `ends` are the legs of everything that must not be hit, (n, 2); `whats` says what
    each leg is.
    """

    outline: Polygon
    starts: NDArray[np.float64]
    ends: NDArray[np.float64]
    whats: tuple[str, ...]
    tolerance_mm: float
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """The answer to one question.

    `distance_mm` runs from the middle of the hole (or from the line) to the middle of the nearest
    cable, None if nothing is recorded. `reach_mm` is what the tolerances together may take away
    of it. `within_mm` is set when no cable is recorded within that distance.
    """

    answer: Answer
    says: str
    distance_mm: float | None
    reach_mm: float
    within_mm: float | None
    nearest: Point | None
    because: tuple[str, ...]
    caution: str


def floor_record(
    outline: Iterable[Sequence[float]],
    *,
    cables: Iterable[Sequence[Sequence[float]]],
    leads: Iterable[Sequence[Sequence[float]]] = (),
    tubes: Iterable[Sequence[Sequence[float]]] = (),
    tolerance_mm: float,
    basis: Basis = "as_laid",
) -> FloorRecord:
    """Return the record of a floor from lists of (x, y): heated wires, cold leads, sensor tubes.

    `tolerance_mm` is how far anything may lie from where it is drawn, 19 times in 20.
    """
    _positive(tolerance_mm=tolerance_mm)
    starts: list[NDArray[np.float64]] = []
    ends: list[NDArray[np.float64]] = []
    whats: list[str] = []
    for what, paths in (("cable", cables), ("lead", leads), ("tube", tubes)):
        for path in paths:
            points = np.asarray(path, dtype=float)
            starts.append(points[:-1])
            ends.append(points[1:])
            whats += [what] * (len(points) - 1)
    none = np.empty((0, 2))
    return FloorRecord(
        outline=Polygon([(x, y) for x, y in outline]),
        starts=np.concatenate(starts) if starts else none,
        ends=np.concatenate(ends) if ends else none,
        whats=tuple(whats),
        tolerance_mm=tolerance_mm,
        basis=basis,
    )


def recorded(picture: PlanPicture) -> FloorRecord:
    """Return the record of a floor from what is drawn of it."""
    return floor_record(
        picture.outline,
        cables=[cable.path for cable in picture.cables],
        leads=[lead for cable in picture.cables for lead in (cable.lead, cable.lead_end) if lead],
        tubes=[picture.sensor_route] if picture.sensor_route else [],
        tolerance_mm=picture.tolerance_mm or UNPROVEN_TOLERANCE_MM,
        basis=picture.basis,
    )


def may_fasten(
    record: FloorRecord,
    where: Sequence[float] | Sequence[Sequence[float]],
    *,
    depth_mm: float,
    drill_mm: float,
    where_u_mm: float = 0.0,
    language: Language = "en",
    system: System = "metric",
) -> Clearance:
    """Answer for a point (x, y) or a line ((x, y), (x, y)).

    `where_u_mm` is how well the asked place itself is known (a fingertip on a plan: 65 mm in a
    3 m room). Depth never makes a place allowed; a deep hole leans, and reaches further.

    Raises UnusableQuestion unless depth and drill are above 0 and the place is finite.
    """
    _positive(depth_mm=depth_mm, drill_mm=drill_mm)
    asked = np.atleast_2d(np.asarray(where, dtype=float))
    if asked.shape not in ((1, 2), (2, 2)) or not np.isfinite(asked).all():
        raise UnusableQuestion("Ask for a point or for a line between two points.", pointer="#/at")
    if not isfinite(where_u_mm) or where_u_mm < 0:
        raise UnusableQuestion("An uncertainty is 0 mm or more.", pointer="#/where_u_mm")
    lean = depth_mm * DRILL_LEAN
    reach = record.tolerance_mm + CABLE_RADIUS_MM + drill_mm / 2 + lean + where_u_mm
    distance, nearest, what = _nearest(record, asked)
    answer, key, within = _judge(record, asked, distance, reach)
    words = _SAYS[language]
    return Clearance(
        answer=answer,
        says=words[key].format(
            what=words[what or "cable"],
            distance=_length(distance or 0.0, system),
            tolerance=_length(record.tolerance_mm, system),
            clear=_length(within or 0.0, system),
        ),
        distance_mm=distance,
        reach_mm=reach,
        within_mm=within,
        nearest=nearest,
        because=(
            Sentence("{mm} mm: how true the record is", mm=f"{record.tolerance_mm:g}"),
            Sentence("{mm} mm: half a cable", mm=f"{CABLE_RADIUS_MM:g}"),
            Sentence("{mm} mm: half the drill", mm=f"{drill_mm / 2:g}"),
            Sentence(
                "{mm} mm: a drill held by hand leans over {depth} mm of depth",
                mm=f"{lean:.1f}",
                depth=f"{depth_mm:g}",
            ),
            Sentence("{mm} mm: how well the asked place is known", mm=f"{where_u_mm:g}"),
            Sentence(
                "{mm} mm beyond all that, the cable is located first", mm=f"{LOCATE_WITHIN_MM:g}"
            ),
        ),
        caution=CAUTION[language],
    )


def _judge(
    record: FloorRecord, asked: NDArray[np.float64], distance: float | None, reach: float
) -> tuple[Answer, str, float | None]:
    if distance is not None and distance <= reach:
        return "keep out", "keep out", None
    place = Place(asked[0]) if len(asked) == 1 else LineString(asked)
    if not record.outline.covers(place):
        return "only after locating on site", "outside", None
    if distance is None:
        return "only after locating on site", "nothing", None
    if record.basis == "planned":
        return "only after locating on site", "planned", None
    if distance <= reach + LOCATE_WITHIN_MM:
        return "only after locating on site", "near", None
    return "no cable recorded", "none", (distance - reach) // 10 * 10


def _nearest(
    record: FloorRecord, asked: NDArray[np.float64]
) -> tuple[float | None, Point | None, str | None]:
    """Distance to the nearest recorded leg, the point on it, and what it is."""
    if not record.whats:
        return None, None, None
    share, distance = nearest_on(record.starts, record.ends, asked[0])
    if len(asked) == 2:
        for other_share, other in _from_line(record, asked):
            nearer = other < distance
            share, distance = np.where(nearer, other_share, share), np.minimum(other, distance)
    leg = int(np.argmin(distance))
    x, y = record.starts[leg] + share[leg] * (record.ends[leg] - record.starts[leg])
    return float(distance[leg]), (float(x), float(y)), record.whats[leg]


def _from_line(
    record: FloorRecord, line: NDArray[np.float64]
) -> Iterable[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Shares and distances of legs from a line: from its far end, from each leg's ends, crossing.

    Two straight pieces that do not cross are nearest at an end of one of them.
    """
    yield nearest_on(record.starts, record.ends, line[1])
    run = line[1] - line[0]
    for at_end, ends in ((0.0, record.starts), (1.0, record.ends)):
        square = max(float(run @ run), 1e-12)
        along = np.clip((ends - line[0]) @ run / square, 0.0, 1.0)
        away = ends - (line[0] + along[:, None] * run)
        yield np.full(len(ends), at_end), np.hypot(away[:, 0], away[:, 1])
    legs = record.ends - record.starts
    across = legs[:, 0] * run[1] - legs[:, 1] * run[0]
    parallel = np.abs(across) < 1e-12
    safe = np.where(parallel, 1.0, across)
    gap = line[0] - record.starts
    on_leg = (gap[:, 0] * run[1] - gap[:, 1] * run[0]) / safe
    on_line = (gap[:, 0] * legs[:, 1] - gap[:, 1] * legs[:, 0]) / safe
    inside = (on_leg >= 0) & (on_leg <= 1) & (on_line >= 0) & (on_line <= 1)
    yield on_leg, np.where(inside & ~parallel, 0.0, np.inf)


def _length(mm: float, system: System) -> str:
    """Distances are rounded down: a record is never said to be clearer than it is."""
    if system == "imperial":
        return feet_inches(mm // 3.175 * 3.175, finest=8)
    return f"{grouped(int(mm))}\N{NO-BREAK SPACE}mm"


def _positive(**figures: float) -> None:
    for name, figure in figures.items():
        if not isfinite(figure) or figure <= 0:
            raise UnusableQuestion(
                f"{name} is {figure:g}; it must be above 0.", pointer=f"#/{name}"
            )
