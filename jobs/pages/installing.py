"""Putting a thing of the catalogue into a room."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from config.pages import page
from config.tenancy import may_write, visible
from jobs.actions.installed import install
from jobs.forms.catalogue import InstallElementForm, InstallForm
from jobs.models import Control, Element, FloorSensor, Material, Room
from jobs.pages.filling import choose, filled, picked, sent
from jobs.requests import PageRequest

Kind = type[Element] | type[FloorSensor] | type[Control]
KINDS: dict[str, tuple[Kind, type[InstallForm], Any, str]] = {
    "element": (Element, InstallElementForm, gettext_lazy("Record an element"), "M1"),
    "sensor": (FloorSensor, InstallForm, gettext_lazy("Record a floor sensor"), "S1"),
    "control": (Control, InstallForm, gettext_lazy("Record a control"), "C1"),
}


@page("GET", "POST")
def install_page(request: PageRequest, room_id: UUID, kind: str) -> HttpResponse:
    if kind not in KINDS:
        raise Http404
    model, form_of, title, label = KINDS[kind]
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(model, request.user)
    materials = list(
        Material.objects.visible_to(request.user)
        .filter(kind=kind, retired_at=None)
        .order_by("name", "pk")
    )
    form = form_of(sent(request), initial={"label": label})
    choose(form, "material", materials)

    def do(given: dict[str, Any]) -> HttpResponse:
        material = picked(materials, given.pop("material"))
        install(model, by=request.user, room=room, material=material, fields=given)
        return redirect("room", room_id=room.pk)

    caution = _(
        "Connections by a licensed electrician. Local code and the makers’ instructions rule."
    )
    return filled(
        request,
        form,
        do,
        title=f"{room.name}: {title}",
        act=_("Record it"),
        caution=caution if kind == "control" else "",
        here="jobs",
    )
