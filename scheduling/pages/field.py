"""Today on the phone: the rooms, the next thing in each and why, placing a layer."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Max
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from config.errors import DomainError
from config.pages import page
from config.tenancy import editable, visible
from jobs.forms import PhotoForm
from jobs.models import Member, Room
from jobs.pages.drawing import drawn
from jobs.requests import PageRequest
from readings.actions.advice import StageSet, stage_sets
from readings.models import SiteTemperature
from readings.pages.words import STAGES
from scheduling.actions import warmup
from scheduling.actions.exposures import windows_of
from scheduling.actions.facts import assumed_materials
from scheduling.actions.layers import place_layer
from scheduling.exposure import Window, exposure_at
from scheduling.forms import PlaceForm
from scheduling.models import Booking, Decision, Energizing, Layer
from scheduling.nextthing import NextThing, RoomSoFar, next_thing
from scheduling.pages import words

# Later rooms are kept on the phone too: what is booked in the next days.
AHEAD = timedelta(days=2)
# At the handover an electrician measures live: with more than this phone.
KEPT_STAGES = ("arrival", "laid", "covered")


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldRoom:
    """A room as somebody on site needs it."""

    room: Room
    window: Window
    thing: NextThing
    head: str
    why: str
    act: str
    url: str
    layer: Layer | None
    sets: list[StageSet]
    heated: bool
    task: str = ""

    @property
    def said(self) -> str:
        return str(words.EXPOSURES[self.window.state])


@page("GET")
def today(request: PageRequest) -> HttpResponse:
    zone = ZoneInfo(request.user.contractor.time_zone)
    day = request.now.astimezone(zone).date()
    bookings = list(
        _bookings_of(request.user)
        .filter(day__gte=day, day__lte=day + AHEAD)
        .order_by("day", "half")
    )
    here = _rooms_of(request.user, [row for row in bookings if row.day == day])
    later = _rooms_of(request.user, [row for row in bookings if row.day > day])
    found = [_field_room(request.user, room, request.now, task) for room, task in here.items()]
    urgent = next((each for each in found if each.thing.key not in ("wait", "nothing")), None)
    context = {
        "day": request.now,
        "zone": zone.key,
        "rooms": found,
        "later": [(room, words.TASKS[task]) for room, task in later.items() if room not in here],
        "next": urgent,
        "keep": [
            reverse("today"),
            reverse("outbox"),
            *(address for each in found for address in _kept(each)),
        ],
    }
    return render(request, "scheduling/today.html", context)


@page("GET")
def field_room(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    each = _field_room(request.user, room, request.now)
    context = {
        "each": each,
        "room": room,
        "zone": room.job.time_zone,
        "drawn": drawn(request.user, room, system=room.job.units),
        "assumed": assumed_materials([room]).get(room.pk, ()),
        "not_dead": request.GET.get("dead") == "no",
        "photo_kept": request.GET.get("photo") == "kept",
        "photo_form": PhotoForm() if request.user.role != "viewer" else None,
        "sets": [
            (one, STAGES[one.stage]) for one in each.sets if one.needed and one.stage != "service"
        ],
    }
    return render(request, "scheduling/field_room.html", context)


@page("GET", "POST")
def place(request: PageRequest, room_id: UUID) -> HttpResponse:
    """Say that the next layer is laid now."""
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    layer = _layer_to_come(request.user, room)
    if layer is None:
        raise Http404
    zone = ZoneInfo(room.job.time_zone)
    local = request.now.astimezone(zone)
    form = PlaceForm(
        request.POST if request.method == "POST" else None,
        initial={"placed_at": local.strftime("%Y-%m-%dT%H:%M"), "version": layer.version},
    )
    if request.method == "POST":
        layer = editable(Layer.objects.all(), request.user, pk=layer.pk)
    try:
        if request.method == "POST" and form.is_valid():
            placed_at = minute_typed(form.cleaned_data["placed_at"], zone, request.now)
            place_layer(
                by=request.user,
                layer=layer,
                version=form.cleaned_data["version"],
                placed_at=placed_at,
                at=request.now,
            )
            return redirect("field-room", room_id=room.pk)
    except DomainError as refused:
        form.refuse(refused)
    context = {"room": room, "layer": layer, "form": form}
    return render(request, "scheduling/place.html", context, status=422 if form.errors else 200)


def minute_typed(local: datetime, zone: ZoneInfo, now: datetime) -> datetime:
    """The instant of a time that was typed to the minute: its end, as far as that has come.

    Counted from the start of the minute, mortar would be older than it is, and what was done
    within the same minute would come after it.
    """
    start = local.replace(tzinfo=zone)
    end = start + timedelta(seconds=59)
    return now if start <= now < end else end


def _bookings_of(member: Member) -> Any:
    """The bookings of a member's crews; of every crew, if they are in none."""
    rows = Booking.objects.visible_to(member).filter(cancelled_at=None)
    crews = list(member.crews.values_list("pk", flat=True))
    return rows.filter(crew__in=crews) if crews else rows


def _rooms_of(member: Member, bookings: list[Booking]) -> dict[Room, str]:
    """The rooms that bookings are about, with the task; a booking of a job is for all its rooms."""
    jobs = {row.job_id for row in bookings}
    rooms = Room.objects.visible_to(member).filter(job__in=jobs).select_related("job")
    found: dict[Room, str] = {}
    for row in bookings:
        for room in rooms.order_by("pk"):
            if row.room_id == room.pk or (row.room_id is None and row.job_id == room.job_id):
                found.setdefault(room, row.task)
    return found


def _field_room(member: Member, room: Room, now: datetime, task: str = "") -> FieldRoom:
    sets = stage_sets(room)
    window = exposure_at(windows_of([room], at=now)[str(room.pk)], now)
    layer = _layer_to_come(member, room)
    decision = Decision.objects.visible_to(member).filter(room=room).order_by("-pk").first()
    warm = SiteTemperature.objects.visible_to(member).filter(room=room).aggregate(last=Max("at"))
    placed = Layer.objects.visible_to(member).filter(
        room=room, embeds=True, placed_at__isnull=False, removed_at=None
    )
    heated = Energizing.objects.visible_to(member).filter(room=room, test_minutes=None)
    is_heated = heated.exists()
    due = warmup.plan_of(room, at=now).due if is_heated else None
    step_due = due is not None and due.ends_at <= now
    so_far = RoomSoFar(
        elements=room.elements.filter(removed_at=None).count(),
        outcomes={one.stage: one.outcome for one in sets if one.outcome},
        missing={one.stage: len(one.missing) for one in sets},
        covered=placed.exists(),
        layer_to_come=layer is not None,
        may_energize=bool(decision and decision.may_energize),
        heated=is_heated,
        step_due=step_due,
        likely=decision.likely if decision else None,
        last_temperature_at=warm["last"],
    )
    thing = next_thing(so_far, now)
    return FieldRoom(
        room=room,
        window=window,
        thing=thing,
        head=words.next_head(thing, layer),
        why=words.next_why(thing),
        act=words.next_act(thing),
        url=_url(thing, room),
        layer=layer,
        sets=sets,
        heated=is_heated,
        task=str(words.TASKS[task]) if task else "",
    )


def _layer_to_come(member: Member, room: Room) -> Layer | None:
    return (
        Layer.objects.visible_to(member)
        .filter(room=room, placed_at=None, removed_at=None)
        .select_related("material")
        .order_by("position")
        .first()
    )


def _url(thing: NextThing, room: Room) -> str:
    match thing.key:
        case "measure":
            return reverse("measure", args=[room.pk, thing.stage])
        case "place":
            return reverse("place-layer", args=[room.pk])
        case "thermometer":
            return reverse("thermometer", args=[room.pk])
        case "warm-up":
            return reverse("field-warm-up", args=[room.pk])
        case "find-fault":
            return reverse("checks", args=[room.pk])
    return ""


def _kept(each: FieldRoom) -> list[str]:
    """Addresses that are kept on the phone for a room: whatever may be done there today."""
    room = each.room
    found = [reverse("field-room", args=[room.pk]), reverse("thermometer", args=[room.pk])]
    for one in each.sets:
        if one.stage in KEPT_STAGES and one.outcome != "pass":
            found.append(reverse("measure", args=[room.pk, one.stage]))
            count = len(one.needed)
            found += [
                reverse("measure-step", args=[room.pk, one.stage, n + 1]) for n in range(count)
            ]
    return found
