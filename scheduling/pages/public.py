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
from jobs.actions.pictures import stored_picture
from jobs.clearance import Clearance, may_fasten, recorded
from jobs.drawing import room_point, touch_u_mm
from jobs.forms import AcknowledgeForm, AskForm
from jobs.models import Room
from jobs.outline import Point
from jobs.pages.drawing import drawn
from jobs.plan_picture import Language, PlanPicture, view
from jobs.units import System
from scheduling.actions import notices
from scheduling.exposure import FORBIDS, State
from scheduling.models import Notice
from scheduling.pages import words

# The plan that is touched is shown as wide as this, by the class that shows it: on the narrowest
# phone, and where there is room.
TOUCHED_PX = ((288, "touch-narrow"), (560, "touch-wide"))
# What is touched lies over the drawing and is empty.
NOTHING = "data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7"
ACTIVITIES = ("walking", "carrying", "wet-work", "drilling", "heating-room", "switching-on")
TONES = {"keep out": "stop", "only after locating on site": "ask", "no cable recorded": "off"}
MARKS = {"keep out": "embedded", "only after locating on site": "embedded"}


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
    drawn: Any
    ask: AskForm
    answer: Clearance | None
    tone: str
    mark: str

    @property
    def distances(self) -> list[Any]:
        return [self.ask["right"], self.ask["into"]]

    @property
    def says(self) -> str:
        """The answer without the words that its head has said already."""
        said = self.answer.says if self.answer else ""
        return said.partition(". ")[2] or said

    @property
    def short(self) -> str:
        return str(words.ANSWERS[self.answer.answer]) if self.answer else ""


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
    ask = AskForm(request.GET if here else None)
    answer, place = None, None
    if here:
        answer, place = _answer(row, room, ask)
    until = datetime.fromisoformat(said["until"]) if said["until"] else None
    return Floor(
        room=room,
        state=state,
        head=str(words.KEEP[state]),
        text=str(words.LIES[state]),
        until=until,
        likely=said["likely"],
        rows=_may(state, until),
        drawn=drawn(row, room, system=room.job.units, asked=place, key=f"plan-{room.pk}"),
        ask=ask,
        answer=answer,
        tone=TONES[answer.answer] if answer else "",
        mark=MARKS.get(answer.answer, "none") if answer else "",
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


def _answer(row: Notice, room: Room, ask: AskForm) -> tuple[Clearance | None, Point | None]:
    """The answer to the question in the address, and the place that it is about."""
    shown = stored_picture(row, room)
    if not ask.is_valid() or (place := _place(shown, ask)) is None:
        return None, None
    touch = ask.touched()
    doubt = touch_u_mm(shown, width=touch.width) if touch else 0.0
    try:
        answer = may_fasten(
            recorded(shown),
            place,
            depth_mm=ask.cleaned_data["depth"] or AskForm.USUAL_DEPTH_MM,
            drill_mm=ask.cleaned_data["drill"] or AskForm.USUAL_DRILL_MM,
            where_u_mm=doubt,
            language=cast(Language, translation.get_language()),
            system=cast(System, room.job.units),
        )
    except DomainError as refused:
        ask.refuse(refused)
        return None, None
    return answer, place


def _place(shown: PlanPicture, ask: AskForm) -> Point | None:
    """The place asked about in the room's coordinates: touched, or measured from the door."""
    given = ask.cleaned_data
    if touch := ask.touched():
        return room_point(shown, touch.x, touch.y, width=touch.width)
    if given.get("right") is not None and given.get("into") is not None:
        return view(shown).stored((given["right"], given["into"]))
    return None


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
