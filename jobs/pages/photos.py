"""Photographs of a floor before it is covered: kept, set against the outline, marks read off."""

from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import may_write, visible
from config.wording import in_language
from jobs.actions import photos
from jobs.asbuilt import MovedPart, on_floor, photo_scale, scale_pairs
from jobs.forms.drawings import PhotoForm, PhotoMarksForm, ScaleForm
from jobs.models import LayingPlan, PhotoScale, Room, RoomPhoto
from jobs.pages.as_laid import Floor, floor, keep
from jobs.pages.drawing import figure
from jobs.pages.filling import sent
from jobs.requests import PageRequest, jpeg_answer
from jobs.units import System, shown_length, typed_length

KILOBYTE = 1000


@page("GET", "POST")
def photo_add(request: PageRequest, room_id: UUID) -> HttpResponse:
    """Take a photo in, from a camera or a file."""
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    if request.method == "POST":
        may_write(RoomPhoto, request.user)
    form = PhotoForm(sent(request), request.FILES or None)
    try:
        if request.method == "POST" and form.is_valid():
            data = form.cleaned_data["image"].read()
            row = photos.keep_photo(by=request.user, room=room, data=data, at=request.now)
            messages.success(request, _("The photo is kept, without its place and camera."))
            return redirect("photo", photo_id=row.pk)
    except DomainError as refused:
        form.refuse(refused)
    context = {
        "here": "jobs",
        "room": room,
        "form": form,
        "photos": [
            (row, round(row.size_bytes / KILOBYTE))
            for row in RoomPhoto.objects.visible_to(request.user)
            .filter(room=room)
            .select_related("taken_by")
            .defer("jpeg")
            .order_by("-pk")[:50]
        ],
    }
    return render(request, "jobs/room_photos.html", context, status=422 if form.errors else 200)


@page("GET")
def photo_image(request: PageRequest, photo_id: UUID) -> HttpResponse:
    return jpeg_answer(visible(RoomPhoto.objects.all(), request.user, pk=photo_id))


@page("GET", "POST")
def photo_page(request: PageRequest, photo_id: UUID) -> HttpResponse:
    """A photo with its points of known place; a POST sets them."""
    photo = _photo(request, photo_id)
    room = photo.room
    system = cast(System, room.job.units)
    before = floor(request, room)
    scale = _scale(request, photo)
    form = ScaleForm(sent(request), system=system, initial=_typed(before, scale, system))
    if request.method == "POST":
        may_write(PhotoScale, request.user)
        try:
            if form.is_valid():
                points = [(pixel, before.seen.stored(place)) for pixel, place in form.points()]
                row = photos.set_scale(by=request.user, photo=photo, points=points, at=request.now)
                messages.success(
                    request,
                    _("The photo is set against the outline, true to ±%(tolerance)s.")
                    % {"tolerance": shown_length(row.tolerance_mm, system)},
                )
                return redirect("photo", photo_id=photo.pk)
        except DomainError as refused:
            form.refuse(refused)
    marks = PhotoMarksForm(system=system, names=[name for name, *_rest in before.marks])
    return _shown(request, photo, before, scale, form, marks)


@page("POST")
def photo_marks(request: PageRequest, photo_id: UUID) -> HttpResponse:
    """Marks tapped on the photo become the plan as laid, as true as the photo's points."""
    photo = _photo(request, photo_id)
    may_write(LayingPlan, request.user)
    room, before, scale = photo.room, floor(request, photo.room), _scale(request, photo)
    system = cast(System, room.job.units)
    names = [name for name, *_rest in before.marks]
    marks = PhotoMarksForm(sent(request), system=system, names=names)
    try:
        if scale is not None and marks.is_valid():
            changes: list[Any] = [
                MovedPart(kind=mark.kind, at=on_floor(scale.matrix, pixel), element=at)
                for name, at, mark in before.marks
                if (pixel := marks.pixel(name)) is not None
            ]
            if pixel := marks.pixel("joint-0"):
                changes.append(MovedPart(kind="joint", at=on_floor(scale.matrix, pixel)))
            if changes:
                return keep(request, room, changes, scale.tolerance_mm, scale=scale)
            marks.add_error(None, _("Nothing is marked on the photo yet."))
    except DomainError as refused:
        marks.refuse(refused)
    if scale is None:
        marks.add_error(None, _("Set the photo against the outline first."))
    form = ScaleForm(system=system, initial=_typed(before, scale, system))
    return _shown(request, photo, before, scale, form, marks)


def _because(scale: PhotoScale) -> str:
    """What the tolerance comes from, to be said in the reader's language."""
    return photo_scale(scale_pairs(scale.points)).because


def _photo(request: PageRequest, photo_id: UUID) -> RoomPhoto:
    rows = RoomPhoto.objects.select_related("room__job", "taken_by").defer("jpeg")
    return visible(rows, request.user, pk=photo_id)


def _scale(request: PageRequest, photo: RoomPhoto) -> PhotoScale | None:
    return PhotoScale.objects.visible_to(request.user).filter(photo=photo).order_by("-pk").first()


def _typed(before: Floor, scale: PhotoScale | None, system: System) -> dict[str, str]:
    """The points as they are set, else the room's corners to be found on the photo."""
    points = (
        [(one["pixel"], one["floor_mm"]) for one in scale.points]
        if scale
        else [(None, corner) for corner in before.picture.outline]
    )
    typed: dict[str, str] = {}
    for at, (pixel, place) in enumerate(points[: ScaleForm.MOST]):
        right, into = before.seen.seen(place)
        typed |= {
            f"right-{at}": typed_length(round(right, 1), system),
            f"into-{at}": typed_length(round(into, 1), system),
        }
        if pixel:
            typed |= {f"x-{at}": f"{pixel[0]:.0f}", f"y-{at}": f"{pixel[1]:.0f}"}
    return typed


def _shown(
    request: PageRequest,
    photo: RoomPhoto,
    before: Floor,
    scale: PhotoScale | None,
    form: ScaleForm,
    marks: PhotoMarksForm,
) -> HttpResponse:
    system = photo.room.job.units
    context = {
        "here": "jobs",
        "photo": photo,
        "room": photo.room,
        "kilobytes": round(photo.size_bytes / KILOBYTE),
        "show": "show" in request.GET or request.method == "POST",
        "scale": scale,
        "because": in_language(_because(scale)) if scale else "",
        "tolerance": shown_length(scale.tolerance_mm, cast(System, system)) if scale else "",
        "form": form,
        "marks_form": marks,
        "marks": [
            *((mark.letter, mark.what, *marks.fields_of(name)) for name, _at, mark in before.marks),
            ("J", _("A joint in the cable"), *marks.fields_of("joint-0")),
        ]
        if before.marks
        else [],
        "drawn": figure(before.picture, system=system),
    }
    wrong = form.errors or marks.errors
    return render(request, "jobs/room_photo.html", context, status=422 if wrong else 200)
