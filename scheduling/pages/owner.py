"""What the owner sees behind their private link: the date, the floor in plain words, the papers."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.http import FileResponse, Http404
from django.http.response import HttpResponseBase
from django.shortcuts import render

from config.pages import TimedRequest, private_page, public_page
from jobs.actions.links import open_link
from jobs.forms.saying import in_words
from jobs.models import Job, Link, Room
from scheduling.actions.exposures import windows_of
from scheduling.actions.facts import assumed_in, layers_of
from scheduling.actions.warmup import planned, profile_of
from scheduling.exposure import Window, exposure_at
from scheduling.models import Certificate, DateMove, Decision, Energizing, Layer
from scheduling.pages import words
from scheduling.pages.feeds import followed
from scheduling.pages.public import other_languages, speaking
from scheduling.warmup import Step


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
    assumed: Sequence[str]
    why: Sequence[str]


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


@public_page("GET")
def owner_calendar(request: TimedRequest, secret: str) -> HttpResponseBase:
    """The days of heat, the warm-up and the crews' half-days, to follow or to take over."""
    link, job = _opened(request, secret)
    return followed(request, link, language=job.customer.language)


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
    layers = layers_of(rooms)
    windows = windows_of(rooms, at=now, layers=layers)
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
            layers[room.pk],
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
    layers: Sequence[Layer],
    now: datetime,
) -> OwnersRoom:
    state = exposure_at(windows, now).state
    key: str = "warm" if heated_at and state == "embedded" else state
    starts_at = heated_at or (decision.likely if decision else None)
    steps = planned(room, starts_at=starts_at, profile=profile_of(layers))[0]
    if key == "warm" and steps and steps[-1].starts_at <= now:
        key = "warmed"
    return OwnersRoom(
        room=room,
        state=state,
        head=str(words.OWNER_HEADS[key]),
        text=str(words.OWNER_TEXTS[key]),
        heated_at=heated_at,
        decision=decision,
        steps=steps,
        moved=None if heated_at else moved,
        assumed=() if heated_at else assumed_in(layers),
        why=_why(room, decision) if decision and not heated_at else (),
    )


def _why(room: Room, decision: Decision) -> list[str]:
    return [in_words(one, room.job.units) for one in decision.result["because"]]


def _certificate(link: Link) -> Certificate | None:
    return (
        Certificate.objects.visible_to(link)
        .filter(job=link.job, voided_at=None, made_at__isnull=False)
        .defer("data")
        .first()
    )
