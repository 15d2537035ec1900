"""How good a laying plan is: what it warms, against what could be warmed.

Areas are square metres, spacings and lengths millimetres.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import pi

import numpy as np
from shapely import LineString, make_valid, unary_union
from shapely.geometry.base import BaseGeometry

from jobs.laying.plan import LayingPlan
from jobs.laying.problem import Element, Room
from jobs.outline import Point

COVER_TOLERANCE_MM = 2.0
"""Added to half a spacing when covered floor is measured (our own convention)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What a plan reaches. Fractions are of the heatable area unless the name says of what."""

    heatable_m2: float
    covered_m2: float
    strict_m2: float
    attainable_m2: float
    best_m2: float
    mesh_share: float
    turns_per_m2: float

    @property
    def covered_of_best(self) -> float:
        """Covered over best; 1 where nothing could be warmed at all."""
        return self.covered_m2 / self.best_m2 if self.best_m2 else 1.0


def measure(room: Room, plan: LayingPlan) -> Measures:
    """Measure a plan whose elements are all in the catalogue."""
    chosen = [entry for laid in plan.elements if (entry := room.element(laid.element))]
    paths = [LineString(laid.path) for laid in plan.elements]
    area = room.area
    a_m2 = area.area / 1e6
    reach = [s / 2 for s in spacings(chosen, area.area)]
    wire = sum(path.length for path in paths)
    loose = sum(b - a for laid in plan.elements for a, b in laid.loose_from_mm)
    turns = sum(half_turns(laid.path) for laid in plan.elements)
    even = zip(chosen, spacings(chosen, area.area), strict=True)
    return Measures(
        heatable_m2=a_m2,
        covered_m2=covered(area, paths, [r + COVER_TOLERANCE_MM for r in reach]).area / 1e6,
        strict_m2=covered(area, paths, reach).area / 1e6,
        attainable_m2=min(a_m2, sum(entry.wire_mm * s for entry, s in even) / 1e6),
        best_m2=best_area(room.elements, area.area, room.may_use, room.max_w_per_m2) / 1e6,
        mesh_share=max(0.0, 1 - loose / wire) if wire else 0.0,
        turns_per_m2=turns / a_m2 if a_m2 else 0.0,
    )


def spacings(elements: Sequence[Element], area_mm2: float) -> list[float]:
    """Return the spacing in mm that each element is judged by.

    A mat has its pitch; a cable has its even spread: the area less what the mats take, over all
    cable, held within its range.
    """
    mats = sum(e.wire_mm * e.spacing_mm for e in elements if e.kind == "mat")
    cable = sum(e.wire_mm for e in elements if e.kind == "cable")
    even = max(0.0, area_mm2 - mats) / cable if cable else 0.0
    return [
        e.spacing_mm if e.kind == "mat" else min(max(even, e.least_spacing_mm), e.most_spacing_mm)
        for e in elements
    ]


def covered(
    area: BaseGeometry, paths: Iterable[BaseGeometry], reach_mm: Iterable[float]
) -> BaseGeometry:
    """Return the part of `area` within each path's own reach."""
    warm = [_around(path, reach) for path, reach in zip(paths, reach_mm, strict=True)]
    return area.intersection(unary_union(warm)) if len(warm) > 1 else area.intersection(warm[0])


def _around(path: BaseGeometry, reach_mm: float) -> BaseGeometry:
    """What is within reach of a path; a buffer of a long meander now and then crosses itself."""
    shape = path.buffer(reach_mm, quad_segs=8)
    return shape if shape.is_valid else make_valid(shape)


def best_area(
    elements: Iterable[Element], area_mm2: float, may_use: int, max_w_per_m2: float
) -> float:
    """Return the most area in mm² that up to `may_use` elements could warm, by area alone."""
    entries = tuple(elements)
    return max(
        (
            could_warm(chosen, area_mm2, max_w_per_m2)
            for number in range(1, may_use + 1)
            for chosen in combinations_with_replacement(entries, number)
        ),
        default=0.0,
    )


def could_warm(chosen: Sequence[Element], area_mm2: float, max_w_per_m2: float) -> float:
    """Return the area in mm² that these elements together could warm, 0 if they do not fit.

    Mats take wire x pitch. Cables take the rest, as far as their range goes; they do not fit
    where the rest is less than their wire at its least spacing, or at `max_w_per_m2`.
    """
    mats = least = most = watts = 0.0
    for e in chosen:
        if e.kind == "mat":
            mats += e.wire_mm * e.spacing_mm
        else:
            least += e.wire_mm * e.least_spacing_mm
            most += e.wire_mm * e.most_spacing_mm
            watts += e.watts
    rest = area_mm2 - mats
    if rest < max(least, watts * 1e6 / max_w_per_m2):
        return 0.0
    return mats + min(rest, most)


def half_turns(path: Sequence[Point], *, stretch_mm: float = 250.0) -> int:
    """Count the places where the heading turns by more than 150 degrees within `stretch_mm`."""
    points = np.asarray(path)
    step = np.diff(points, axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    at = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])[:-1]
    count, since = 0, 0
    for now in range(1, len(heading)):
        while at[now] - at[since + 1] > stretch_mm:
            since += 1
        if abs(heading[now] - heading[since]) > pi * 150 / 180:
            count, since = count + 1, now
        since = min(since, now)
    return count
