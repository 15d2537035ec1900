"""The readings of a room, with their verdicts and how each was worked out."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render

from config.pages import page
from config.tenancy import visible
from jobs.models import Room
from jobs.requests import PageRequest
from readings.models import Check
from readings.pages import words


@page("GET")
def check_list(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    checks = (
        Check.objects.visible_to(request.user)
        .filter(room=room)
        .select_related("taken_by", "superseded_by")
        .prefetch_related("readings__element", "readings__sensor", "readings__instrument_range")
        .order_by("-sequence")[:200]
    )
    context = {
        "here": "jobs",
        "room": room,
        "zone": room.job.time_zone,
        "checks": [(check, words.STAGES[check.stage], words.rows(check)) for check in checks],
    }
    return render(request, "readings/checks.html", context)
