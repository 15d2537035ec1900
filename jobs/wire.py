"""A wire on the floor: which metre of it lies where, both ways.

Points are millimetres on the floor plane. Chainage is length of wire from the splice, in
millimetres; in a plan it is the length along the path, in an as-laid record it stays with the
wire when a run is moved.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import count, pairwise
from math import atan2, hypot, isfinite, pi

import numpy as np
from numpy.typing import NDArray

from config.errors import DomainError
from jobs.outline import Point

STRAIGHT_TURN = 0.02
"""Radians by which the legs of one run may turn: written points are rounded."""

LEAST_RUN_MM = 150.0
"""What is shorter is part of a turn, not a run."""


class UnusableWire(DomainError):
    """Points or chainages that describe no wire."""

    slug = "wire-not-usable"


@dataclass(frozen=True, slots=True)
class Wire:
    """Points in the order of the wire, each with its chainage, which rises from 0."""

    points: tuple[Point, ...]
    chainage_mm: tuple[float, ...]

    @property
    def length_mm(self) -> float:
        """Wire from splice to end."""
        return self.chainage_mm[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A straight stretch of wire between two turns, counted from 1 at the splice."""

    number: int
    start: Point
    end: Point
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultSpot:
    """Where a fault is likely: the place, and the stretch of wire in which it lies.

    `others` are the labels of the other candidates, if there are several for the same fault.
    """

    label: str
    at: Point
    chainage_mm: float
    from_mm: float
    to_mm: float
    band: tuple[Point, ...]
    others: tuple[str, ...] = ()


def wire(points: Iterable[Sequence[float]], chainage_mm: Sequence[float] | None = None) -> Wire:
    """Return a wire; without `chainage_mm` it is the length along the points.

    Raises UnusableWire for fewer than two points, a repeated one, or a chainage that does not
    rise from 0 with one value for each point.
    """
    path = tuple((float(x), float(y)) for x, y in points)
    if len(path) < 2:
        raise UnusableWire("A wire has at least two points.", pointer="#/path")
    legs = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(path)]
    if not all(isfinite(leg) and leg > 0 for leg in legs):
        raise UnusableWire("A wire has no repeated and no endless points.", pointer="#/path")
    if chainage_mm is None:
        return Wire(path, (0.0, *np.cumsum(legs).tolist()))
    given = tuple(float(value) for value in chainage_mm)
    rises = all(a < b for a, b in pairwise(given))
    if len(given) != len(path) or given[0] != 0 or not rises:
        raise UnusableWire(
            "Chainage rises from 0, with one value for each point.", pointer="#/chainage_mm"
        )
    return Wire(path, given)


def point_at(laid: Wire, chainage_mm: float) -> Point:
    """Return where a metre of the wire lies. Raises UnusableWire if the wire has no such metre."""
    if not 0 <= chainage_mm <= laid.length_mm:
        raise UnusableWire(
            f"{chainage_mm:.0f} mm lies beyond this wire of {laid.length_mm:.0f} mm.",
            pointer="#/chainage_mm",
        )
    x, y = zip(*laid.points, strict=True)
    return (
        float(np.interp(chainage_mm, laid.chainage_mm, x)),
        float(np.interp(chainage_mm, laid.chainage_mm, y)),
    )


def chainage_at(laid: Wire, point: Sequence[float]) -> tuple[float, float]:
    """Return the chainage of the wire nearest to `point`, and its distance in millimetres."""
    path = np.array(laid.points)
    share, distance = nearest_on(path[:-1], path[1:], np.array(point, dtype=float))
    leg = int(np.argmin(distance))
    start, end = laid.chainage_mm[leg], laid.chainage_mm[leg + 1]
    return start + float(share[leg]) * (end - start), float(distance[leg])


def stretch(laid: Wire, from_mm: float, to_mm: float) -> tuple[Point, ...]:
    """Return the points of the wire between two chainages, both ends included."""
    between = [
        point
        for point, chainage in zip(laid.points, laid.chainage_mm, strict=True)
        if from_mm < chainage < to_mm
    ]
    return (point_at(laid, from_mm), *between, point_at(laid, to_mm))


def runs(laid: Wire, *, least_mm: float = LEAST_RUN_MM) -> tuple[Run, ...]:
    """Return the straight runs of at least `least_mm`, in the order of the wire."""
    found: list[Run] = []
    start = 0
    points, chainage = laid.points, laid.chainage_mm
    for at in range(1, len(points)):
        last = at == len(points) - 1
        if not last and abs(_turn(points, at)) <= STRAIGHT_TURN:
            continue
        if chainage[at] - chainage[start] >= least_mm:
            found.append(
                Run(
                    number=len(found) + 1,
                    start=points[start],
                    end=points[at],
                    from_mm=chainage[start],
                    to_mm=chainage[at],
                )
            )
        start = at
    return tuple(found)


def fault_spots(laid: Wire, candidates: Sequence[tuple[float, float]]) -> tuple[FaultSpot, ...]:
    """Return where each candidate of fault finding lies on the floor, as F, or F1, F2, ...

    A candidate is (fraction of the element from its splice, expanded uncertainty of the
    fraction); a twin core that was measured from one end only has two. Raises UnusableWire for
    a fraction outside 0 to 1.
    """
    spots = []
    labels = labels_of([len(candidates)])[0]
    for at, (fraction, uncertainty) in enumerate(candidates):
        if not (0 <= fraction <= 1 and isfinite(uncertainty) and uncertainty >= 0):
            raise UnusableWire(
                f"A fault at {fraction:g} of the element lies outside it.", pointer=f"#/{at}"
            )
        low = max(0.0, fraction - uncertainty) * laid.length_mm
        high = min(1.0, fraction + uncertainty) * laid.length_mm
        chainage = fraction * laid.length_mm
        spots.append(
            FaultSpot(
                label=labels[at],
                at=point_at(laid, chainage),
                chainage_mm=chainage,
                from_mm=low,
                to_mm=high,
                band=stretch(laid, low, high),
                others=tuple(label for label in labels if label != labels[at]),
            )
        )
    return tuple(spots)


def labels_of(candidates: Sequence[int]) -> list[list[str]]:
    """Labels for so many candidates of each fault: F if there is one in all, else F1, F2, ..."""
    if sum(candidates) == 1:
        return [["F"] * number for number in candidates]
    counted = count(1)
    return [[f"F{next(counted)}" for _ in range(number)] for number in candidates]


def nearest_on(
    starts: NDArray[np.float64], ends: NDArray[np.float64], point: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return for each leg (n, 2) to (n, 2) the share of it nearest to `point`, and the distance."""
    legs = ends - starts
    squares = np.maximum(np.einsum("ij,ij->i", legs, legs), 1e-12)
    share = np.clip(np.einsum("ij,ij->i", point - starts, legs) / squares, 0.0, 1.0)
    away = point - (starts + share[:, None] * legs)
    return share, np.hypot(away[:, 0], away[:, 1])


def _turn(points: Sequence[Point], at: int) -> float:
    (ax, ay), (bx, by), (cx, cy) = points[at - 1], points[at], points[at + 1]
    turn = atan2(cy - by, cx - bx) - atan2(by - ay, bx - ax)
    return (turn + pi) % (2 * pi) - pi
