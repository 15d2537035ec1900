"""A room's shape: typed as sides, walls or corners, with its picture while one types."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs import room_form, rooms
from jobs.actions import jobs
from jobs.forms import KeepOuts, RoomForm
from jobs.models import Job, KeepOut, Room
from jobs.pages.drawing import Drawn, drawn, figure
from jobs.requests import PageRequest
from jobs.room_picture import picture
from jobs.rooms import PROOFS


@page("GET", "POST")
def room_add(request: PageRequest, job_id: UUID) -> HttpResponse:
    may_write(Room, request.user)
    job = visible(Job.objects.all(), request.user, pk=job_id)
    typed = request.POST if request.method == "POST" else None
    form, keep_outs = RoomForm(typed), KeepOuts(typed, prefix="keep")
    fields, seen = _read(form, keep_outs, job.units)
    if fields is not None and "show" not in request.POST:
        try:
            room, notes = jobs.add_room(by=request.user, job=job, required=list(PROOFS), **fields)
            return _kept(request, room, notes)
        except DomainError as refused:
            form.refuse(refused)
    return _page(request, job, form, keep_outs, seen, title=_("Add a room"))


@page("GET", "POST")
def room_edit(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = editable(Room.objects.select_related("job"), request.user, pk=room_id)
    typed = request.POST if request.method == "POST" else None
    form = RoomForm(typed, initial=_typed(room))
    rows = KeepOut.objects.visible_to(request.user).filter(room=room).order_by("position")
    keep_outs = KeepOuts(typed, prefix="keep", initial=[_typed_keep_out(row) for row in rows])
    fields, seen = _read(form, keep_outs, room.job.units)
    if typed is None:
        seen = drawn(request.user, room, system=room.job.units)
    if fields is not None and "show" not in request.POST:
        try:
            version = form.cleaned_data["version"] or 0
            room, notes = jobs.change_room(room=room, version=version, fields=fields)
            return _kept(request, room, notes)
        except DomainError as refused:
            form.refuse(refused)
    return _page(request, room.job, form, keep_outs, seen, title=room.name)


def _read(form: RoomForm, keep_outs: Any, units: str) -> tuple[dict[str, Any] | None, Drawn | None]:
    """What was typed, as an action takes it, and as a picture; None for what cannot be read."""
    if not form.is_bound or not (form.is_valid() & keep_outs.is_valid()):
        return None, None
    shapes = [
        {
            "kind": given["kind"],
            "name": given["name"],
            "outline": room_form.keep_out_outline(given),
        }
        for each in keep_outs
        if (given := each.cleaned_data).get("kind")
    ]
    try:
        typed = form.outline()
        clean = rooms.shapes(
            typed.outline.points, shapes, control_mm=typed.control, door_mm=typed.door
        )
    except DomainError as refused:
        form.refuse(refused)
        return None, None
    fields = {
        "name": form.cleaned_data["name"],
        "outline": clean.outline,
        "keep_outs": shapes,
        "control_mm": typed.control,
        "door_mm": typed.door,
    }
    shown = picture(
        name=fields["name"],
        outline=clean.outline,
        keep_outs=clean.keep_outs,
        door_mm=typed.door,
        control_mm=typed.control,
    )
    return fields, figure(shown, system=units)


def _typed(room: Room) -> dict[str, Any]:
    return {
        "name": room.name,
        "corners": room_form.corners_text(room.outline),
        "door": room_form.places_text(room.door_mm or []),
        "control": room_form.places_text([room.control_mm] if room.control_mm else []),
        "version": room.version,
    }


def _typed_keep_out(row: KeepOut) -> dict[str, Any]:
    typed: dict[str, Any] = {"kind": row.kind, "name": row.name}
    if place := room_form.rectangle_of(row.outline):
        return typed | {name: f"{mm:g}" for name, mm in place.items()}
    return typed | {"corners": row.outline}


def _kept(request: PageRequest, room: Room, notes: tuple[str, ...]) -> HttpResponse:
    messages.success(request, " ".join((_("The room is kept."), *notes)))
    return redirect("room", room_id=room.pk)


def _page(
    request: PageRequest,
    job: Job,
    form: RoomForm,
    keep_outs: Any,
    seen: Drawn | None,
    *,
    title: str,
) -> HttpResponse:
    shown = {
        "job": job,
        "form": form,
        "keep_outs": keep_outs,
        "drawn": seen,
        "title": title,
        "here": "jobs",
    }
    wrong = form.errors or any(keep_outs.errors) if form.is_bound else False
    template = "jobs/_room_picture.html" if request.htmx else "jobs/room_form.html"
    return render(request, template, shown, status=422 if wrong else 200)
