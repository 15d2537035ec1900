"""May somebody fasten here? Asked on a plan by a touch or by two distances."""

from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from config.errors import DomainError
from config.pages import page
from config.tenancy import Asker, visible
from jobs.actions.pictures import stored_picture
from jobs.clearance import Clearance, may_fasten, recorded
from jobs.drawing import room_point, touch_u_mm
from jobs.forms.drawings import AskForm
from jobs.forms.saying import in_words
from jobs.models import Room
from jobs.outline import Point
from jobs.pages.drawing import Drawn, drawn
from jobs.plan_picture import Language, PlanPicture, view
from jobs.requests import PageRequest
from jobs.units import System

# The plan that is touched is shown as wide as this, by the class that shows it: on the narrowest
# phone, and where there is room.
TOUCHED_PX = ((288, "touch-narrow"), (560, "touch-wide"))
# What is touched lies over the drawing and is empty.
NOTHING = "data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7"
TONES = {"keep out": "stop", "only after locating on site": "ask", "no cable recorded": "off"}
MARKS = {"keep out": "embedded", "only after locating on site": "embedded"}
ANSWERS = {
    "keep out": _("Keep out"),
    "only after locating on site": _("Only after locating on site"),
    "no cable recorded": _("No cable recorded here"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The question as it was put, the answer, and the plan with the place on it."""

    ask: AskForm
    answer: Clearance | None
    drawn: Drawn

    @property
    def tone(self) -> str:
        return TONES[self.answer.answer] if self.answer else ""

    @property
    def mark(self) -> str:
        return MARKS.get(self.answer.answer, "none") if self.answer else ""

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
        return str(ANSWERS[self.answer.answer]) if self.answer else ""

    @property
    def because(self) -> list[str]:
        found = self.answer.because if self.answer else ()
        return [in_words(one, self.drawn.system) for one in found]


def asked(asks: Asker, room: Room, query: QueryDict | None, *, key: str = "plan") -> Asked:
    """Answer the question in an address for a room; without one, only show the plan."""
    system = cast(System, room.job.units)
    ask = AskForm(query, system=system)
    answer, place = _answer(asks, room, ask, system) if query is not None else (None, None)
    shown = drawn(asks, room, system=system, asked=place, key=key)
    return Asked(ask=ask, answer=answer, drawn=shown)


@page("GET")
def fasten_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
    found = asked(request.user, room, request.GET or None)
    context = {
        "here": "jobs",
        "room": room,
        "asked": found,
        "touches": TOUCHED_PX,
        "nothing": NOTHING,
    }
    status = 422 if found.ask.errors else 200
    return render(request, "jobs/room_fasten.html", context, status=status)


def _answer(
    asks: Asker, room: Room, ask: AskForm, system: System
) -> tuple[Clearance | None, Point | None]:
    """The answer, and the place that it is about."""
    shown = stored_picture(asks, room)
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
            language=cast(Language, get_language()),
            system=system,
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
