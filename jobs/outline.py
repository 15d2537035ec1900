"""The outline of a room: what a person can tell us about its walls, made into one clean polygon.

Lengths are millimetres, x right, y up; outlines run counter-clockwise and close by themselves.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, isfinite

from shapely import Polygon
from shapely.validation import explain_validity

from config.errors import DomainError

Point = tuple[float, float]

SAME_POINT_MM = 0.01
"""Points nearer than this are one point: finer than any tape, coarser than rounding."""


class UnusableOutline(DomainError):
    """The points given do not bound one floor."""

    slug = "outline-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A simple polygon, counter-clockwise, without repeated or collinear points.

    `notes` are sentences about what was put right on the way.
    """

    points: tuple[Point, ...]
    notes: tuple[str, ...] = ()

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
        notes.append(f"Left out {_count(dropped, 'repeated point')}.")
    if len(apart) < 3:
        raise UnusableOutline("An outline needs at least three different points.", pointer=pointer)
    polygon = Polygon(apart)
    if not polygon.is_valid:
        raise UnusableOutline(_what_is_wrong(polygon), pointer=pointer)
    if not polygon.exterior.is_ccw:
        apart.reverse()
        notes.append("The points ran clockwise and were turned round.")
    corners = [point for at, point in enumerate(apart) if not _straight(apart, at)]
    if dropped := len(apart) - len(corners):
        notes.append(f"Left out {_count(dropped, 'point')} in the middle of a straight wall.")
    if len(corners) < 3:
        raise UnusableOutline("All points lie on one line; no floor inside.", pointer=pointer)
    return Outline(points=tuple(corners), notes=tuple(notes))


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
    if polygon.area == 0:
        return "All points lie on one line; no floor inside."
    place = fault[fault.find("[") + 1 : fault.find("]")].split() if "[" in fault else ()
    where = f" near ({float(place[0]):.0f}, {float(place[1]):.0f})" if len(place) == 2 else ""
    return f"The walls cross or touch each other{where}."


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")
