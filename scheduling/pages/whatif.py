"""What the date would become: a warmer room, another material, a layer on another day."""

from datetime import timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render

from config.errors import DomainError
from config.pages import page
from config.tenancy import visible
from jobs.forms.saying import in_words
from jobs.materials import CURING_KINDS
from jobs.models import Material, Room
from jobs.pages.filling import choose, picked
from jobs.requests import PageRequest
from jobs.units import celsius
from scheduling.actions import decisions
from scheduling.actions.facts import assumed_materials, layer_name, material_facts
from scheduling.floor import Layer as LayerFacts
from scheduling.forms import WhatIfForm
from scheduling.models import Layer
from scheduling.whatif import Supposed, suppose

ASKED = ("room_c", "material", "placed_at")


@page("GET")
def what_if(request: PageRequest, room_id: UUID) -> HttpResponse:
    """Nothing is changed: what is asked stands in the address."""
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    zone = ZoneInfo(room.job.time_zone)
    layers = list(
        Layer.objects.visible_to(request.user)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("position")
    )
    materials = list(
        Material.objects.visible_to(request.user)
        .filter(kind__in=CURING_KINDS, retired_at=None)
        .order_by("name", "pk")
    )
    asked = any(request.GET.get(name) for name in ASKED)
    tomorrow = (request.now.astimezone(zone) + timedelta(days=1)).strftime("%Y-%m-%dT07:00")
    form = WhatIfForm(
        request.GET if asked else None,
        system=room.job.units,
        initial={"warm_from": tomorrow},
    )
    choose(form, "material", materials, empty="–")
    named = [(str(row.pk), f"{row.position}: {row.material.name}") for row in layers]
    form.fields["layer"].choices = [("", "–"), *named]  # type: ignore[attr-defined]
    supposed = None
    given: dict[str, Any] = {}
    try:
        if asked and form.is_valid():
            given = form.cleaned_data
            for name in ("warm_from", "placed_at"):
                given[name] = given[name].replace(tzinfo=zone) if given[name] else None
            supposed = _supposed(request, room, given, layers, materials)
    except DomainError as refused:
        form.refuse(refused)
    context = {
        "here": "jobs",
        "room": room,
        "zone": room.job.time_zone,
        "form": form,
        "unit": "°F" if room.job.units == "imperial" else "°C",
        "supposed": supposed,
        "why": [in_words(one, room.job.units) for one in _why(supposed)],
        "given": given,
        "layer": picked(layers, given.get("layer")),
        "material": picked(materials, given.get("material")),
        "assumed": assumed_materials([room]).get(room.pk, ()),
    }
    return render(request, "scheduling/what_if.html", context, status=422 if form.errors else 200)


def _why(supposed: Supposed | None) -> tuple[str, ...]:
    """What is supposed, and how the date as things are was worked out."""
    return (*supposed.because, *supposed.now.because) if supposed else ()


def _supposed(
    request: PageRequest,
    room: Room,
    given: dict[str, Any],
    layers: list[Layer],
    materials: list[Material],
) -> Supposed:
    facts, _ = decisions.current(room, at=request.now)
    layer = picked(layers, given["layer"])
    material = picked(materials, given["material"])
    other = []
    placings = []
    if layer is not None and material is not None and given["placed_at"] is None:
        other = [(layer_name(layer), material_facts(material, thickness_mm=layer.thickness_mm))]
    elif layer is not None and given["placed_at"] is not None:
        of = material or layer.material
        kept = None if material else layer.curing
        placings = [
            LayerFacts(
                id=layer_name(layer),
                placed_at=given["placed_at"],
                material=material_facts(of, kept, thickness_mm=layer.thickness_mm),
            )
        ]
    return suppose(
        facts,
        room_c=None if given["room_c"] is None else celsius(given["room_c"], room.job.units),
        warm_from=given["warm_from"],
        materials=other,
        to_place=placings,
    )
