"""What a plan drawing shows, seen from the door, and the same in words.

Rooms are in millimetres as stored; what is shown is turned so that the door is at the bottom, and
measured from the corner left of the door: to the right, into the room.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, cos, hypot, sin
from typing import Literal

from shapely import LineString, Polygon
from shapely import Point as Place

from jobs.outline import Point
from jobs.units import (
    NO_BREAK,
    System,
    grouped,
    in_units,
    shown_area,
    shown_dimension,
    shown_length,
)
from jobs.wire import FaultSpot, runs, wire

Language = Literal["en", "es"]
Basis = Literal["as_laid", "planned"]

COLD_WORTH_TELLING_MM2 = 10_000.0
"""A foot does not feel a smaller cold patch, and 0.01 m² is what an area is shown to."""

WORDS: dict[Language, dict[str, str]] = {
    "en": {
        "splice": "Splice, start of heat",
        "splice_of": "Splice of {name}, start of heat",
        "end": "End of the cable",
        "end_of": "End of {name}",
        "sensor": "Floor sensor",
        "control": "Control, in the wall",
        "joint": "Joint in the cable",
        "keep_out": "no heat",
        "door": "door",
        "wall": "Wall",
        "run": "Run",
        "cold": "Floor that stays cold",
        "expansion": "Expansion joint",
        "doorway": "Open doorway to a heated room",
        "fault": "Fault likely {at} from the splice ({low} to {high})",
        "fault_or": "or at {others}",
        "asked": "The place asked about",
        "from_door": "from the corner left of the door: to the right, into the room",
        "from_corner": "from the lower left corner: to the right, up",
        "as_laid": "Heating cable as laid, true to ±{tolerance}",
        "planned": "Heating cable as planned",
        "no_cable": "No cable drawn",
        "keeps": "{count} without heat",
        "legend_band": "Thick line: cable, with its tolerance.",
        "legend_cable": "Thick line: cable.",
        "legend_lead": "Dashes: cold lead.",
        "legend_tube": "Dots: sensor tube.",
        "legend_keep": "Hatch: no heat under here.",
        "legend_expansion": "Long dashes: expansion joint.",
        "legend_doorway": "Dashed gap in a wall: open doorway to a heated room.",
        "legend_fault": "Cross and band: where the fault is likely.",
        "legend_scale": "Scale 1:{scale}.",
        "fixture": "Fixture", "toilet": "Toilet", "drain": "Drain", "vent": "Vent",
        "built_in": "Built-in", "door_swing": "Door swing", "other": "Keep-out",
    },
    "es": {
        "splice": "Empalme, inicio del calor",
        "splice_of": "Empalme de {name}, inicio del calor",
        "end": "Fin del cable",
        "end_of": "Fin de {name}",
        "sensor": "Sensor de piso",
        "control": "Control, en la pared",
        "joint": "Unión en el cable",
        "keep_out": "sin calor",
        "door": "puerta",
        "wall": "Pared",
        "run": "Tramo",
        "cold": "Piso que queda frío",
        "expansion": "Junta de dilatación",
        "doorway": "Vano abierto a un cuarto con calefacción",
        "fault": "Falla probable a {at} del empalme ({low} a {high})",
        "fault_or": "o en {others}",
        "asked": "El lugar consultado",
        "from_door": "desde la esquina a la izquierda de la puerta: a la derecha, hacia adentro",
        "from_corner": "desde la esquina inferior izquierda: a la derecha, hacia arriba",
        "as_laid": "Cable calefactor como se colocó, puede errar ±{tolerance}",
        "planned": "Cable calefactor según el plano",
        "no_cable": "Sin cable dibujado",
        "keeps": "{count} sin calor",
        "legend_band": "Línea gruesa: cable, con su tolerancia.",
        "legend_cable": "Línea gruesa: cable.",
        "legend_lead": "Rayas: cable frío.",
        "legend_tube": "Puntos: tubo del sensor.",
        "legend_keep": "Rayado: sin calor debajo.",
        "legend_expansion": "Rayas largas: junta de dilatación.",
        "legend_doorway": "Hueco con rayas en una pared: vano abierto a un cuarto con calefacción.",
        "legend_fault": "Cruz y banda: donde la falla es probable.",
        "legend_scale": "Escala 1:{scale}.",
        "fixture": "Mueble fijo", "toilet": "Inodoro", "drain": "Desagüe", "vent": "Rejilla",
        "built_in": "Empotrado", "door_swing": "Giro de la puerta", "other": "Zona excluida",
    },
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnKeepOut:
    """A shape without heat; `name` is what people call it, else its kind is said."""

    outline: Sequence[Point]
    kind: str = "other"
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnCable:
    """One element's wire from splice to end, and its leads from the control.

    `chainage_mm` is that of the wire as laid, else it is the length along the path. `joints` are
    repair joints. `name` is said where there are several.
    """

    path: Sequence[Point]
    chainage_mm: Sequence[float] | None = None
    lead: Sequence[Point] = ()
    lead_end: Sequence[Point] = ()
    joints: Sequence[Point] = ()
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPicture:
    """One room as it is to be drawn. `door` is the gap that it is seen from, if known.

    `doorways` are stretches of wall that stand open to a heated neighbour.
    """

    name: str
    outline: Sequence[Point]
    door: tuple[Point, Point] | None = None
    doorways: Sequence[Sequence[Point]] = ()
    keep_outs: Sequence[DrawnKeepOut] = ()
    expansion_joints: Sequence[Sequence[Point]] = ()
    cables: Sequence[DrawnCable] = ()
    sensor: Point | None = None
    sensor_route: Sequence[Point] = ()
    control: Point | None = None
    unreached: Sequence[Sequence[Point]] = ()
    basis: Basis = "as_laid"
    tolerance_mm: float | None = None
    faults: Sequence[FaultSpot] = ()
    asked: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A lettered point of the drawing, in the room's own coordinates."""

    letter: str
    kind: Literal["splice", "end", "sensor", "control", "joint"]
    at: Point
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """A line of the table beside a drawing. mm as seen from the door; `right` and `into` shown."""

    mark: str
    what: str
    right_mm: tuple[float, float]
    into_mm: tuple[float, float]
    right: str
    into: str


@dataclass(frozen=True, slots=True)
class View:
    """The room as seen from its door: x to the right, y into the room, mm."""

    origin: Point
    heading: float
    from_door: bool

    def seen(self, point: Sequence[float]) -> Point:
        """Turn a point of the room into what is seen."""
        x, y = point[0] - self.origin[0], point[1] - self.origin[1]
        c, s = cos(self.heading), sin(self.heading)
        return x * c + y * s, y * c - x * s

    def stored(self, point: Sequence[float]) -> Point:
        """Turn what is seen back into a point of the room."""
        x, y = point
        c, s = cos(self.heading), sin(self.heading)
        return self.origin[0] + x * c - y * s, self.origin[1] + x * s + y * c


def view(picture: PlanPicture) -> View:
    """Return the view from the door; without one, from the lower left corner, not turned."""
    outline = list(picture.outline)
    if picture.door is None:
        xs, ys = zip(*outline, strict=True)
        return View((min(xs), min(ys)), 0.0, from_door=False)
    middle = Place(*(sum(pair) / 2 for pair in zip(*picture.door, strict=True)))
    walls = [(outline[at - 1], outline[at]) for at in range(len(outline))]
    left, right = min(walls, key=lambda wall: LineString(wall).distance(middle))
    return View(left, atan2(right[1] - left[1], right[0] - left[0]), from_door=True)


def marks(picture: PlanPicture, language: Language = "en") -> tuple[Mark, ...]:
    """Return the lettered points: A splice, B end, C sensor, D control; numbered if several."""
    words = WORDS[language]
    found = []
    several = len(picture.cables) > 1
    for at, cable in enumerate(picture.cables):
        suffix = str(at + 1) if several else ""
        for letter, kind, place in (("A", "splice", cable.path[0]), ("B", "end", cable.path[-1])):
            what = words[f"{kind}_of"].format(name=cable.name) if cable.name else words[kind]
            found.append(Mark(letter=letter + suffix, kind=kind, at=place, what=what))  # type: ignore[arg-type]
    if picture.sensor is not None:
        found.append(Mark(letter="C", kind="sensor", at=picture.sensor, what=words["sensor"]))
    if picture.control is not None:
        found.append(Mark(letter="D", kind="control", at=picture.control, what=words["control"]))
    joints = [joint for cable in picture.cables for joint in cable.joints]
    for at, place in enumerate(joints):
        letter = f"J{at + 1}" if len(joints) > 1 else "J"
        found.append(Mark(letter=letter, kind="joint", at=place, what=words["joint"]))
    return tuple(found)


def points(
    picture: PlanPicture, *, language: Language = "en", system: System = "metric"
) -> tuple[PlanRow, ...]:
    """Return a row for each marked point, keep-out, fault, asked place and cold floor."""
    words = WORDS[language]
    seen = view(picture)
    rows = [
        _row(mark.letter, mark.what, [mark.at], seen, system) for mark in marks(picture, language)
    ]
    for at, keep_out in enumerate(picture.keep_outs):
        name = keep_out.name or words[keep_out.kind]
        what = f"{name}, {words['keep_out']}"
        rows.append(_row(str(at + 1), what, keep_out.outline, seen, system))
    for joint in picture.expansion_joints:
        rows.append(_row("", words["expansion"], joint, seen, system))
    for opening in picture.doorways:
        rows.append(_row("", words["doorway"], opening, seen, system))
    for spot in picture.faults:
        rows.append(_row(spot.label, _fault(spot, words, system), [spot.at], seen, system))
    for ring in picture.unreached:
        if Polygon(ring).area < COLD_WORTH_TELLING_MM2:
            continue
        what = f"{words['cold']}, {shown_area(Polygon(ring).area / 1e6, system)}"
        rows.append(_row("", what, ring, seen, system))
    if picture.asked is not None:
        rows.append(_row("+", words["asked"], [picture.asked], seen, system))
    return tuple(rows)


def walls(
    picture: PlanPicture, *, language: Language = "en", system: System = "metric"
) -> tuple[PlanRow, ...]:
    """Return a row for each wall with its length, beginning at the wall of the door."""
    words = WORDS[language]
    seen = view(picture)
    corners = list(picture.outline)
    first = min(range(len(corners)), key=lambda at: hypot(*seen.seen(corners[at])))
    corners = corners[first:] + corners[:first]
    return tuple(
        _row(
            "",
            f"{words['wall']} {at + 1}, "
            f"{shown_length(hypot(end[0] - start[0], end[1] - start[1]), system)}",
            [start, end],
            seen,
            system,
        )
        for at, (start, end) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True))
    )


def cable_runs(
    picture: PlanPicture, *, language: Language = "en", system: System = "metric"
) -> tuple[PlanRow, ...]:
    """Return a row for each straight run of cable, with the metres of wire that lie in it."""
    words = WORDS[language]
    seen = view(picture)
    rows = []
    for at, cable in enumerate(picture.cables):
        prefix = f"{at + 1}." if len(picture.cables) > 1 else ""
        for run in runs(wire(cable.path, cable.chainage_mm)):
            metres = f"{run.from_mm / 1000:.2f} – {run.to_mm / 1000:.2f}{NO_BREAK}m"
            mark = f"{prefix}{run.number}"
            what = f"{words['run']} {mark}, {in_units(metres, system)}"
            rows.append(_row(mark, what, [run.start, run.end], seen, system))
    return tuple(rows)


def size_mm(picture: PlanPicture) -> Point:
    """Return width and depth of the room as seen from the door."""
    xs, ys = zip(*map(view(picture).seen, picture.outline), strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def title(picture: PlanPicture, *, language: Language = "en", system: System = "metric") -> str:
    """Return the sentence that stands for the drawing: room, size, what is shown."""
    words = WORDS[language]
    width, depth = (shown_dimension(mm, system) for mm in size_mm(picture))
    said = [f"{picture.name}, {width} × {depth}"]
    if not picture.cables:
        said.append(words["no_cable"])
    elif picture.basis == "as_laid" and picture.tolerance_mm:
        tolerance = shown_length(picture.tolerance_mm, system)
        said.append(words["as_laid"].format(tolerance=tolerance))
    else:
        said.append(words["planned"])
    if picture.keep_outs:
        said.append(words["keeps"].format(count=len(picture.keep_outs)))
    for spot in picture.faults:
        said.append(f"{spot.label}: {_fault(spot, words, system)}")
    return ". ".join(said) + "."


def _fault(spot: FaultSpot, words: Mapping[str, str], system: System) -> str:
    at, high = (f"{mm / 1000:.1f}{NO_BREAK}m" for mm in (spot.chainage_mm, spot.to_mm))
    said = words["fault"].format(at=at, low=f"{spot.from_mm / 1000:.1f}", high=high)
    other = words["fault_or"].format(others=", ".join(spot.others))
    return in_units(f"{said}; {other}" if spot.others else said, system)


def caption(picture: PlanPicture, *, language: Language = "en", scale: int | None = None) -> str:
    """Return the legend in words, of what is really drawn."""
    words = WORDS[language]
    said = []
    if picture.cables:
        said.append(words["legend_band" if picture.tolerance_mm else "legend_cable"])
    if any(cable.lead for cable in picture.cables):
        said.append(words["legend_lead"])
    if picture.sensor_route:
        said.append(words["legend_tube"])
    if picture.keep_outs:
        said.append(words["legend_keep"])
    if picture.expansion_joints:
        said.append(words["legend_expansion"])
    if picture.doorways:
        said.append(words["legend_doorway"])
    if picture.faults:
        said.append(words["legend_fault"])
    if scale:
        said.append(words["legend_scale"].format(scale=scale))
    return " ".join(said)


def measured_from(picture: PlanPicture, language: Language = "en") -> str:
    """Return where the table's distances start."""
    return WORDS[language]["from_door" if picture.door else "from_corner"]


def _row(mark: str, what: str, shape: Sequence[Point], seen: View, system: System) -> PlanRow:
    xs, ys = zip(*map(seen.seen, shape), strict=True)
    right, into = (min(xs), max(xs)), (min(ys), max(ys))
    return PlanRow(
        mark=mark,
        what=what,
        right_mm=right,
        into_mm=into,
        right=_range(*right, system),
        into=_range(*into, system),
    )


def _range(low: float, high: float, system: System) -> str:
    """A bare figure in millimetres (the table's head says so), or feet and inches."""
    if system == "imperial":
        ends = (shown_length(low, system), shown_length(high, system))
    else:
        ends = (grouped(low), grouped(high))
    return ends[0] if high - low < 1 else " – ".join(ends)
