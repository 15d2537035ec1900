"""The picture of a room from what is stored of it: shapes, and the newest plan of its cables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jobs.laying.plan import parse_plan
from jobs.outline import Point
from jobs.plan_picture import Basis, DrawnCable, DrawnKeepOut, PlanPicture
from jobs.wire import FaultSpot

Corner = Sequence[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPlan:
    """A laying plan as it is stored, what it is, and how true it is."""

    plan: Mapping[str, Any]
    basis: Basis
    tolerance_mm: float


def picture(
    *,
    name: str,
    outline: Sequence[Corner],
    keep_outs: Sequence[Mapping[str, Any]] = (),
    expansion_joints: Sequence[Sequence[Corner]] = (),
    door_mm: Sequence[Corner] | None = None,
    doorways: Sequence[Sequence[Corner]] = (),
    control_mm: Corner | None = None,
    stored: StoredPlan | None = None,
    asked: Point | None = None,
    faults: Sequence[FaultSpot] = (),
) -> PlanPicture:
    """Return what a drawing of the room shows; a keep-out has `outline`, `kind` and `name`.

    Raises UnusablePlan if the stored plan is none.
    """
    return PlanPicture(
        name=name,
        outline=_points(outline),
        door=(_point(door_mm[0]), _point(door_mm[1])) if door_mm else None,
        doorways=tuple(_points(ends) for ends in doorways),
        keep_outs=tuple(
            DrawnKeepOut(
                outline=_points(each["outline"]), kind=each["kind"], name=each.get("name", "")
            )
            for each in keep_outs
        ),
        expansion_joints=tuple(_points(joint) for joint in expansion_joints),
        control=_point(control_mm) if control_mm else None,
        asked=asked,
        faults=faults,
        **(cables_of(stored) if stored else {"basis": "planned"}),
    )


def cables_of(stored: StoredPlan) -> dict[str, Any]:
    """Return the fields of a picture that a plan gives: cables, sensor, what they leave cold."""
    laid = parse_plan(stored.plan)
    as_laid = stored.plan["elements"]  # with what a plan does not have
    several = len(laid.elements) > 1
    return {
        "cables": tuple(
            DrawnCable(
                path=cable.path,
                chainage_mm=more.get("chainage_mm"),
                joints=_points(more.get("joints", ())),
                lead=cable.lead,
                lead_end=cable.lead_end,
                name=cable.element if several else "",
            )
            for cable, more in zip(laid.elements, as_laid, strict=True)
        ),
        "sensor": laid.sensor,
        "sensor_route": laid.sensor_route,
        "unreached": laid.unreached,
        "basis": stored.basis,
        "tolerance_mm": stored.tolerance_mm,
    }


def _points(corners: Sequence[Corner]) -> tuple[Point, ...]:
    return tuple(_point(corner) for corner in corners)


def _point(corner: Corner) -> Point:
    return float(corner[0]), float(corner[1])
