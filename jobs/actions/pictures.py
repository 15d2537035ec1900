"""A room's picture from its rows: what pages, the API and papers of jobs draw."""

from typing import cast

from config.tenancy import Asker
from jobs.models import KeepOut, LayingPlan, Room
from jobs.outline import Point
from jobs.plan_picture import Basis, PlanPicture
from jobs.room_picture import StoredPlan, picture


def stored_picture(asks: Asker, room: Room, *, asked: Point | None = None) -> PlanPicture:
    """The room with the plan that counts, in two queries; `asked` is a place to be marked."""
    plan = LayingPlan.objects.visible_to(asks).counting(room)
    keep_outs = KeepOut.objects.visible_to(asks).filter(room=room).order_by("position")
    stored = None
    if plan is not None:
        basis = cast(Basis, plan.basis)
        stored = StoredPlan(plan=plan.plan, basis=basis, tolerance_mm=plan.tolerance_mm)
    return picture(
        name=room.name,
        outline=room.outline,
        keep_outs=list(keep_outs.values("outline", "kind", "name")),
        expansion_joints=room.joints,
        door_mm=room.door_mm,
        doorways=room.doorways,
        control_mm=room.control_mm,
        stored=stored,
        asked=asked,
    )
