"""A room's picture from its rows: what pages, the API and papers of jobs draw."""

from typing import Any

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import OuterRef, Subquery
from django.db.models.functions import JSONObject

from config.tenancy import Asker, TenantQuerySet
from jobs.models import KeepOut, LayingPlan, Room
from jobs.outline import Point
from jobs.plan_picture import PlanPicture
from jobs.room_picture import StoredPlan, picture


def stored_picture(asks: Asker, room: Room, *, asked: Point | None = None) -> PlanPicture:
    """The room with the plan that counts, in one query; `asked` is a place to be marked."""
    return picture_of(pictured(asks).get(pk=room.pk), asked=asked)


def pictured(asks: Asker) -> TenantQuerySet[Any]:
    """Rooms with what their pictures show."""
    keep_outs = KeepOut.objects.visible_to(asks).filter(room=OuterRef("pk")).order_by("position")
    shown = JSONObject(outline="outline", kind="kind", name="name")
    plans = LayingPlan.objects.visible_to(asks).filter(room=OuterRef("pk")).by_weight()
    stored = JSONObject(plan="plan", basis="basis", tolerance_mm="tolerance_mm")
    return Room.objects.visible_to(asks).annotate(
        shapes=ArraySubquery(keep_outs.values(json=shown)),
        stored_plan=Subquery(plans.values(json=stored)[:1]),
    )


def picture_of(room: Any, *, asked: Point | None = None) -> PlanPicture:
    """The picture of one of the rooms that are `pictured`."""
    return picture(
        name=room.name,
        outline=room.outline,
        keep_outs=room.shapes,
        expansion_joints=room.joints,
        door_mm=room.door_mm,
        doorways=room.doorways,
        control_mm=room.control_mm,
        stored=StoredPlan(**room.stored_plan) if room.stored_plan else None,
        asked=asked,
    )
