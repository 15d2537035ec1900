"""The day sheets: where each crew is on a day, what comes next there, what to bring; to print."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import render

from config.pages import page
from jobs.models import Element, Job, Member
from jobs.requests import PageRequest
from scheduling.actions.now import jobs_now
from scheduling.actions.planning_facts import assumptions_of
from scheduling.models import Booking, Crew, CrewAbsence, Layer
from scheduling.pages import words
from scheduling.waiting import waiting
from scheduling.workload import AFTER_COVERING


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One booking on a sheet: where, what, how the floor is, what to do there, what to bring."""

    half: str
    booking: Booking
    task: str
    floor: str
    things: Sequence[str]
    layers: Sequence[Layer]
    elements: Sequence[Element]
    assumed: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One crew on one day."""

    crew: Crew
    people: Sequence[Member]
    away: Sequence[CrewAbsence]
    stops: Sequence[Stop]


@page("GET")
def day_sheets(request: PageRequest, day: str) -> HttpResponse:
    """A sheet for each crew; `?crew=` asks for one."""
    try:
        on = date.fromisoformat(day)
    except ValueError as no_day:
        raise Http404 from no_day
    crews = Crew.objects.visible_to(request.user).filter(retired_at=None)
    if asked := _id(request.GET.get("crew", "")):
        crews = crews.filter(pk=asked)
    bookings = (
        Booking.objects.visible_to(request.user)
        .filter(day=on, cancelled_at=None, crew__in=crews)
        .select_related("job__customer", "room")
        .order_by("half", "pk")
    )
    away: dict[UUID, list[CrewAbsence]] = defaultdict(list)
    for row in CrewAbsence.objects.visible_to(request.user).filter(day=on, crew__in=crews):
        away[row.crew_id].append(row)
    stops: dict[UUID, list[Stop]] = defaultdict(list)
    for stop in _stops(request, list(bookings)):
        stops[stop.booking.crew_id].append(stop)
    sheets = [
        Sheet(
            crew=crew,
            people=list(crew.members.all()),
            away=away[crew.pk],
            stops=stops[crew.pk],
        )
        for crew in crews.prefetch_related("members").order_by("name", "pk")
    ]
    return render(request, "scheduling/day_sheets.html", {"day": on, "sheets": sheets})


def _stops(request: PageRequest, bookings: Sequence[Booking]) -> list[Stop]:
    """What is known of every booking's room, in so many queries however many there are."""
    jobs = Job.objects.visible_to(request.user).filter(pk__in={row.job_id for row in bookings})
    floors: dict[UUID, str] = {}
    things: dict[UUID, list[str]] = defaultdict(list)
    for known in jobs_now(request.user, jobs, request.now):
        for room in known.rooms:
            floors[room.id] = str(words.EXPOSURES[room.exposure])
        for need in waiting(known, request.now).needs:
            if need.room is not None:
                things[need.room.id].append(words.sentence(need.says))
    rooms = {row.room_id for row in bookings if row.room_id}
    layers: dict[UUID, list[Layer]] = defaultdict(list)
    for layer in (
        Layer.objects.visible_to(request.user)
        .filter(room__in=rooms, placed_at=None, removed_at=None)
        .select_related("material")
        .order_by("position", "pk")
    ):
        layers[layer.room_id].append(layer)
    elements: dict[UUID, list[Element]] = defaultdict(list)
    for one in (
        Element.objects.visible_to(request.user)
        .filter(room__in=rooms, removed_at=None)
        .select_related("material")
        .order_by("label", "pk")
    ):
        elements[one.room_id].append(one)
    resting = {row.job_id for row in bookings if row.task in AFTER_COVERING}
    assumed = assumptions_of(request.user.contractor_id, resting) if resting else {}
    nowhere = UUID(int=0)  # a booking of the whole job
    return [
        Stop(
            half=str(words.HALVES[row.half]),
            booking=row,
            task=str(words.TASKS[row.task]),
            floor=floors.get(row.room_id or nowhere, ""),
            things=things[row.room_id or nowhere],
            layers=layers[row.room_id or nowhere],
            elements=elements[row.room_id or nowhere],
            assumed=assumed.get(row.job_id, ()) if row.task in AFTER_COVERING else (),
        )
        for row in bookings
    ]


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
