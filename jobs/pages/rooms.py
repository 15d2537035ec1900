"""A room's shape: typed as sides, walls or corners, with its picture while one types."""

from typing import Any, cast
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
from jobs.forms.rooms import KeepOuts, RoomForm
from jobs.forms.saying import in_words
from jobs.grips import Grip
from jobs.models import Job, KeepOut, Room
from jobs.outline import Outline, Point, traverse
from jobs.pages.drawing import Drawn, OpenWalls, figure, open_figure
from jobs.requests import PageRequest
from jobs.room_picture import picture
from jobs.rooms import PROOFS
from jobs.units import System, typed_length


@page("GET", "POST")
def room_add(request: PageRequest, job_id: UUID) -> HttpResponse:
    may_write(Room, request.user)
    job = visible(Job.objects.all(), request.user, pk=job_id)
    typed = request.POST if request.method == "POST" else None
    system = cast(System, job.units)
    form = RoomForm(typed, system=system)
    keep_outs = KeepOuts(typed, prefix="keep", form_kwargs={"system": system})
    fields, seen = _read(form, keep_outs)
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
    system = cast(System, room.job.units)
    form = RoomForm(typed, system=system, initial=_typed(room, system))
    rows = KeepOut.objects.visible_to(request.user).filter(room=room).order_by("position")
    kept = [_typed_keep_out(row, system) for row in rows]
    keep_outs = KeepOuts(typed, prefix="keep", initial=kept, form_kwargs={"system": system})
    if typed is None:
        shapes = [
            {"kind": row.kind, "name": row.name, "outline": row.outline, "row": at}
            for at, row in enumerate(rows)
        ]
        seen: Drawn | OpenWalls | None = _figure(
            room.name, room.outline, shapes, _on_walls(room), (), system
        )
        return _page(request, room.job, form, keep_outs, seen, title=room.name)
    fields, seen = _read(form, keep_outs)
    if fields is not None and "show" not in request.POST:
        try:
            version = form.cleaned_data["version"] or 0
            room, notes = jobs.change_room(room=room, version=version, fields=fields)
            return _kept(request, room, notes)
        except DomainError as refused:
            form.refuse(refused)
    return _page(request, room.job, form, keep_outs, seen, title=room.name)


def _read(form: RoomForm, keep_outs: Any) -> tuple[dict[str, Any] | None, Drawn | OpenWalls | None]:
    """What was typed, as an action takes it, and as a picture; None for what cannot be read."""
    if not form.is_bound or not (form.is_valid() & keep_outs.is_valid()):
        return None, None
    shapes = [
        {
            "kind": given["kind"],
            "name": given["name"],
            "outline": room_form.keep_out_outline(given),
            "margin_mm": given["margin_mm"],
            "row": at,
        }
        for at, each in enumerate(keep_outs)
        if (given := each.cleaned_data).get("kind")
    ]
    try:
        typed = form.outline()
    except DomainError as refused:
        opened = _open_walls(form, form.said(refused.detail))
        form.refuse(refused)
        return None, opened
    try:
        places = form.on_walls(typed)
        clean = rooms.shapes(typed.points, shapes, **places)
    except DomainError as refused:
        form.refuse(refused)
        # The floor is known, only something on it is wrong: it stays in sight.
        return None, _figure(form.cleaned_data["name"], typed, (), {}, (), form.system)
    seen = _figure(
        form.cleaned_data["name"],
        clean.outline,
        clean.keep_outs,
        places,
        (*typed.notes, *clean.notes),
        form.system,
    )
    fields = {
        "name": form.cleaned_data["name"],
        "outline": clean.outline,
        "keep_outs": [{k: v for k, v in one.items() if k != "row"} for one in shapes],
        **places,
    }
    return fields, seen


def _open_walls(form: RoomForm, why: str) -> OpenWalls | None:
    """Walls that do not close, as far as the tape went."""
    if form.cleaned_data.get("way") != "walls":
        return None
    try:
        walls = traverse(room_form.tape(form.cleaned_data["walls"], system=form.system))
    except DomainError:  # told already, at the line that cannot be read
        return None
    return open_figure(walls, misses=why)


def _figure(
    name: str,
    outline: Outline | Any,
    keep_outs: Any,
    places: dict[str, Any],
    notes: tuple[str, ...],
    system: System,
) -> Drawn:
    shown = picture(name=name, outline=outline, keep_outs=keep_outs, **places)
    return figure(
        shown,
        system=system,
        grips=[grip for one in keep_outs for grip in _grips(one)],
        fields="room",
        notes=tuple(in_words(note, system) for note in notes),
    )


def _grips(keep_out: dict[str, Any]) -> list[Grip]:
    """A keep-out moves as a whole; of a rectangle the far corner sets its size."""
    row, outline = keep_out["row"], [(x, y) for x, y in keep_out["outline"]]
    name = keep_out["name"] or _(room_form.KINDS[keep_out["kind"]])
    left, low = (min(values) for values in zip(*outline, strict=True))

    def grip(key: str, label: str, x: str, y: str, at: Point, shape: list[Point]) -> Grip:
        return Grip(
            key=f"{key}-{row}",
            label=label,
            x=f"keep-{row}-{x}",
            y=f"keep-{row}-{y}",
            at=at,
            shape=shape,
        )

    found = [
        grip("move", _("Move: %(name)s") % {"name": name}, "right", "up", (left, low), outline)
    ]
    if box := room_form.rectangle_of(outline):
        size = (box["width"], box["depth"])
        far = [(left + size[0], low + size[1])]
        words = _("Change the size: %(name)s") % {"name": name}
        found.append(grip("size", words, "width", "depth", size, far))
    return found


def _on_walls(room: Room) -> dict[str, Any]:
    return {"door_mm": room.door_mm, "control_mm": room.control_mm, "doorways": room.doorways}


def _typed(room: Room, system: System) -> dict[str, Any]:
    typed: dict[str, Any] = {
        "name": room.name,
        "version": room.version,
        **room_form.typed(room.outline, system=system),
        "doorways": room_form.typed_openings(room.outline, room.doorways, system=system),
    }
    for name, ends in (
        ("door", room.door_mm),
        ("control", [room.control_mm] if room.control_mm else None),
    ):
        if ends:
            place = room_form.on_wall(room.outline, ends)
            typed |= {
                f"{name}_wall": place.wall,
                f"{name}_from": typed_length(place.from_mm, system),
                f"{name}_width": typed_length(place.width_mm, system),
            }
    return typed


def _typed_keep_out(row: KeepOut, system: System) -> dict[str, Any]:
    typed: dict[str, Any] = {"kind": row.kind, "name": row.name, "margin_mm": row.margin_mm}
    place = room_form.rectangle_of(row.outline)
    if place is None:
        left, low = (min(values) for values in zip(*row.outline, strict=True))
        typed["corners"] = row.outline
        place = {"right": left, "up": low}
    return typed | {name: typed_length(mm, system) for name, mm in place.items()}


def _kept(request: PageRequest, room: Room, notes: tuple[str, ...]) -> HttpResponse:
    said = (in_words(note, room.job.units) for note in notes)
    messages.success(request, " ".join((_("The room is kept."), *said)))
    return redirect("room", room_id=room.pk)


def _page(
    request: PageRequest,
    job: Job,
    form: RoomForm,
    keep_outs: Any,
    seen: Drawn | OpenWalls | None,
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
