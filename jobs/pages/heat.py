"""What a warm floor gives against what its room loses; figures come in the address alone."""

from typing import Any, cast
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render

from config.errors import DomainError
from config.pages import page
from config.tenancy import visible
from jobs.actions.worked_out import HeatFound, heat_of
from jobs.area import heatable_room
from jobs.forms.saying import in_words
from jobs.models import KeepOut, LayingPlan, Room
from jobs.pages.figure_forms import HeatForm, Surfaces
from jobs.requests import PageRequest
from jobs.units import System


@page("GET")
def heat_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    typed = request.GET or None
    system = cast(System, room.job.units)
    form = HeatForm(typed, system=system, initial={"heated": _heated(request, room, system)})
    surfaces = Surfaces(typed, prefix="s", form_kwargs={"system": system})
    found: HeatFound | None = None
    try:
        if typed and form.is_valid() & surfaces.is_valid():
            rows = [row for one in surfaces if (row := one.surface()) is not None]
            found = heat_of(request.user, room, {**form.given(), "surfaces": rows})
    except DomainError as refused:
        form.refuse(refused)
    wrong = bool(typed) and (bool(form.errors) or any(surfaces.errors))
    context: dict[str, Any] = {
        "here": "jobs",
        "room": room,
        "form": form,
        "surfaces": surfaces,
        "found": found,
    }
    if found:
        answer = found.answer
        context |= {
            "mark": "cleared" if answer.role == "main heating" else "undecided",
            "says": in_words(answer.says, system),
            "because": [in_words(one, system) for one in answer.because],
            "not_checked": [in_words(one, system) for one in answer.not_checked],
        }
    return render(request, "jobs/room_heat.html", context, status=422 if wrong else 200)


def _heated(request: PageRequest, room: Room, system: System) -> str:
    """The floor that the plan warms, else all that could be."""
    plan = LayingPlan.objects.visible_to(request.user).counting(room)
    if plan is not None:
        m2 = float(plan.plan["covered_m2"])
    else:
        keep_outs = KeepOut.objects.visible_to(request.user).filter(room=room)
        area = heatable_room(
            room.outline,
            list(keep_outs.order_by("position").values("kind", "outline", "margin_mm")),
            joints=room.joints,
            margins_mm=room.margins_mm,
            doorways=room.doorways,
        )
        m2 = area.area_m2
    return HeatForm.typed_area(m2, system)
