"""How the floor of a room hardens: a fragment of its page, and a page of its own without script."""

from typing import cast
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.utils.translation import get_language
from django.views.decorators.vary import vary_on_headers

from config.pages import page
from config.tenancy import visible
from jobs.models import Room
from jobs.requests import PageRequest
from jobs.units import System
from scheduling.actions import decisions
from scheduling.chart_words import Language


@page("GET")
@vary_on_headers("HX-Request")
def room_curing(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    chart = decisions.chart(
        room,
        at=request.now,
        language=cast(Language, get_language() or "en"),
        system=cast(System, room.job.units),
    )
    context = {
        "here": "jobs",
        "room": room,
        "chart": chart,
        "chart_svg": mark_safe(chart.svg) if chart else "",  # made by us, every word escaped
    }
    name = "scheduling/_curing.html" if request.htmx else "scheduling/curing.html"
    return render(request, name, context)
