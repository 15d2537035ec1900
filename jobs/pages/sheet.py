"""The room sheet for the wall: the plan to scale, its points, and the cautions; to be printed."""

from typing import cast
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render

from config.pages import page
from config.tenancy import visible
from jobs import drawing
from jobs.actions.pictures import stored_picture
from jobs.actions.worked_out import loads_of
from jobs.models import Control, Element, FloorSensor, Room
from jobs.pages.drawing import figure
from jobs.requests import PageRequest
from jobs.units import System

# What an A4 sheet and a Letter sheet both leave inside the margins, above the table.
PAPER_MM = {"width_mm": 180.0, "height_mm": 165.0}


@page("GET")
def sheet_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job__contractor"), request.user, pk=room_id)
    shown = stored_picture(request.user, room)
    scale = drawing.largest_scale(shown, **PAPER_MM)
    loads = loads_of(request.user, room)
    context = {
        "room": room,
        "drawn": figure(shown, system=cast(System, room.job.units), scale=scale),
        "scale": scale,
        "watts": sum(load.watts for load in loads),
        "imperial": room.job.units == "imperial",
        "installed": [
            row
            for model in (Element, FloorSensor, Control)
            for row in model.objects.visible_to(request.user)
            .filter(room=room, removed_at=None)
            .select_related("material")
            .order_by("label", "pk")
        ],
    }
    return render(request, "jobs/room_sheet.html", context)
