"""Today on the phone: the rooms, the next thing in each and why, placing a layer."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count, Exists, OuterRef, Q, Subquery
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from config.errors import DomainError
from config.instants import minute_typed
from config.pages import page
from config.tenancy import TenantQuerySet, editable, visible
from jobs.actions.pictures import picture_of, pictured
from jobs.forms.drawings import PhotoForm
from jobs.models import Member, Room
from jobs.pages.drawing import figure
from jobs.requests import PageRequest
from jobs.units import System
from readings.actions.advice import StageSet, stage_sets_of
from readings.models import FaultFound, SiteTemperature
from readings.pages.faults_found import faults_of, faults_shown
from readings.pages.words import STAGES
from scheduling.actions import warmup
from scheduling.actions.facts import assumed_in
from scheduling.actions.layers import place_layer
from scheduling.actions.now import recorded_exposure
from scheduling.forms import PlaceForm
from scheduling.models import Booking, Decision, Energizing, Layer
from scheduling.nextthing import NextThing, RoomSoFar, next_thing
from scheduling.pages import words
from scheduling.waiting import Exposure
from scheduling.warmup import Step

# Later rooms are kept on the phone too: what is booked in the next days.
AHEAD = timedelta(days=2)
# At the handover an electrician measures live: with more than this phone.
KEPT_STAGES = ("arrival", "laid", "covered")


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldRoom:
    """A room as somebody on site needs it."""

    room: Room
    exposure: Exposure
    thing: NextThing
    head: str
    why: str
    act: str
    url: str
    layer: Layer | None
    placed: list[Layer]
    sets: list[StageSet]
    heated: bool
    task: str = ""

    @property
    def said(self) -> str:
        return str(words.EXPOSURES[self.exposure])


@page("GET")
def today(request: PageRequest) -> HttpResponse:
    zone = ZoneInfo(request.user.contractor.time_zone)
    day = request.now.astimezone(zone).date()
    bookings = list(
        _bookings_of(request.user)
        .filter(day__gte=day, day__lte=day + AHEAD)
        .order_by("day", "half")
    )
    known = _rooms(request.user, Room.objects.visible_to(request.user))
    rooms = list(known.filter(job__in={row.job_id for row in bookings}).order_by("pk"))
    here = _booked(rooms, [row for row in bookings if row.day == day])
    later = _booked(rooms, [row for row in bookings if row.day > day])
    found = _field_rooms(request.user, here, request.now)
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
    room = visible(_rooms(request.user, pictured(request.user)), request.user, pk=room_id)
    system = cast(System, room.job.units)
    faults, spots = faults_shown(faults_of(request.user, room) if room.faulty else (), system)
    (each,) = _field_rooms(request.user, {room: ""}, request.now)
    context = {
        "each": each,
        "room": room,
        "zone": room.job.time_zone,
        "drawn": figure(replace(picture_of(room), faults=spots), system=system),
        "faults": faults,
        "assumed": assumed_in(each.placed),
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


def _bookings_of(member: Member) -> Any:
    """The bookings of a member's crews; of every crew, if they are in none."""
    rows = Booking.objects.visible_to(member).filter(cancelled_at=None)
    crews = member.crews.values("pk")
    return rows.filter(Q(crew__in=crews) | ~Exists(crews))


def _booked(rooms: list[Any], bookings: list[Booking]) -> dict[Room, str]:
    """The rooms that bookings are about, with the task; a booking of a job is for all its rooms."""
    found: dict[Room, str] = {}
    for row in bookings:
        for room in rooms:
            if row.room_id == room.pk or (row.room_id is None and row.job_id == room.job_id):
                found.setdefault(room, row.task)
    return found


def _rooms(member: Member, rooms: TenantQuerySet[Any]) -> TenantQuerySet[Any]:
    """Rooms with their jobs, and what lists of them ask of other tables."""
    heats = Energizing.objects.visible_to(member).filter(room=OuterRef("pk"), test_minutes=None)
    read = SiteTemperature.objects.visible_to(member).filter(room=OuterRef("pk"))
    return rooms.select_related("job").annotate(
        installed=Count("elements", filter=Q(elements__removed_at=None)),
        heated_at=Subquery(heats.order_by("pk").values("at")[:1]),
        last_temperature_at=Subquery(read.order_by("-at").values("at")[:1]),
        faulty=Exists(FaultFound.objects.visible_to(member).filter(room=OuterRef("pk"))),
    )


def _field_rooms(member: Member, rooms: Mapping[Any, str], now: datetime) -> list[FieldRoom]:
    """What is to be known of `rooms` (with the task each), in so many queries for all of them."""
    sets = stage_sets_of(list(rooms))
    decided = Decision.objects.visible_to(member).filter(room__in=rooms)
    decisions = {
        row.room_id: row for row in decided.order_by("room", "-pk").distinct("room").defer("facts")
    }
    layers: dict[UUID, list[Layer]] = defaultdict(list)
    for row in (
        Layer.objects.visible_to(member)
        .filter(room__in=rooms, removed_at=None)
        .select_related("material")
        .order_by("position")
    ):
        layers[row.room_id].append(row)
    heated = [room for room in rooms if room.heated_at]
    profiles = {room.pk: warmup.profile_of(_placed(layers[room.pk])) for room in heated}
    plans = warmup.plans_of(heated, profiles, at=now) if heated else {}
    return [
        _field_room(
            room,
            now,
            task=task,
            sets=sets[room.pk],
            decision=decisions.get(room.pk),
            layers=layers[room.pk],
            due=plans[room.pk].due if room.pk in plans else None,
        )
        for room, task in rooms.items()
    ]


def _field_room(
    room: Any,
    now: datetime,
    *,
    task: str,
    sets: list[StageSet],
    decision: Decision | None,
    layers: list[Layer],
    due: Step | None,
) -> FieldRoom:
    to_come = next((layer for layer in layers if layer.placed_at is None), None)
    placed = _placed(layers)
    embedding = [layer for layer in placed if layer.embeds]
    outcomes = {one.stage: one.outcome for one in sets if one.outcome}
    thing = next_thing(
        RoomSoFar(
            elements=room.installed,
            outcomes=outcomes,
            missing={one.stage: len(one.missing) for one in sets},
            fault_open=decision is not None and _fault_open(decision),
            covered=bool(embedding),
            layer_to_come=to_come is not None,
            may_energize=bool(decision and decision.may_energize),
            heated=room.heated_at is not None,
            step_due=due is not None and due.ends_at <= now,
            likely=decision.likely if decision else None,
            last_temperature_at=room.last_temperature_at,
        ),
        now,
    )
    return FieldRoom(
        room=room,
        exposure=recorded_exposure(
            outcomes,
            min(embedding, key=lambda layer: layer.placed_at or now, default=None),
            decision.result.get("layers") if decision else None,
            room.heated_at,
        ),
        thing=thing,
        head=words.next_head(thing, to_come),
        why=words.next_why(thing),
        act=words.next_act(thing),
        url=_url(thing, room),
        layer=to_come,
        placed=placed,
        sets=sets,
        heated=room.heated_at is not None,
        task=str(words.TASKS[task]) if task else "",
    )


def _placed(layers: Iterable[Layer]) -> list[Layer]:
    return [layer for layer in layers if layer.placed_at is not None]


def _fault_open(decision: Decision) -> bool:
    return any(hold["code"] == "open-fault" for hold in decision.result["holds"])


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
        case "open-fault":
            return reverse("room-fault", args=[room.pk])
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
