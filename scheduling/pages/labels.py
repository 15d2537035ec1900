"""Labels: made for a room by the office; the page that a label opens for whoever stands there."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse

from config.pages import TimedRequest, page, private_page
from config.tenancy import editable, may_write, visible
from jobs.actions.links import revoke_link
from jobs.labels import PAPERS
from jobs.models import Link, Room
from jobs.pages.fasten import NOTHING, TOUCHED_PX, asked
from jobs.requests import PageRequest
from scheduling.actions import labels
from scheduling.actions.exposures import windows_of
from scheduling.actions.facts import assumed_among
from scheduling.exposure import exposure_at
from scheduling.pages import words
from scheduling.pages.public import other_languages

TONES = {"none": "off", "bare": "stop", "wet": "stop", "embedded": "stop"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """What the floor is like now, in the words that a person at its door needs."""

    state: str
    tone: str
    head: str
    text: str
    until: datetime | None
    likely: bool
    forbidden: tuple[str, ...]


@page("GET", "POST")
def labels_of_room(request: PageRequest, room_id: UUID) -> HttpResponse:
    """Make a link for a room's labels, or end one; its sheets are to be had while it is shown."""
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    may_write(Link, request.user)
    of_room = Link.objects.visible_to(request.user).filter(purpose="label", subject_id=room.pk)
    shown = {"room": room, "here": "jobs"}
    if request.method == "POST" and "end" in request.POST:
        with suppress(ValueError):  # no id of ours names no link of ours
            link = editable(of_room, request.user, pk=UUID(request.POST["end"]))
            revoke_link(link=link, at=request.now)
        return redirect("labels", room_id=room.pk)
    if request.method == "POST":
        _link, secret = labels.link_for_labels(room=room, at=request.now)
        shown |= {"url": labels.address(secret), "sheet": reverse("label-sheet", args=[secret])}
    shown["links"] = of_room.filter(revoked_at=None, expires_at__gt=request.now).order_by("-pk")
    return render(request, "scheduling/labels.html", shown)


@private_page("GET")
def label(request: TimedRequest, secret: str) -> HttpResponseBase:
    """What lies in this floor, and whether one may fasten somewhere in it."""
    found = _found(secret, request.now)
    room = found.room
    question = request.GET if {"right", "into"} & request.GET.keys() or _touched(request) else None
    shown = {
        "contractor": found.link.contractor,
        "job": room.job,
        "room": room,
        "now": (now := _now(room, request.now)),
        "assumed": assumed_among([room]) if now.until and now.likely else (),
        "asked": asked(found.link, room, question, key=f"plan-{room.pk}"),
        "touches": TOUCHED_PX,
        "nothing": NOTHING,
        "languages": other_languages(request),
    }
    return render(request, "scheduling/label.html", shown)


@private_page("GET")
def label_sheet(request: TimedRequest, secret: str) -> HttpResponseBase:
    """The sheet of labels again, for whoever holds one."""
    found = _found(secret, request.now)
    wanted = request.GET.get("paper", PAPERS[0])
    if wanted not in PAPERS:
        raise Http404
    content = labels.sheet(found, secret=secret, paper=wanted, at=request.now)
    answer = HttpResponse(content, content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="labels-{wanted}.pdf"'
    return answer


def _found(secret: str, at: datetime) -> labels.Labelled:
    found = labels.labelled(secret=secret, at=at)
    if found is None:
        raise Http404
    return found


def _touched(request: TimedRequest) -> bool:
    return any(f"at{width}.x" in request.GET for width, _css in TOUCHED_PX)


def _now(room: Room, at: datetime) -> Now:
    window = exposure_at(windows_of([room], at=at)[str(room.pk)], at)
    return Now(
        state=window.state,
        tone=TONES[window.state],
        head=str(words.KEEP[window.state]),
        text=str(words.LIES[window.state]),
        until=window.ends_at if window.state in ("bare", "wet") else None,
        likely=window.likely,
        forbidden=tuple(str(words.ACTIVITIES[name]) for name in window.forbids),
    )
