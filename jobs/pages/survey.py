"""The survey of a room: each question with what is known of it, opening to its fields."""

from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.forms import BoundField
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.etags import change_row
from config.pages import page
from config.tenancy import editable, visible
from jobs.actions.worked_out import facts_of, survey_of
from jobs.forms.saying import in_words
from jobs.models import Room
from jobs.pages.figure_forms import SurveyForm
from jobs.pages.filling import sent
from jobs.requests import PageRequest
from jobs.survey import SUPPLIED, read_facts
from jobs.units import System, typed_length

MARKS = {"known": "cleared", "missing": "todo", "problem": "hold"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question: the mark of its state, what is known, and the fields that answer it."""

    mark: str
    state: str
    asks: str
    says: str
    because: str
    fields: list[BoundField]


@page("GET", "POST")
def survey_page(request: PageRequest, room_id: UUID) -> HttpResponse:
    rows = Room.objects.select_related("job")
    if request.method == "POST":
        room = editable(rows, request.user, pk=room_id)
    else:
        room = visible(rows, request.user, pk=room_id)
    system = cast(System, room.job.units)
    form = SurveyForm(sent(request), system=system, initial=_typed(room, system))
    try:
        if request.method == "POST" and form.is_valid():
            facts = form.facts()
            read_facts(facts_of(facts))
            version = form.cleaned_data["version"]
            change_row(room, version=version or 0, fields={"survey": facts})
            messages.success(request, _("The survey is kept."))
            return redirect("room-survey", room_id=room.pk)
    except DomainError as refused:
        form.refuse(refused)
    found = survey_of(request.user, room)
    words = {"known": _("Known"), "missing": _("To find out"), "problem": _("To solve")}
    context = {
        "here": "jobs",
        "room": room,
        "form": form,
        "may_order": found.may_order,
        "says": in_words(found.says, system),
        "questions": [
            Question(
                mark=MARKS[item.state],
                state=words[item.state],
                asks=in_words(item.question, system),
                says=in_words(item.says, system),
                because=in_words(item.because, system),
                fields=[form[name] for name in SurveyForm.ANSWERS[item.key]],
            )
            for item in found.items
        ],
    }
    return render(request, "jobs/room_survey.html", context, status=422 if form.errors else 200)


def _typed(room: Room, system: System) -> dict[str, Any]:
    """The facts as they are typed."""
    typed: dict[str, Any] = {"version": room.version}
    for name, value in room.survey.items():
        if name == "layers":
            typed[name] = "\n".join(
                f"{layer['use']} {typed_length(layer['mm'], system)}" for layer in value
            )
        elif name == "supplied_by":
            typed |= {f"supplied_{thing}": value.get(thing, "") for thing in SUPPLIED}
        elif isinstance(value, bool):
            typed[name] = "yes" if value else "no"
        elif name in SurveyForm.LENGTHS:
            typed[name] = typed_length(value, system)
        else:
            typed[name] = value
    return typed
