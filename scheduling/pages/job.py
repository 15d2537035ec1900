"""One job, and one room of it: where it stands, what stands in the way, who belongs to it."""

from dataclasses import dataclass, replace
from typing import Any, cast
from uuid import UUID

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import JSONObject
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from config.pages import page
from config.tenancy import TenantQuerySet, may_write, visible
from jobs.actions.pictures import picture_of, pictured
from jobs.forms.saying import in_words
from jobs.models import Control, Element, FloorSensor, InstalledModel, Job, Member, Room
from jobs.pages.drawing import figure
from jobs.requests import PageRequest
from jobs.units import System
from readings.models import Check, FaultFound
from readings.pages.faults_found import faults_of, faults_shown
from readings.pages.words import STAGES
from scheduling.actions import moved
from scheduling.actions.now import jobs_now
from scheduling.models import (
    Booking,
    Certificate,
    DateMove,
    Decision,
    Energizing,
    Layer,
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
        "holds": [(room, hold) for room in known.rooms for hold in room.holds],
        "bookings": [(booking, words.TASKS[booking.task]) for booking in bookings[:60]],
        "visits": visits[:60],
        "trades": VisitingTrade.objects.visible_to(request.user)
        .filter(job=job)
        .order_by("company", "pk")[:60],
        "certificates": Certificate.objects.visible_to(request.user)
        .filter(job=job)
        .order_by("-pk"),
    }
    return render(request, "scheduling/job.html", context)


@page("GET")
def room_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(_rooms(request.user), request.user, pk=room_id)
    system = cast(System, room.job.units)
    faults, spots = faults_shown(faults_of(request.user, room) if room.faulty else (), system)
    (known,) = jobs_now(request.user, _only(request, room.job_id), request.now)
    (here,) = [each for each in known.rooms if each.id == room.pk]
    waits_for = waiting(known, request.now)
    history = list(decided(request.user, room))
    decision = history[0] if history else None
    layers = list(
        Layer.objects.visible_to(request.user)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("position")
    )
    context: dict[str, Any] = {
        "here": "jobs",
        "room": room,
        "zone": room.job.time_zone,
        "known": here,
        "said": room_words(here),
        "statement": statement(waits_for, skip=lambda need: need.room != here),
        "drawn": figure(replace(picture_of(room), faults=spots), system=system),
        "faults": faults,
        "imperial": room.job.units == "imperial",
        "layers": layers,
        "installed": [*room.elements_in, *room.sensors_in, *room.controls_in],
        "decision": decision,
        "because": [in_words(one, room.job.units) for one in decision.because] if decision else [],
        "tests": Energizing.objects.visible_to(request.user)
        .filter(room=room, test_minutes__isnull=False)
        .select_related("recorded_by")
        .order_by("pk"),
        "history": history,
        "assumed": here.assumed,
        "hardens": any(layer.placed_at for layer in layers),
        "unread": here.moved is not None,
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


def decided(member: Member, room: Room) -> QuerySet[Any]:
    """The decisions of a room that said something new, the newest first, and who was told."""
    return (
        Decision.objects.visible_to(member)
        .filter(room=room)
        .defer("facts", "result")
        .annotate(
            because=F("result__because"),
            caution=F("result__caution"),
            told=Count("move__messages", filter=Q(move__messages__sent_at__isnull=False)),
        )
        .order_by("-pk")[:SHOWN_DECISIONS]
    )


def _rooms(member: Member) -> TenantQuerySet[Any]:
    """Rooms with their jobs and pictures, everything of the catalogue that is in them, and whether
    a fault was found there."""

    def installed(model: type[InstalledModel], **more: str) -> ArraySubquery:
        rows = model.objects.visible_to(member).filter(room=OuterRef("pk"), removed_at=None)
        shown = JSONObject(label="label", name="material__name", serial="serial", **more)
        return ArraySubquery(rows.order_by("label", "pk").values(json=shown))

    rows = pictured(member).select_related("job")
    return rows.annotate(
        elements_in=installed(Element, tag_ohms="tag_ohms"),
        sensors_in=installed(FloorSensor),
        controls_in=installed(Control),
        faulty=Exists(FaultFound.objects.visible_to(member).filter(room=OuterRef("pk"))),
    )


def _only(request: PageRequest, job_id: UUID) -> TenantQuerySet[Job]:
    return Job.objects.visible_to(request.user).filter(pk=job_id)


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
