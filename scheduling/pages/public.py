"""What other trades and owners see behind a private link: no account, no script needed."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from django.http import Http404
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import translation
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.pages import LANGUAGES, TimedRequest, private_page
from jobs.forms.people import AcknowledgeForm
from jobs.models import Room
from jobs.pages.fasten import NOTHING, TOUCHED_PX, Asked, asked
from scheduling.actions import notices
from scheduling.actions.facts import assumed_among
from scheduling.exposure import FORBIDS, State
from scheduling.models import Notice
from scheduling.pages import words

ACTIVITIES = ("walking", "carrying", "wet-work", "drilling", "heating-room", "switching-on")


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """One room of a notice: its statement, what may be done when, and the question asked of it."""

    room: Room
    state: str
    head: str
    text: str
    until: datetime | None
    likely: bool
    rows: list[tuple[str, str, str]]
    asked: Asked


@private_page("GET", "POST")
def notice_page(request: TimedRequest, secret: str) -> HttpResponseBase:
    row = notices.notice_by_secret(secret, at=request.now)
    if row is None:
        raise Http404
    with speaking(request, row.visit.language):
        form = AcknowledgeForm(request.POST if request.method == "POST" else None)
        try:
            if request.method == "POST" and form.is_valid():
                at = request.now
                notices.acknowledge(row=row, name=form.cleaned_data["name"], at=at)
                return redirect(f"{request.path}?{request.GET.urlencode()}#confirm")
        except DomainError as refused:
            form.refuse(refused)
        job = row.visit.job
        floors = [_floor(request, row, each) for each in row.content["conflicts"]]
        context = {
            "contractor": job.contractor,
            "job": job,
            "visit": row.visit,
            "notice": row,
            "in_force": row.withdrawn_at is None,
            "floors": floors,
            "assumed": assumed_among([floor.room for floor in floors]),
            "form": form,
            "languages": other_languages(request),
            "secret": secret,
            "touches": TOUCHED_PX,
            "nothing": NOTHING,
        }
        return render(
            request, "scheduling/notice_page.html", context, status=422 if form.errors else 200
        )


def _room_of(row: Notice, room_id: str) -> Room:
    room = (
        Room.objects.visible_to(row)
        .filter(job=row.visit.job, pk=room_id)
        .select_related("job")
        .first()
    )
    if room is None:
        raise Http404
    return room


def _floor(request: TimedRequest, row: Notice, said: dict[str, Any]) -> Floor:
    room = _room_of(row, said["room"])
    state = cast(State, said["state"])
    here = request.GET.get("room") == str(room.pk)
    until = datetime.fromisoformat(said["until"]) if said["until"] else None
    return Floor(
        room=room,
        state=state,
        head=str(words.KEEP[state]),
        text=str(words.LIES[state]),
        until=until,
        likely=said["likely"],
        rows=_may(state, until),
        asked=asked(row, room, request.GET if here else None, key=f"plan-{room.pk}"),
    )


def _may(state: State, until: datetime | None) -> list[tuple[str, str, str]]:
    """What may be done now, and once the mortar bears walking."""
    rows = []
    for activity in ACTIVITIES:
        now = _("no") if activity in FORBIDS[state] else _("nothing against it")
        later = ""
        if state == "wet" and until:
            forbidden = activity in FORBIDS["embedded"]
            later = _("never here without asking") if forbidden else _("likely possible")
            if activity == "switching-on":
                later = _("ask first")
        rows.append((str(words.ACTIVITIES[activity]), now, later))
    return rows


@contextmanager
def speaking(request: TimedRequest, language: str) -> Iterator[None]:
    """In the language that the address asks for, else in that of whom the link was made for."""
    asked = request.GET.get("lang", "")
    with translation.override(asked if asked in LANGUAGES else language):
        yield


def other_languages(request: TimedRequest) -> list[tuple[str, str, str]]:
    """Code, name and address of the page in each other language."""
    found = []
    for code, name in LANGUAGES.items():
        if code != translation.get_language():
            query = request.GET.copy()
            query["lang"] = code
            found.append((code, name, f"?{query.urlencode()}"))
    return found
