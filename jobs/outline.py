"""The outline of a room: what a person can tell us about its walls, made into one clean polygon.

Lengths are millimetres, x right, y up; outlines run counter-clockwise and close by themselves.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot, isfinite, log
from typing import Literal, overload

import numpy as np
from shapely import Point as Place
from shapely import Polygon, unary_union
from shapely.geometry.polygon import orient
from shapely.validation import explain_validity

from config.errors import DomainError
from config.sentence import Sentence, word
from jobs.units import MINUS

Point = tuple[float, float]

SAME_POINT_MM = 0.01
"""Points nearer than this are one point: finer than any tape, coarser than rounding."""

CLOSING_SHARE = 0.005
"""Of the perimeter, a closing error that tape and corners explain; common practice, no source."""

CLOSING_LEAST_MM = 10
CLOSING_TURN_DEGREES = 3
"""Degrees by which measured turns may miss a full turn; common practice, no source."""

LIKELY_SIDE_MM = (600, 15_000)
"""Sides of rooms that nobody needs to be asked about."""

LIKELY_SIZE_MM = 3000
MIXED_UNITS = {
    25.4: Sentence("inches"),
    304.8: Sentence("feet"),
    10.0: Sentence("centimetres"),
    1000.0: Sentence("metres"),
}


class UnusableOutline(DomainError):
    """The points given do not bound one floor."""

    slug = "outline-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline(Sequence[Point]):
    """A simple polygon, counter-clockwise, without repeated or collinear points.

    It is the sequence of its corners; `notes` are sentences about what was put right on the way.
    """

    points: tuple[Point, ...]
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.points)

    def __iter__(self) -> Iterator[Point]:
        return iter(self.points)

    @overload
    def __getitem__(self, at: int) -> Point: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Point, ...]: ...
    def __getitem__(self, at: int | slice) -> Point | tuple[Point, ...]:
        return self.points[at]

    @property
    def polygon(self) -> Polygon:
        """The same as a shapely polygon."""
        return Polygon(self.points)

    @property
    def area_m2(self) -> float:
        """Floor inside the walls, in square metres."""
        return float(self.polygon.area) / 1e6

    @property
    def size_mm(self) -> Point:
        """Width and depth of the box around it."""
        left, low, right, high = self.polygon.bounds
        return right - left, high - low


def checked(points: Iterable[Sequence[float]], *, pointer: str = "#/outline") -> Outline:
    """Return `points` as an outline, putting right what can only mean one thing.

    A repeated closing point, repeated and collinear points and a clockwise order are put right
    and noted. Raises UnusableOutline for anything that bounds no floor or more than one.
    """
    given = _finite(points, pointer)
    notes: list[str] = []
    if len(given) > 1 and _same(given[0], given[-1]):
        given = given[:-1]  # a closed ring, as GeoJSON and shapely write it
    apart = [point for at, point in enumerate(given) if not _same(point, given[at - 1])]
    if dropped := len(given) - len(apart):
        notes.append(
            Sentence("Left out 1 repeated point.")
            if dropped == 1
            else Sentence("Left out {count} repeated points.", count=dropped)
        )
    if len(apart) < 3:
        raise UnusableOutline(
            Sentence("An outline needs at least three different points."), pointer=pointer
        )
    polygon = Polygon(apart)
    if not polygon.is_valid:
        raise UnusableOutline(_what_is_wrong(polygon), pointer=pointer)
    if not polygon.exterior.is_ccw:
        apart.reverse()
        notes.append(Sentence("The points ran clockwise and were turned round."))
    corners = [point for at, point in enumerate(apart) if not _straight(apart, at)]
    if dropped := len(apart) - len(corners):
        notes.append(
            Sentence("Left out 1 point in the middle of a straight wall.")
            if dropped == 1
            else Sentence(
                "Left out {count} points in the middle of a straight wall.", count=dropped
            )
        )
    if len(corners) < 3:
        raise UnusableOutline(
            Sentence("All points lie on one line; no floor inside."), pointer=pointer
        )
    return Outline(points=tuple(corners), notes=tuple(notes))


def from_walls(
    walls: Iterable[Sequence[float]], *, closing_limit_mm: float | None = None
) -> Outline:
    """Return the outline that walls read off a tape enclose.

    Each wall is (length in mm, turn in degrees at its end, left positive); the first starts at
    (0, 0) and runs to the right. The turn that leads back into the first wall may be left at 0,
    and so may the first turn, if turns were noted at the beginning of each wall.

    A closing error up to `closing_limit_mm` (by default 0.5 % of the perimeter, at least 10 mm) is
    spread and noted: the turns keep their values and the lengths change least in proportion
    (Crandall's adjustment of a traverse). Raises UnusableOutline if the walls do not close.
    """
    lengths, turns = _tape(walls)
    turns = _closed_turns(turns)
    headings = np.radians(np.concatenate([[0.0], np.cumsum(turns)[:-1]]))
    along = np.stack([np.cos(headings), np.sin(headings)])
    miss = along @ lengths
    error_mm = float(np.hypot(*miss))
    perimeter = float(lengths.sum())
    limit = (
        max(CLOSING_LEAST_MM, CLOSING_SHARE * perimeter)
        if closing_limit_mm is None
        else closing_limit_mm
    )
    if error_mm > limit:
        raise UnusableOutline(
            Sentence(
                "The last wall misses the start by {error} mm; up to {limit} mm could be spread. "
                "Measure the walls again.",
                error=f"{error_mm:.0f}",
                limit=f"{limit:.0f}",
            ),
            pointer="#/walls",
        )
    normal = (along * lengths) @ along.T
    if np.linalg.cond(normal) > 1e9:
        raise UnusableOutline(
            Sentence("All walls run along one line; no floor inside."), pointer="#/walls"
        )
    shift = lengths * (along.T @ np.linalg.solve(normal, miss))
    corners = np.cumsum(along * (lengths - shift), axis=1).T
    # On a tape's tenth of a millimetre: sums of sines would leave square rooms a hair askew.
    outline = checked(np.round([[0.0, 0.0], *corners[:-1].tolist()], 1) + 0.0, pointer="#/walls")
    if error_mm < 0.5:
        return outline
    most = float(np.abs(shift).max())
    note = Sentence(
        "The last wall misses the start by {error} mm; it was spread over the walls, {most} mm on "
        "one wall at most.",
        error=f"{error_mm:.0f}",
        most=f"{most:.0f}",
    )
    return Outline(points=outline.points, notes=(note, *outline.notes))


def traverse(walls: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    """Return the corners of walls as they were read, from (0, 0) to where the tape ended.

    For the picture of walls that do not close; raises UnusableOutline as `from_walls`.
    """
    lengths, turns = _tape(walls)
    headings = np.radians(np.concatenate([[0.0], np.cumsum(turns)[:-1]]))
    legs = np.stack([np.cos(headings), np.sin(headings)]) * lengths
    ends = np.cumsum(legs, axis=1).T
    return ((0.0, 0.0), *((float(x), float(y)) for x, y in ends))


def rectangle(width_mm: float, depth_mm: float) -> Outline:
    """Return a rectangle with its lower left corner at (0, 0)."""
    _sides(width_mm=width_mm, depth_mm=depth_mm)
    return checked([(0, 0), (width_mm, 0), (width_mm, depth_mm), (0, depth_mm)])


def l_shape(
    width_mm: float,
    depth_mm: float,
    *,
    cut_width_mm: float,
    cut_depth_mm: float,
    corner: Literal["upper right", "upper left", "lower left", "lower right"] = "upper right",
) -> Outline:
    """Return a rectangle that lacks a smaller rectangle in one corner."""
    _sides(
        width_mm=width_mm,
        depth_mm=depth_mm,
        cut_width_mm=cut_width_mm,
        cut_depth_mm=cut_depth_mm,
    )
    for cut, side, name, says in (
        (cut_width_mm, width_mm, "width", Sentence("The cut corner is as wide as the room.")),
        (cut_depth_mm, depth_mm, "depth", Sentence("The cut corner is as deep as the room.")),
    ):
        if cut >= side:
            raise UnusableOutline(says, pointer=f"#/cut_{name}")
    points = [
        (0.0, 0.0),
        (width_mm, 0.0),
        (width_mm, depth_mm - cut_depth_mm),
        (width_mm - cut_width_mm, depth_mm - cut_depth_mm),
        (width_mm - cut_width_mm, depth_mm),
        (0.0, depth_mm),
    ]
    if corner.endswith("left"):
        points = [(width_mm - x, y) for x, y in reversed(points)]
    if corner.startswith("lower"):
        points = [(x, depth_mm - y) for x, y in reversed(points)]
    return checked(points)


def joined(outline: Outline, neighbour: Outline, threshold: Iterable[Sequence[float]]) -> Outline:
    """Return the one floor of two heated rooms that meet through an open doorway.

    `threshold` is the floor in the doorway, from one room to the other through the wall. Raises
    UnusableOutline if it does not reach both, or if the rooms overlap.
    """
    doorway = checked(threshold, pointer="#/threshold").polygon
    if outline.polygon.intersection(neighbour.polygon).area > 1:
        raise UnusableOutline("The two rooms lie over each other.", pointer="#/neighbour")
    floor = unary_union([outline.polygon, doorway, neighbour.polygon])
    apart = [room for room in (outline, neighbour) if _shared_mm(room.polygon, doorway) < 1]
    if apart or not isinstance(floor, Polygon) or floor.interiors:
        raise UnusableOutline("The doorway does not reach both rooms.", pointer="#/threshold")
    return checked(orient(floor).exterior.coords, pointer="#/threshold")


def off_wall(points: Sequence[Point], place: Sequence[float], *, what: str) -> Sentence:
    """Say how far from the nearest wall a place lies that belongs on one, and where that is."""
    floor, (x, y) = Polygon(points), place
    walls = floor.exterior
    at = walls.interpolate(walls.project(Place(x, y)))
    figures = {
        "what": word(what),
        "x": _whole(x),
        "y": _whole(y),
        "off": _whole(walls.distance(Place(x, y))),
        "wall_x": _whole(at.x),
        "wall_y": _whole(at.y),
    }
    if floor.covers(Place(x, y)):
        return Sentence(
            "{what} is not on a wall: at {x} mm to the right, {y} mm up it is {off} mm inside the "
            "room. Put it on a wall; the nearest place is {wall_x} mm to the right, "
            "{wall_y} mm up.",
            **figures,
        )
    return Sentence(
        "{what} is not on a wall: at {x} mm to the right, {y} mm up it is {off} mm outside the "
        "room. Put it on a wall; the nearest place is {wall_x} mm to the right, {wall_y} mm up.",
        **figures,
    )


def unit_doubt(outline: Outline) -> str | None:
    """Return a question if the size of a room looks like mixed-up units, else None."""
    least, most = LIKELY_SIDE_MM
    small, large = sorted(outline.size_mm)
    if small >= least and large <= most:
        return None
    size = {"small": _metres(small), "large": _metres(large)}
    asks = [
        (abs(log(small * large * by * by / LIKELY_SIZE_MM**2)), by, question)
        for factor, unit in MIXED_UNITS.items()
        for by, question in (
            (factor, Sentence("Were {unit} meant?", unit=unit)),
            (1 / factor, Sentence("Was it taken as {unit} by mistake?", unit=unit)),
        )
        if least <= small * by and large * by <= most
    ]
    if asks:
        _, by, question = min(asks)
        return Sentence(
            "This room is {small} by {large}. {question} Then it is {then_small} by {then_large}.",
            question=question,
            then_small=_metres(small * by),
            then_large=_metres(large * by),
            **size,
        )
    return Sentence("This room is {small} by {large}. Is that right?", **size)


def _tape(walls: Iterable[Sequence[float]]) -> tuple[np.ndarray, np.ndarray]:
    read = _finite(walls, "#/walls")
    if len(read) < 3:
        raise UnusableOutline(Sentence("A room has at least three walls."), pointer="#/walls")
    for at, (length, turn) in enumerate(read):
        if length <= 0:
            raise UnusableOutline(
                Sentence(
                    "Wall {wall} is {length} mm long; a wall is longer than 0.",
                    wall=at + 1,
                    length=f"{length:g}",
                ),
                pointer=f"#/walls/{at}",
            )
        if abs(turn) >= 180:
            raise UnusableOutline(
                Sentence(
                    "Wall {wall} turns by {turn} degrees; a turn lies between −180 and 180.",
                    wall=at + 1,
                    turn=f"{turn:g}",
                ),
                pointer=f"#/walls/{at}",
            )
    lengths, turns = np.array(read).T
    return lengths, turns


def _closed_turns(turns: np.ndarray) -> np.ndarray:
    """The turns at each wall's end, adding up to exactly one full turn."""
    full = 360.0 if turns.sum() >= 0 else -360.0
    missing = full - turns.sum()
    if abs(missing) > CLOSING_TURN_DEGREES and abs(missing) < 180 and 0 in (turns[0], turns[-1]):
        return np.append(turns[:-1] if turns[-1] == 0 else turns[1:], missing)
    if abs(missing) > CLOSING_TURN_DEGREES:
        raise UnusableOutline(
            Sentence(
                "The turns add up to {sum} degrees; round a room they add up to 360.",
                sum=f"{turns.sum():g}",
            ),
            pointer="#/walls",
        )
    return turns + np.where(turns == 0, 0.0, missing / np.count_nonzero(turns))


def _sides(**sides_mm: float) -> None:
    for name, mm in sides_mm.items():
        if not isfinite(mm) or mm <= 0:
            raise UnusableOutline(
                Sentence("A side of {mm} mm encloses no floor.", mm=f"{mm:g}"), pointer=f"#/{name}"
            )


def _shared_mm(room: Polygon, doorway: Polygon) -> float:
    """How wide a doorway opens into a room."""
    return float(room.buffer(0.5, join_style="mitre").intersection(doorway.exterior).length)


def _metres(mm: float) -> str:
    return f"{mm / 1000:.2f} m" if mm >= 995 else f"{mm:.0f} mm"


def _whole(mm: float) -> str:
    return f"{round(mm)}".replace("-", MINUS)


def _finite(points: Iterable[Sequence[float]], pointer: str) -> list[Point]:
    read: list[Point] = []
    for at, point in enumerate(points):
        try:
            x, y = (float(value) for value in point)
        except (TypeError, ValueError):
            raise UnusableOutline(
                f"Point {at + 1} is not a pair of numbers.", pointer=f"{pointer}/{at}"
            ) from None
        if not (isfinite(x) and isfinite(y)):
            raise UnusableOutline(f"Point {at + 1} is not finite.", pointer=f"{pointer}/{at}")
        read.append((x, y))
    return read


def _same(one: Point, other: Point) -> bool:
    return hypot(one[0] - other[0], one[1] - other[1]) <= SAME_POINT_MM


def _straight(points: Sequence[Point], at: int) -> bool:
    """Whether a wall runs straight on through point `at`."""
    (ax, ay), (bx, by) = points[at - 1], points[at]
    cx, cy = points[(at + 1) % len(points)]
    span = hypot(cx - ax, cy - ay)
    off = abs((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / span if span else hypot(bx, by)
    return off <= SAME_POINT_MM


def _what_is_wrong(polygon: Polygon) -> str:
    fault = explain_validity(polygon)
    if polygon.convex_hull.area == 0:
        return Sentence("All points lie on one line; no floor inside.")
    place = fault[fault.find("[") + 1 : fault.find("]")].split() if "[" in fault else ()
    if len(place) != 2:
        return Sentence("The walls cross or touch each other.")
    x, y = (_whole(float(value)) for value in place)
    return Sentence(
        "The walls cross or touch each other near {x} mm to the right, {y} mm up.", x=x, y=y
    )
