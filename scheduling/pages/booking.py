"""One booked task: where it is, pinned or not, and where the office wants it to be."""

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _

from config.pages import page
from config.tenancy import editable
from jobs.pages.filling import choose, filled, offer, picked, sent
from jobs.requests import PageRequest
from scheduling.actions import moving
from scheduling.forms import MoveForm
from scheduling.models import Booking, Crew
from scheduling.pages import words


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """A place that is possible, as the form takes it."""

    crew_id: UUID
    crew: str
    day: date
    half: str


@page("GET", "POST")
def booking_page(request: PageRequest, booking_id: UUID) -> HttpResponse:
    booking = editable(
        Booking.objects.filter(cancelled_at=None).select_related("job", "crew"),
        request.user,
        pk=booking_id,
    )
    all_crews = list(
        Crew.objects.visible_to(request.user).filter(retired_at=None).order_by("name", "pk")
    )
    form = MoveForm(
        sent(request),
        initial={
            "crew": str(booking.crew_id),
            "day": booking.day,
            "half": booking.half,
            "version": booking.version,
        },
    )
    choose(form, "crew", all_crews)
    offer(form, half=words.HALVES)
    nearest: list[Nearest] = []

    def do(given: dict[str, Any]) -> HttpResponse:
        if "pin" in request.POST:
            moving.hold_task(booking=booking, version=given["version"], pinned=not booking.pinned)
            return redirect("booking", booking_id=booking_id)
        try:
            moved = moving.move_task(
                booking=booking,
                version=given["version"],
                crew=picked(all_crews, given["crew"]),
                day=given["day"],
                half=given["half"],
                pinned=True,
                at=request.now,
            )
        except moving.MoveRefused as refused:
            ids = {crew.name: crew.pk for crew in all_crews}
            nearest.extend(
                Nearest(crew_id=ids[near.crew], crew=near.crew, day=near.day, half=near.half)
                for near in refused.nearest
            )
            raise
        return redirect(f"{reverse('plan')}?from={moved.day:%Y-%m-%d}")

    task = words.TASKS[booking.task]
    return filled(
        request,
        form,
        do,
        template="scheduling/booking.html",
        title=f"{booking.job.street}: {task}",
        booking=booking,
        nearest=nearest,
        here="plan",
        zone=request.user.contractor.time_zone,
        lead=_("The whole task moves, so that this half-day of it falls there, and stays there."),
    )
