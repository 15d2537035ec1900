"""A stored room and the contractor's catalogue as the room that elements are laid in."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from config.errors import DomainError
from jobs.outline import checked
from jobs.quantities import BOX_LEAD_MM
from jobs.survey import SPARE_LEAD_MM

CONTROL_HEIGHT_MM = 1200.0
"""Of a control whose height nobody stated; common practice, no source."""

COLD_LEAD_MM = 2500.0
"""Of an element whose sheet prints no lead; on the short side of common practice, no source."""

LEAST_BEND_MM = 25.0
"""Bend radius of an element whose sheet prints none; common practice, no source."""

SAME_NOMINAL = 0.1
"""Share by which the voltages sold for one nominal supply differ; common practice, no source."""


MOST_SIDE_MM = 60_000.0
"""Of a floor that is laid out as one; larger halls are drawn as several rooms."""


class NotReadyToLay(DomainError):
    """Something about the room has to be known before anything can be laid out in it."""

    slug = "room-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueElement:
    """An element of the catalogue: its id in plans, its name, and the figures of its sheet."""

    id: str
    name: str
    figures: Mapping[str, Any]


def room_to_lay(
    *,
    name: str,
    outline: Sequence[Sequence[float]],
    keep_outs: Sequence[Mapping[str, Any]],
    joints: Sequence[Sequence[Sequence[float]]],
    doorways: Sequence[Sequence[Sequence[float]]],
    margins_mm: Mapping[str, float],
    control_mm: Sequence[float] | None,
    max_w_per_m2: float,
    may_use: int,
    catalogue: Sequence[CatalogueElement],
    supply_volts: float,
    control_height_mm: float | None = None,
) -> dict[str, Any]:
    """Return the room as the laying search reads it, with the elements that fit the supply.

    Of each lead that is left at floor level which the wall, the box and the bends do not take.
    Raises NotReadyToLay without a control, an element for this voltage, or enough lead, and for a
    hall that has to be drawn in parts.
    """
    if control_mm is None:
        raise NotReadyToLay(
            "Say where the control sits on the wall: the leads start there.",
            pointer="#/control_mm",
        )
    width, depth = checked(outline).size_mm
    if max(width, depth) > MOST_SIDE_MM:
        raise NotReadyToLay(
            f"This floor is {max(width, depth) / 1000:.0f} m long; draw it as several rooms of up "
            f"to {MOST_SIDE_MM / 1000:.0f} m.",
            pointer="#/outline",
        )
    fitting = [one for one in catalogue if _fits(one, supply_volts)]
    if not fitting:
        raise NotReadyToLay(
            f"The catalogue has no element for {supply_volts:g} V. Add one with its sheet.",
            pointer="#/materials",
        )
    up = (control_height_mm or CONTROL_HEIGHT_MM) + BOX_LEAD_MM + SPARE_LEAD_MM
    shortest = min(one.figures.get("cold_lead_mm") or COLD_LEAD_MM for one in fitting)
    if shortest <= up:
        raise NotReadyToLay(
            f"The shortest lead is {shortest:g} mm; wall and box take {up:g} mm of it. "
            "Leave out elements with short leads, or set the control lower.",
            pointer="#/control_mm",
        )
    return {
        "name": name,
        "outline": outline,
        "keep_outs": [
            {key: one[key] for key in ("kind", "outline", "margin_mm")} for one in keep_outs
        ],
        "joints": joints,
        "doorways": doorways,
        "margins_mm": margins_mm,
        "control": control_mm,
        "cold_lead_mm": shortest - up,
        "max_w_per_m2": max_w_per_m2,
        "may_use": may_use,
        "elements": [_element(one) for one in fitting],
    }


def _fits(one: CatalogueElement, supply_volts: float) -> bool:
    return bool(abs(one.figures["volts"] / supply_volts - 1) <= SAME_NOMINAL)


def _element(one: CatalogueElement) -> dict[str, Any]:
    figures = one.figures
    element = {
        "id": one.id,
        "name": one.name,
        "spacing_range_mm": [figures["spacing_least_mm"], figures["spacing_most_mm"]],
        "min_bend_mm": figures["min_bend_mm"] or LEAST_BEND_MM,
    }
    for key in ("kind", "wire_mm", "spacing_mm", "watts", "volts", "ends"):
        element[key] = figures[key]
    if figures["kind"] == "mat":
        element |= {"width_mm": figures["width_mm"], "length_mm": figures["length_mm"]}
    return element
