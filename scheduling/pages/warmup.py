"""The first heating of a room, step by step: printed, ticked off, stopped and gone on with."""

from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import may_write, visible
from config.wording import in_language
from jobs.models import Room
from jobs.pages.filling import sent
from jobs.requests import PageRequest
from jobs.units import celsius
from scheduling.actions import warmup
from scheduling.actions.facts import assumed_materials
from scheduling.chart_words import Language
from scheduling.forms import TickForm
from scheduling.models import WarmUpStep
from scheduling.warmup import Step


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step with how it was done, if it was."""

    step: Step
    tick: WarmUpStep | None
    stopped: bool
    due: bool


@page("GET", "POST")
def warm_up(request: PageRequest, room_id: UUID) -> HttpResponse:
    return _page(request, room_id, "warm-up", "scheduling/warm_up.html")


@page("GET", "POST")
def field_warm_up(request: PageRequest, room_id: UUID) -> HttpResponse:
    return _page(request, room_id, "field-warm-up", "scheduling/field_warm_up.html")


@page("POST")
def go_on(request: PageRequest, room_id: UUID) -> HttpResponse:
    """Go on after a stop, once its cause is gone."""
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(WarmUpStep, request.user)
    try:
        warmup.resume(by=request.user, room=room, at=request.now)
    except DomainError as refused:
        form = TickForm({}, system=room.job.units)
        form.errors.clear()
        form.refuse(refused)
        return _shown(request, room, form, "scheduling/warm_up.html")
    return redirect("warm-up", room_id=room.pk)


@page("GET")
def warm_up_calendar(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    language = cast(Language, get_language() or "en")
    content = warmup.calendar_file(room, at=request.now, language=language)
    headers = {"Content-Disposition": 'attachment; filename="warm-up.ics"'}
    return HttpResponse(content, content_type="text/calendar; charset=utf-8", headers=headers)


def _page(request: PageRequest, room_id: UUID, name: str, template: str) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    form = TickForm(sent(request), system=room.job.units)
    if request.method == "POST":
        may_write(WarmUpStep, request.user)
        try:
            if form.is_valid():
                _tick(request, room, form.cleaned_data)
                return redirect(name, room_id=room.pk)
        except DomainError as refused:
            form.refuse(refused)
    return _shown(request, room, form, template)


def _tick(request: PageRequest, room: Room, given: dict[str, Any]) -> None:
    shown = given["floor_c"]
    warmup.tick(
        by=request.user,
        room=room,
        step=given["step"],
        done_at=request.now,
        floor_c=celsius(shown, room.job.units) if shown is not None else None,
        at=request.now,
    )


def _shown(request: PageRequest, room: Room, form: TickForm, template: str) -> HttpResponse:
    plan = warmup.plan_of(room, at=request.now)
    ticks = {tick.step: tick for tick in plan.ticks}
    due = plan.due
    stopped_at = plan.stop.step if plan.stop else 0
    why = plan.why_stopped()
    context = {
        "here": "jobs",
        "room": room,
        "zone": room.job.time_zone,
        "plan": plan,
        "rows": [
            StepRow(
                step,
                ticks.get(step.number),
                step.number == stopped_at,
                due is not None and step.number == due.number,
            )
            for step in plan.steps
        ],
        "due": due,
        "ripe": due is not None and due.ends_at <= request.now,
        "stopped": in_language(why) if why else "",
        "assumed": assumed_materials([room]).get(room.pk, ()),
        "form": form,
        "unit": "°F" if room.job.units == "imperial" else "°C",
        "caution": _(
            "Connections by a licensed electrician. Local code and the makers’ instructions rule. "
            "Too warm, a smell, a check that fails: switch off and prove dead."
        ),
    }
    return render(request, template, context, status=422 if form.errors else 200)
