"""A laying plan: which element lies where, as data that can be stored, drawn and judged.

Lengths are millimetres on the floor plane; chainage is length along the wire from the splice.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from config.errors import DomainError
from jobs.laying.problem import Element, UnusableRoom, point_of, points_of
from jobs.outline import Point

FloatArray = NDArray[np.float64]

DECIMALS = 2
"""Written to 0.01 mm: coarser, the short chords of an arc would turn by rounding."""


class UnusablePlan(DomainError):
    """Plain data that is no laying plan."""

    slug = "plan-not-usable"


@dataclass(frozen=True, slots=True)
class LaidWire:
    """One element's wire on the floor, before leads: what a laying method hands over.

    `path` is (n, 2) in mm from splice to end, rounded to 0.01 mm, of the element's length.
    `mesh` are strips of four corners in the order of the wire; `loose` are (from, to) chainages.
    """

    element: Element
    path: FloatArray
    mesh: tuple[tuple[Point, ...], ...] = ()
    loose: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidElement:
    """One element in the plan. `lead` runs from the control to the splice, `lead_end` to the end.

    `lead_end` is empty for a twin core.
    """

    element: str
    path: tuple[Point, ...]
    mesh: tuple[tuple[Point, ...], ...]
    loose_from_mm: tuple[tuple[float, float], ...]
    splice: Point
    end: Point
    lead: tuple[Point, ...]
    lead_end: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LayingPlan:
    """A whole room as laid out. `unreached` are the outlines of floor that stays cold."""

    elements: tuple[LaidElement, ...]
    sensor: Point
    sensor_route: tuple[Point, ...]
    covered_m2: float
    heatable_m2: float
    unreached: tuple[tuple[Point, ...], ...]
    because: tuple[str, ...]


def rounded(path: FloatArray) -> FloatArray:
    """Round a path to what is written, without the points that rounding makes equal."""
    fine: FloatArray = np.round(np.asarray(path, dtype=np.float64), DECIMALS).astype(np.float64)
    keep = np.ones(len(fine), dtype=bool)
    keep[1:] = np.any(fine[1:] != fine[:-1], axis=1)
    return fine[keep]


def as_points(path: FloatArray) -> tuple[Point, ...]:
    """Turn an (n, 2) array into points as they are written."""
    return tuple((x, y) for x, y in np.round(path, DECIMALS).tolist())


def dump_plan(plan: LayingPlan) -> dict[str, Any]:
    """Return the plan as plain data for JSON."""
    elements = []
    for laid in plan.elements:
        entry: dict[str, Any] = {
            "element": laid.element,
            "path": _lists(laid.path),
            "mesh": [{"outline": _lists(strip)} for strip in laid.mesh],
            "loose_from_mm": [[round(a, 1), round(b, 1)] for a, b in laid.loose_from_mm],
            "splice": list(laid.splice),
            "end": list(laid.end),
            "lead": _lists(laid.lead),
        }
        if laid.lead_end:
            entry["lead_end"] = _lists(laid.lead_end)
        elements.append(entry)
    return {
        "elements": elements,
        "sensor": list(plan.sensor),
        "sensor_route": _lists(plan.sensor_route),
        "covered_m2": round(plan.covered_m2, 4),
        "heatable_m2": round(plan.heatable_m2, 4),
        "unreached": [_lists(ring) for ring in plan.unreached],
        "because": list(plan.because),
    }


def parse_plan(data: Mapping[str, Any]) -> LayingPlan:
    """Read a plan from plain data. Raises UnusablePlan naming the part that is wrong."""
    try:
        return LayingPlan(
            elements=tuple(
                _laid(entry, f"#/elements/{at}") for at, entry in enumerate(_list(data, "elements"))
            ),
            sensor=point_of(_have(data, "sensor"), "#/sensor"),
            sensor_route=points_of(_have(data, "sensor_route"), "#/sensor_route"),
            covered_m2=point_of((_have(data, "covered_m2"), 0), "#/covered_m2")[0],
            heatable_m2=point_of((_have(data, "heatable_m2"), 0), "#/heatable_m2")[0],
            unreached=tuple(
                points_of(ring, f"#/unreached/{at}", least=3)
                for at, ring in enumerate(_list(data, "unreached"))
            ),
            because=tuple(str(sentence) for sentence in _list(data, "because")),
        )
    except UnusableRoom as fault:
        raise UnusablePlan(fault.detail, pointer=fault.pointer) from fault


def _laid(entry: object, at: str) -> LaidElement:
    if not isinstance(entry, Mapping):
        raise UnusablePlan("An element of a plan is an object with named parts.", pointer=at)
    mesh = []
    for number, strip in enumerate(_list(entry, "mesh", at)):
        outline = strip.get("outline") if isinstance(strip, Mapping) else None
        mesh.append(points_of(outline, f"{at}/mesh/{number}/outline", least=4))
    return LaidElement(
        element=str(_have(entry, "element", at)),
        path=points_of(_have(entry, "path", at), f"{at}/path"),
        mesh=tuple(mesh),
        loose_from_mm=tuple(
            point_of(stretch, f"{at}/loose_from_mm")
            for stretch in _list(entry, "loose_from_mm", at)
        ),
        splice=point_of(_have(entry, "splice", at), f"{at}/splice"),
        end=point_of(_have(entry, "end", at), f"{at}/end"),
        lead=_lead(entry, "lead", at),
        lead_end=_lead(entry, "lead_end", at),
    )


def _lead(entry: Mapping[str, Any], key: str, at: str) -> tuple[Point, ...]:
    """A lead, or () where it is missing: whether one is due depends on the element."""
    return points_of(entry[key], f"{at}/{key}") if entry.get(key) else ()


def _have(data: Mapping[str, Any], key: str, at: str = "#") -> Any:
    if not isinstance(data, Mapping) or key not in data:
        raise UnusablePlan(f"“{key}” is missing.", pointer=f"{at}/{key}")
    return data[key]


def _list(data: Mapping[str, Any], key: str, at: str = "#") -> Sequence[Any]:
    value = _have(data, key, at)
    if isinstance(value, (str, bytes)) or not isinstance(value, Sequence):
        raise UnusablePlan(f"“{key}” is a list.", pointer=f"{at}/{key}")
    return value


def _lists(points: Sequence[Point]) -> list[list[float]]:
    return [[x, y] for x, y in points]
