"""What was really laid: marks and runs, by numbers or dragged, and what differs from the plan."""

from dataclasses import dataclass, replace
from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.forms import BoundField
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from config.errors import DomainError
from config.pages import page
from config.tenancy import may_write, visible
from jobs.actions import laying
from jobs.actions.pictures import stored_picture
from jobs.asbuilt import TAPE_TOLERANCE_MM, MovedPart, MovedRun
from jobs.forms.drawings import AsLaidForm
from jobs.forms.saying import in_words
from jobs.grips import Grip
from jobs.models import LayingPlan, Room, RoomPhoto
from jobs.outline import Point
from jobs.pages.drawing import Drawn, figure
from jobs.pages.filling import sent
from jobs.plan_picture import Language, Mark, PlanPicture, View, marks, view
from jobs.requests import PageRequest
from jobs.room_picture import StoredPlan, cables_of
from jobs.units import System, shown_length, typed_length
from jobs.wire import Run, runs, wire

SAME_MM = 1.0
"""A mark that was moved by less was not moved: fields show whole millimetres."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One mark or run with its two fields."""

    mark: str
    what: str
    right: BoundField
    into: BoundField

    @property
    def fields(self) -> tuple[BoundField, BoundField]:
        return self.right, self.into


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """The drawing that counts before the changes: its marks and runs with their fields' names."""

    picture: PlanPicture
    marks: tuple[tuple[str, int, Mark], ...]
    runs: tuple[tuple[str, int, Run], ...]

    @property
    def seen(self) -> View:
        return view(self.picture)


@page("GET", "POST")
def as_laid_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(LayingPlan, request.user)
    system = cast(System, room.job.units)
    before = floor(request, room)
    names = [name for name, *_rest in (*before.marks, *before.runs)]
    form = AsLaidForm(sent(request), names=names, system=system, initial=_initial(before, system))
    seen: Drawn | None = _drawn(request, room, before, before.picture, {}, system)
    found: tuple[str, ...] = ()
    if form.is_bound and form.is_valid():
        tolerance = form.cleaned_data["tolerance"] or TAPE_TOLERANCE_MM
        try:
            changes = _changes(before, form.cleaned_data)
            if "show" not in request.POST:
                return keep(request, room, changes, tolerance)
            now = laying.on_site(
                by=request.user, room=room, changes=changes, tolerance_mm=tolerance
            )
            stored = StoredPlan(plan=now.plan, basis="as_laid", tolerance_mm=tolerance)
            shown = replace(before.picture, control=now.laid.control, **cables_of(stored))
            seen = _drawn(request, room, before, shown, form.cleaned_data, system)
            found = tuple(in_words(one.says, system) for one in now.differences)
        except DomainError as refused:
            form.refuse(refused)
    context = {
        "here": "jobs",
        "room": room,
        "form": form,
        "planned": bool(before.marks),
        "drawn": seen,
        "differences": found,
        "tolerance": shown_length(TAPE_TOLERANCE_MM, system),
        "marks": [_row(form, name, mark.letter, mark.what) for name, _e, mark in before.marks],
        "joint": _row(form, "joint-0", "J", _("A joint in the cable")),
        "runs": [
            _row(form, name, str(run.number), _("Run %(number)s") % {"number": run.number})
            for name, _e, run in before.runs
        ],
        "photos": RoomPhoto.objects.visible_to(request.user)
        .filter(room=room)
        .defer("jpeg")
        .order_by("-pk")[:20],
    }
    template = "jobs/_as_laid.html" if request.htmx else "jobs/room_as_laid.html"
    return render(request, template, context, status=422 if form.errors else 200)


def floor(request: PageRequest, room: Room) -> Floor:
    shown = stored_picture(request.user, room)
    language = cast(Language, request.user.language)
    found: list[tuple[str, int, Mark]] = []
    counted: dict[str, int] = {}
    for mark in marks(shown, language):
        if mark.kind == "joint":
            continue  # recorded once; another is another
        at = counted[mark.kind] = counted.get(mark.kind, -1) + 1
        found.append((f"{mark.kind}-{at}", at, mark))
    lines = [
        (f"run-{at}-{run.number}", at, run)
        for at, cable in enumerate(shown.cables)
        for run in runs(wire(cable.path, cable.chainage_mm))
    ]
    return Floor(
        picture=shown,
        marks=tuple(found) if shown.cables else (),
        runs=tuple(lines),
    )


def keep(
    request: PageRequest,
    room: Room,
    changes: list[MovedRun | MovedPart],
    tolerance_mm: float,
    **more: Any,
) -> HttpResponse:
    """Record it, and say how many things lie elsewhere than planned."""
    _row_kept, found = laying.record_as_laid(
        by=request.user, room=room, changes=changes, tolerance_mm=tolerance_mm, at=request.now,
        **more,
    )  # fmt: skip
    count = len(found)
    said = ngettext(
        "Kept as laid, true to ±%(tolerance)s. 1 thing lies elsewhere than planned.",
        "Kept as laid, true to ±%(tolerance)s. %(count)d things lie elsewhere than planned.",
        count,
    ) % {"tolerance": shown_length(tolerance_mm, cast(System, room.job.units)), "count": count}
    messages.success(request, said)
    return redirect("room", room_id=room.pk)


def _initial(before: Floor, system: System) -> dict[str, str]:
    given = {}
    for name, _element, mark in before.marks:
        right, into = before.seen.seen(mark.at)
        given[f"{name}-right"] = _whole(right, system)
        given[f"{name}-into"] = _whole(into, system)
    return given


def _whole(mm: float, system: System) -> str:
    return typed_length(round(mm), system) if system == "metric" else typed_length(mm, system)


def _changes(before: Floor, given: dict[str, Any]) -> list[MovedRun | MovedPart]:
    """What was moved, in the room's own coordinates; runs first, since parts lie on them."""
    seen = before.seen
    origin = seen.stored((0.0, 0.0))
    changes: list[MovedRun | MovedPart] = []
    for name, element, run in before.runs:
        right, into = given.get(f"{name}-right") or 0.0, given.get(f"{name}-into") or 0.0
        if right or into:
            x, y = seen.stored((right, into))
            by = (x - origin[0], y - origin[1])
            changes.append(MovedRun(element=element, number=run.number, by_mm=by))
    for name, element, mark in before.marks:
        right, into = given.get(f"{name}-right"), given.get(f"{name}-into")
        was = seen.seen(mark.at)
        if right is None or into is None:
            continue
        if abs(right - was[0]) > SAME_MM or abs(into - was[1]) > SAME_MM:
            place = seen.stored((right, into))
            changes.append(MovedPart(kind=mark.kind, at=place, element=element))
    right, into = given.get("joint-0-right"), given.get("joint-0-into")
    if right is not None and into is not None:
        changes.append(MovedPart(kind="joint", at=seen.stored((right, into))))
    return changes


def _drawn(
    request: PageRequest,
    room: Room,
    before: Floor,
    shown: PlanPicture,
    given: dict[str, Any],
    system: System,
) -> Drawn:
    """The drawing with its grips: each says where its fields stand now."""
    now = {
        (mark.kind, mark.letter): mark.at
        for mark in marks(shown, cast(Language, request.user.language))
    }
    seen = view(shown)
    grips = []
    for name, element, run in before.runs:
        by = (given.get(f"{name}-right") or 0.0, given.get(f"{name}-into") or 0.0)
        cable = shown.cables[element]
        lies = next(
            (one for one in runs(wire(cable.path, cable.chainage_mm)) if _same(one, run)), None
        )
        if lies is not None:
            label = _("Move run %(number)s") % {"number": run.number}
            grips.append(_grip(name, label, by, [lies.start, lies.end]))
    for name, _element, mark in before.marks:
        place = now.get((mark.kind, mark.letter), mark.at)
        label = _("Move: %(name)s") % {"name": f"{mark.letter}, {mark.what}"}
        grips.append(_grip(name, label, seen.seen(place), [place]))
    return figure(shown, system=system, grips=grips, fields="seen")


def _same(one: Run, other: Run) -> bool:
    """Runs are numbered along the wire, and chainage stays with it when a run is moved."""
    return abs(one.from_mm - other.from_mm) < 1 and abs(one.to_mm - other.to_mm) < 1


def _grip(name: str, label: str, at: Point, shape: list[Point]) -> Grip:
    return Grip(key=name, label=label, x=f"{name}-right", y=f"{name}-into", at=at, shape=shape)


def _row(form: AsLaidForm, name: str, mark: str, what: str) -> Row:
    return Row(mark=mark, what=what, right=form[f"{name}-right"], into=form[f"{name}-into"])
