"""One job, and one room of it: where it stands, what stands in the way, who belongs to it."""

from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import get_language

from config.pages import page
from config.tenancy import TenantQuerySet, may_write, visible
from jobs.models import Control, Element, FloorSensor, Job, Member, Room
from jobs.pages.drawing import drawn
from jobs.pages.saying import in_words
from jobs.requests import PageRequest
from jobs.units import System
from readings.models import Check
from readings.pages.words import STAGES
from scheduling.actions import decisions, moved
from scheduling.actions.facts import assumed_materials
from scheduling.actions.now import jobs_now
from scheduling.chart_words import Language
from scheduling.models import (
    Booking,
    Certificate,
    DateMove,
    Decision,
    Energizing,
    Layer,
    SignOff,
    Visit,
    VisitingTrade,
)
from scheduling.pages import words
from scheduling.waiting import RoomNow, Waiting, waiting


@dataclass(frozen=True, slots=True)
class Statement:
    """What is asked of whoever looks at this, in one sentence."""

    tone: str
    mark: str
    head: str
    text: str
    url: str = ""
    label: str = ""


SHOWN_DECISIONS = 12
TONES = {"people": "stop", "proof": "ask", "dates": "ask", "papers": "ask"}


@page("GET")
def job_page(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = visible(Job.objects.select_related("customer"), request.user, pk=job_id)
    (known,) = jobs_now(request.user, _only(request, job_id), request.now)
    waits_for = waiting(known, request.now)
    bookings = (
        Booking.objects.visible_to(request.user)
        .filter(job=job, cancelled_at=None)
        .select_related("crew", "room")
        .order_by("day", "half", "pk")
    )
    visits = (
        Visit.objects.visible_to(request.user)
        .filter(job=job, cancelled_at=None)
        .select_related("room")
        .prefetch_related("notices")
        .order_by("starts_at", "pk")
    )
    context: dict[str, Any] = {
        "here": "jobs",
        "job": job,
        "statement": statement(waits_for, skip=None) if not job.closed_at else None,
        "rooms": [(room, room_words(room)) for room in known.rooms],
        "assumed": assumed_materials(list(_rooms_of(request, job))),
        "holds": [(room, hold) for room in known.rooms for hold in room.holds],
        "bookings": [(booking, words.TASKS[booking.task]) for booking in bookings[:60]],
        "visits": visits[:60],
        "trades": VisitingTrade.objects.visible_to(request.user)
        .filter(job=job)
        .order_by("company", "pk")[:60],
        "signed": SignOff.objects.visible_to(request.user).filter(job=job).order_by("pk"),
        "certificates": Certificate.objects.visible_to(request.user)
        .filter(job=job)
        .order_by("-pk"),
    }
    return render(request, "scheduling/job.html", context)


@page("GET")
def room_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    (known,) = jobs_now(request.user, _only(request, room.job_id), request.now)
    (here,) = [each for each in known.rooms if each.id == room.pk]
    waits_for = waiting(known, request.now)
    decision = Decision.objects.visible_to(request.user).filter(room=room).order_by("-pk").first()
    layers = list(
        Layer.objects.visible_to(request.user)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("position")
    )
    chart, assumed = None, []
    if any(layer.placed_at for layer in layers):  # what rests on layers takes a dozen queries
        chart = decisions.chart(
            room,
            at=request.now,
            language=cast(Language, get_language() or "en"),
            system=cast(System, room.job.units),
        )
        assumed = assumed_materials([room]).get(room.pk, [])
    context: dict[str, Any] = {
        "here": "jobs",
        "room": room,
        "zone": room.job.time_zone,
        "known": here,
        "said": room_words(here),
        "statement": statement(waits_for, skip=lambda need: need.room != here),
        "drawn": drawn(request.user, room, system=room.job.units),
        "imperial": room.job.units == "imperial",
        "layers": layers,
        "installed": installed(request.user, room),
        "decision": decision,
        "because": [in_words(one, room.job.units) for one in decision.result["because"]]
        if decision
        else [],
        "tests": Energizing.objects.visible_to(request.user)
        .filter(room=room, test_minutes__isnull=False)
        .select_related("recorded_by")
        .order_by("pk"),
        "history": history(request.user, room) if decision else [],
        "assumed": assumed,
        "unread": here.moved is not None,
        "chart": chart,
        "chart_svg": mark_safe(chart.svg) if chart else "",  # made by us, every word escaped
        "checks": Check.objects.visible_to(request.user)
        .filter(room=room, superseded_by=None)
        .order_by("-sequence")[:8],
        "stages": STAGES,
    }
    return render(request, "scheduling/room.html", context)


@page("POST")
def read_moves(request: PageRequest, room_id: UUID) -> HttpResponse:
    """The office has read why a room's date moved."""
    room = visible(Room.objects.all(), request.user, pk=room_id)
    may_write(DateMove, request.user)
    moved.read_moves(by=request.user, room=room, at=request.now)
    return redirect("room", room_id=room.pk)


def history(member: Member, room: Room) -> list[Decision]:
    """The decisions of a room that said something new, the newest first, and who was told."""
    return list(
        Decision.objects.visible_to(member)
        .filter(room=room)
        .defer("facts", "result")
        .annotate(
            told=Count("move__messages", filter=Q(move__messages__sent_at__isnull=False)),
        )
        .order_by("-pk")[:SHOWN_DECISIONS]
    )


def _rooms_of(request: PageRequest, job: Job) -> TenantQuerySet[Room]:
    return Room.objects.visible_to(request.user).filter(job=job)


def _only(request: PageRequest, job_id: UUID) -> TenantQuerySet[Job]:
    return Job.objects.visible_to(request.user).filter(pk=job_id)


def installed(member: Member, room: Room) -> list[Element | FloorSensor | Control]:
    """Everything of the catalogue that is in the room."""
    found: list[Element | FloorSensor | Control] = []
    for model in (Element, FloorSensor, Control):
        found += (
            model.objects.visible_to(member)
            .filter(room=room, removed_at=None)
            .select_related("material")
            .order_by("label", "pk")
        )
    return found


def statement(waits_for: Waiting, *, skip: Any) -> Statement | None:
    """The worst need as a statement; None where nothing needs a person."""
    for need in waits_for.needs:
        if skip is not None and skip(need):
            continue
        place = f"{need.room.name}: " if need.room is not None and skip is None else ""
        url = reverse("room", args=[need.room.id]) if need.room and skip is None else ""
        return Statement(
            tone=TONES[need.group],
            mark=need.mark,
            head=place + str(words.NEEDS_SHORT[need.says.key]),
            text=words.sentence(need.says),
            url=f"tel:{need.call}" if need.call else url,
            label=words.called(need.says) if need.call else str(words.LOOK),
        )
    return None


def room_words(room: RoomNow) -> str:
    """What a room's floor asks of whoever enters, in words."""
    return str(words.EXPOSURES[room.exposure])
