"""What the owner sees behind their private link: the date, the floor in plain words, the papers."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from config.pages import TimedRequest, private_page
from jobs.actions.links import open_link
from jobs.models import Job, Link, Room
from scheduling.actions.exposures import windows_of
from scheduling.exposure import Window, exposure_at
from scheduling.models import Certificate, DateMove, Decision, Energizing
from scheduling.pages import words
from scheduling.pages.public import other_languages, speaking
from scheduling.warmup import GENTLE, Step, highest_floor, warm_up

# An owner's room is kept about so warm; the limit of a bathroom's floor follows from it.
ROOM_C = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnersRoom:
    """One floor as its owner needs to know it."""

    room: Room
    state: str
    head: str
    text: str
    heated_at: datetime | None
    decision: Decision | None
    steps: tuple[Step, ...]
    moved: DateMove | None


@private_page("GET")
def owner_page(request: TimedRequest, secret: str) -> HttpResponseBase:
    link, job = _opened(request, secret)
    with speaking(request, job.customer.language):
        rooms = _rooms(link, request.now)
        context = {
            "contractor": link.contractor,
            "job": job,
            "rooms": rooms,
            "first": _next_warm(rooms),
            "certificate": _certificate(link),
            "languages": other_languages(request),
            "secret": secret,
        }
        return render(request, "scheduling/owner.html", context)


@private_page("GET")
def owner_certificate(request: TimedRequest, secret: str) -> HttpResponseBase:
    link, _job = _opened(request, secret)
    row = _certificate(link)
    if row is None:
        raise Http404
    return FileResponse(row.pdf.open(), filename=f"certificate-{row.number}.pdf")


@private_page("GET")
def owner_calendar(request: TimedRequest, secret: str) -> HttpResponseBase:
    """The likely day of each room as a calendar entry (RFC 5545)."""
    link, job = _opened(request, secret)
    now = request.now
    calendar = Calendar()
    calendar.add("prodid", "-//Firstwarm//owner//EN")
    calendar.add("version", "2.0")
    with speaking(request, job.customer.language):
        for each in _rooms(link, now):
            if each.decision is None or each.decision.likely is None or each.heated_at:
                continue
            day = each.decision.likely.astimezone(ZoneInfo(job.time_zone)).date()
            event = Event()
            event.add("uid", f"heat-{each.room.pk}@firstwarm")
            event.add("dtstamp", now)
            event.add("dtstart", day)
            event.add("dtend", day + timedelta(days=1))
            event.add("summary", _("Heat may come on, likely: %(room)s") % {"room": each.room.name})
            event.add("location", f"{job.street}, {job.city}")
            calendar.add_component(event)
    response = HttpResponse(calendar.to_ical(), content_type="text/calendar; charset=utf-8")
    response.headers["Content-Disposition"] = 'attachment; filename="floor.ics"'
    return response


def _next_warm(rooms: list[OwnersRoom]) -> OwnersRoom | None:
    """The room whose heat comes next; one without a date comes last."""
    cold = [each for each in rooms if not each.heated_at]
    dated = [each for each in cold if each.decision and each.decision.likely]
    return min(dated, key=lambda each: each.steps[0].starts_at, default=cold[0] if cold else None)


def _opened(request: TimedRequest, secret: str) -> tuple[Link, Job]:
    link = open_link(purpose="owner", secret=secret, at=request.now)
    if link is None or link.job is None:
        raise Http404
    return link, link.job


def _rooms(link: Link, now: datetime) -> list[OwnersRoom]:
    rooms = list(
        Room.objects.visible_to(link).filter(job=link.job).select_related("job").order_by("pk")
    )
    windows = windows_of(rooms, at=now)
    heated = dict(
        Energizing.objects.visible_to(link)
        .filter(room__in=rooms, test_minutes=None)
        .values_list("room_id", "at")
    )
    decisions = {
        row.room_id: row
        for row in Decision.objects.visible_to(link)
        .filter(room__in=rooms)
        .defer("facts")
        .order_by("room_id", "-pk")
        .distinct("room_id")
    }
    moved = {
        row.room_id: row
        for row in DateMove.objects.visible_to(link)
        .filter(room__in=rooms, kind="date")
        .order_by("room_id", "-pk")
        .distinct("room_id")
    }
    return [
        _room(
            room,
            windows[str(room.pk)],
            heated.get(room.pk),
            decisions.get(room.pk),
            moved.get(room.pk),
            now,
        )
        for room in rooms
    ]


def _room(
    room: Room,
    windows: Sequence[Window],
    heated_at: datetime | None,
    decision: Decision | None,
    moved: DateMove | None,
    now: datetime,
) -> OwnersRoom:
    state = exposure_at(windows, now).state
    key = "warm" if heated_at and state == "embedded" else state
    starts_at = heated_at or (decision.likely if decision else None)
    return OwnersRoom(
        room=room,
        state=state,
        head=str(words.OWNER_HEADS[key]),
        text=str(words.OWNER_TEXTS[key]),
        heated_at=heated_at,
        decision=decision,
        steps=_steps(room, starts_at) if starts_at else (),
        moved=None if heated_at else moved,
    )


def _steps(room: Room, starts_at: datetime) -> tuple[Step, ...]:
    highest = highest_floor(zone="occupied", room_c=ROOM_C, covering=room.covering)
    return warm_up(
        starts_at=starts_at,
        zone=ZoneInfo(room.job.time_zone),
        profile=GENTLE,
        highest_c=highest.celsius,
        counting="calendar",
    )


def _certificate(link: Link) -> Certificate | None:
    return (
        Certificate.objects.visible_to(link)
        .filter(job=link.job, voided_at=None, made_at__isnull=False)
        .defer("data")
        .first()
    )
