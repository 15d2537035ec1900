"""Laying plans: asked for, laid out by a worker, stored if the rules allow, changed on site."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from config.celery import wake
from config.errors import DomainError
from config.sentence import Sentence
from jobs import rooms
from jobs.asbuilt import (
    UNPROVEN_TOLERANCE_MM,
    AsLaid,
    Difference,
    MovedPart,
    MovedRun,
    changed,
    differences,
    read_plan,
    write_plan,
)
from jobs.laying.check import violations
from jobs.laying.measures import measure
from jobs.laying.plan import LayingPlan as LaidPlan
from jobs.laying.plan import dump_plan
from jobs.laying.problem import Room as RoomToLay
from jobs.laying.problem import parse_room
from jobs.laying_room import CatalogueElement, room_to_lay
from jobs.models import LayingPlan, LayingSearch, Material, Member, PhotoScale, Room

MOST_SAID = 20


class PlanBreaksRules(DomainError):
    """A plan that would not work in the floor."""

    slug = "plan-breaks-rules"


class NothingPlanned(DomainError):
    """A change on site needs a plan to differ from."""

    slug = "plan-not-usable"


def problem_of(
    room: Room, *, may_use: int, materials: Sequence[Material] | None = None
) -> dict[str, Any]:
    """The room and what may be laid in it, as plain data; raises NotReadyToLay."""
    elements = materials or Material.objects.filter(
        contractor_id=room.contractor_id, kind="element", retired_at=None
    ).order_by("pk")
    return room_to_lay(
        name=room.name,
        outline=room.outline,
        keep_outs=list(room.keep_outs.order_by("position").values("kind", "outline", "margin_mm")),
        joints=room.joints,
        doorways=room.doorways,
        margins_mm=room.margins_mm,
        control_mm=room.control_mm,
        max_w_per_m2=room.max_w_per_m2,
        may_use=may_use,
        catalogue=[
            CatalogueElement(id=str(one.pk), name=one.name, figures=one.element)
            for one in elements
            if one.element
        ],
        supply_volts=room.job.supply_volts,
        control_height_mm=room.survey.get("control_height_mm"),
    )


@transaction.atomic
def ask_for_ways(
    *,
    by: Member,
    room: Room,
    may_use: int,
    materials: Sequence[Material] | None,
    at: datetime,
) -> LayingSearch:
    """Have a worker look for ways to lay the room; raises NotReadyToLay or UnusableRoom."""
    problem = problem_of(room, may_use=may_use, materials=materials)
    parse_room(problem)
    search = LayingSearch.objects.create(
        contractor_id=room.contractor_id,
        room=room,
        room_version=room.version,
        problem=problem,
        asked_at=at,
        asked_by=by,
    )
    wake("jobs.tasks.lay_room", search.pk)
    return search


def stop_looking(*, search: LayingSearch, at: datetime) -> LayingSearch:
    """Have the worker end a search with what it has found; one that is finished stays as it is.

    Where nothing is found yet, the worker goes on until there is a plan, or none can be.
    """
    LayingSearch.objects.filter(pk=search.pk, finished_at=None, stop_asked_at=None).update(
        stop_asked_at=at
    )
    search.refresh_from_db()
    return search


def look_for_ways(search: LayingSearch, *, at: datetime) -> None:
    """Lay the room of a claimed search and keep what was found, or why nothing was.

    While it is at work, `found` holds the best plan so far.
    """
    from jobs.laying.lay import NothingToLay, alternatives  # 90 MB that no other task needs

    room = parse_room(search.problem)

    def better(plan: LaidPlan) -> None:
        """Whoever waits sees the best so far."""
        search.found = [_told(room, plan)]
        search.save(update_fields=["found"])

    def stopped() -> bool:
        return LayingSearch.objects.filter(pk=search.pk, stop_asked_at__isnull=False).exists()

    try:
        plans = alternatives(room, better=better, stopped=stopped)
    except NothingToLay as refused:
        search.refused = refused.detail
    else:
        search.found = [_told(room, plan) for plan in plans]
    search.finished_at = at
    search.save(update_fields=["found", "refused", "finished_at"])


def _told(room: RoomToLay, plan: Any) -> dict[str, Any]:
    reached = measure(room, plan)
    return {
        "plan": dump_plan(plan),
        "measures": {
            "heatable_m2": round(reached.heatable_m2, 3),
            "covered_m2": round(reached.covered_m2, 3),
            "turns_per_m2": round(reached.turns_per_m2, 2),
            "mesh_share": round(reached.mesh_share, 3),
            "wire_m": round(sum(_wire_mm(room, laid.element) for laid in plan.elements) / 1000, 1),
        },
    }


def _wire_mm(room: RoomToLay, element: str) -> float:
    entry = room.element(element)
    return entry.wire_mm if entry else 0.0


@transaction.atomic
def store_plan(*, by: Member, room: Room, plan: Mapping[str, Any], at: datetime) -> LayingPlan:
    """Keep a plan for the room as it is now; raises PlanBreaksRules with the first of them."""
    Room.objects.select_for_update().get(pk=room.pk)  # judged for the shapes that it is kept with
    elements = plan.get("elements")
    number = len(elements) if isinstance(elements, list) else 1
    judged = parse_room(problem_of(room, may_use=max(1, number)))
    _require_on_sale(by, judged, plan)
    if broken := violations(judged, plan):
        more = f" And {len(broken) - 1} more." if len(broken) > 1 else ""
        raise PlanBreaksRules(f"{broken[0]}{more}", pointer="#/plan")
    return _store(by, room, "planned", plan, UNPROVEN_TOLERANCE_MM, at)


def _require_on_sale(by: Member, room: RoomToLay, plan: Mapping[str, Any]) -> None:
    """Refuse elements by name that the catalogue had and does not offer for this room now."""
    listed = plan.get("elements")
    laid = listed if isinstance(listed, list) else []
    ids = [str(one["element"]) for one in laid if isinstance(one, Mapping) and "element" in one]
    gone = [one for one in ids if _is_id(one) and room.element(one) is None]
    if gone and (of_the_past := Material.objects.visible_to(by).filter(pk__in=gone).first()):
        raise PlanBreaksRules(
            Sentence(
                "{name} cannot be laid here now: it is retired, or made for another voltage.",
                name=of_the_past.name,
            ),
            pointer="#/plan",
        )


def _is_id(text: str) -> bool:
    try:
        return bool(UUID(text))
    except ValueError:
        return False


@dataclass(frozen=True, slots=True)
class OnSite:
    """What lies in the floor after changes on site: the plan as laid, and how it differs."""

    plan: dict[str, Any]
    laid: AsLaid
    differences: tuple[Difference, ...]


def on_site(
    *, by: Member, room: Room, changes: Sequence[MovedRun | MovedPart], tolerance_mm: float
) -> OnSite:
    """Work out the plan as laid from the drawing that counts; nothing is stored.

    Raises NothingPlanned or UnusableChange.
    """
    basis = LayingPlan.objects.visible_to(by).counting(room)
    if basis is None:
        raise NothingPlanned(
            Sentence("There is no plan of this room yet. Lay it out or send one first.")
        )
    control = (room.control_mm[0], room.control_mm[1]) if room.control_mm else None
    before = _read(basis, control)
    laid = changed(before, changes, tolerance_mm=tolerance_mm)
    plan = (
        LayingPlan.objects.visible_to(by)
        .filter(room=room, basis="planned")
        .order_by("-drawn_at", "-pk")
        .first()
    )
    planned = _read(plan, control) if plan else before
    if len(planned.wires) != len(laid.wires):
        planned = before
    return OnSite(write_plan(basis.plan, laid), laid, differences(planned, laid))


@transaction.atomic
def record_as_laid(
    *,
    by: Member,
    room: Room,
    changes: Sequence[MovedRun | MovedPart],
    tolerance_mm: float,
    at: datetime,
    scale: PhotoScale | None = None,
) -> tuple[LayingPlan, tuple[Difference, ...]]:
    """Keep what was laid: the drawing that counts, with the changes on site.

    `scale` is the photograph that places were read from. Returns the row with all that differs
    from the plan; a control that moved moves in the room too. Raises NothingPlanned,
    UnusableChange or NotOnWall.
    """
    locked = Room.objects.select_for_update().get(pk=room.pk)
    found = on_site(by=by, room=locked, changes=changes, tolerance_mm=tolerance_mm)
    control = found.laid.control
    if control is not None and list(control) != locked.control_mm:
        rooms.shapes(locked.outline, control_mm=control)
        locked.control_mm = list(control)
        locked.version += 1
        locked.save(update_fields=["control_mm", "version"])
    row = _store(by, locked, "as_laid", found.plan, tolerance_mm, at, scale=scale)
    return row, found.differences


def _read(row: LayingPlan, control: tuple[float, float] | None) -> AsLaid:
    return read_plan(row.plan, control=control, tolerance_mm=row.tolerance_mm)


def _store(
    by: Member,
    room: Room,
    basis: str,
    plan: Mapping[str, Any],
    tolerance_mm: float,
    at: datetime,
    *,
    scale: PhotoScale | None = None,
) -> LayingPlan:
    return LayingPlan.objects.create(
        contractor_id=room.contractor_id,
        room=room,
        basis=basis,
        plan=dict(plan),
        tolerance_mm=tolerance_mm,
        scale=scale,
        room_version=room.version,
        drawn_at=at,
        drawn_by=by,
    )
