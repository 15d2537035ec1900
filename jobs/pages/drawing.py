"""The drawing of a room on a page, with the same in words and numbers."""

from dataclasses import dataclass
from typing import cast

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

from config.tenancy import Asker
from jobs import drawing, plan_picture
from jobs.models import KeepOut, LayingPlan, Room
from jobs.outline import Point
from jobs.plan_picture import Language, PlanPicture, PlanRow
from jobs.room_picture import StoredPlan, picture
from jobs.units import System


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A figure: the drawing, its legend, and its tables."""

    picture: PlanPicture
    svg: SafeString
    title: str
    caption: str
    measured_from: str
    points: tuple[PlanRow, ...]
    walls: tuple[PlanRow, ...]
    runs: tuple[PlanRow, ...]
    plan: LayingPlan | None

    @property
    def lines(self) -> tuple[tuple[PlanRow, ...], ...]:
        return tuple(rows for rows in (self.walls, self.runs) if rows)


def newest_plan(asks: Asker, room: Room) -> LayingPlan | None:
    """The drawing that counts: the newest as laid, else the newest plan."""
    return (
        LayingPlan.objects.visible_to(asks).filter(room=room).order_by("basis", "-drawn_at").first()
    )


def drawn(
    asks: Asker,
    room: Room,
    *,
    system: str,
    asked: Point | None = None,
    key: str = "plan",
    plan: LayingPlan | None = None,
) -> Drawn:
    """The room as it is recorded, in the language of the page; three queries at most."""
    plan = plan or newest_plan(asks, room)
    keep_outs = KeepOut.objects.visible_to(asks).filter(room=room).order_by("position")
    shown = picture(
        name=room.name,
        outline=room.outline,
        keep_outs=list(keep_outs.values("outline", "kind", "name")),
        expansion_joints=room.joints,
        door_mm=room.door_mm,
        control_mm=room.control_mm,
        stored=StoredPlan(
            plan=plan.plan,
            basis=cast(plan_picture.Basis, plan.basis),
            tolerance_mm=plan.tolerance_mm,
        )
        if plan
        else None,
        asked=asked,
    )
    return figure(shown, system=system, key=key, plan=plan)


def figure(
    shown: PlanPicture, *, system: str, key: str = "plan", plan: LayingPlan | None = None
) -> Drawn:
    language = cast(Language, get_language() or "en")
    units = cast(System, system)
    return Drawn(
        picture=shown,
        svg=mark_safe(drawing.draw(shown, language=language, system=units, key=key)),
        title=plan_picture.title(shown, language=language, system=units),
        caption=plan_picture.caption(shown, language=language),
        measured_from=plan_picture.measured_from(shown, language),
        points=plan_picture.points(shown, language=language, system=units),
        walls=plan_picture.walls(shown, language=language, system=units),
        runs=plan_picture.cable_runs(shown, language=language, system=units),
        plan=plan,
    )
