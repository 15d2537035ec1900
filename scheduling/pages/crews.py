"""Crews: who works together, what they can do, when they work, and when they are away."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import editable, may_write, visible
from jobs.pages.filling import filled, offer, sent
from jobs.requests import PageRequest
from scheduling.actions import crews
from scheduling.forms import WORKING_HALVES, AwayForm, CrewForm, ToolForm
from scheduling.models import Crew, CrewAbsence, Tool
from scheduling.pages import words

HOLIDAYS_AHEAD = timedelta(days=120)


@page("GET")
def crew_list(request: PageRequest) -> HttpResponse:
    rows = (
        Crew.objects.visible_to(request.user)
        .filter(retired_at=None)
        .prefetch_related("members")
        .order_by("name", "pk")[:500]
    )
    shown = {
        "rows": [(row, [words.SKILLS.get(skill, skill) for skill in row.skills]) for row in rows],
        "tools": Tool.objects.visible_to(request.user).order_by("name", "pk")[:500],
        "here": "plan",
    }
    return render(request, "scheduling/crews.html", shown)


@page("GET", "POST")
def crew_add(request: PageRequest) -> HttpResponse:
    may_write(Crew, request.user)
    form = _form(request, initial={"works": [half for half, day in WORKING_HALVES if day < 5]})

    def do(given: dict[str, Any]) -> HttpResponse:
        del given["version"]
        members = _members(request, given.pop("members"))
        row = crews.add_crew(by=request.user, members=members, fields=_fields(given))
        return redirect("crew", crew_id=row.pk)

    title = _("Put a crew together")
    return filled(request, form, do, title=title, act=_("Put it together"), here="plan")


@page("GET", "POST")
def crew(request: PageRequest, crew_id: UUID) -> HttpResponse:
    """A crew, and the half-days to come in which it is away; more of them can be noted."""
    row = visible(Crew.objects.all(), request.user, pk=crew_id)
    if request.method == "POST":
        may_write(CrewAbsence, request.user)

    def do(given: dict[str, Any]) -> HttpResponse:
        days = _days(given["first_on"], given["last_on"])
        half_days = [(day, half) for day in days for half in given["halves"]]
        crews.be_away(crew=row, half_days=half_days, note=given["note"])
        return redirect("crew", crew_id=row.pk)

    form = AwayForm(sent(request), initial={"halves": ["am", "pm"]})
    offer(form, halves=words.HALVES)
    return filled(
        request,
        form,
        do,
        template="scheduling/crew.html",
        crew=row,
        skills=[words.SKILLS.get(skill, skill) for skill in row.skills],
        members=row.members.order_by("name", "pk"),
        away=[
            (each, words.HALVES[each.half])
            for each in row.absences.filter(day__gte=request.now.date()).order_by("day", "half")
        ],
        holidays=_holidays(row, request.now.date()),
        zone=request.user.contractor.time_zone,
        here="plan",
    )


def _holidays(row: Crew, today: date) -> list[tuple[date, str]]:
    """Days off to come that the crew keeps with the whole country."""
    if not row.keeps_holidays:
        return []
    last = today + HOLIDAYS_AHEAD
    return sorted(crews.holidays_of(row.contractor, first=today, last=last).items())


@page("GET", "POST")
def crew_edit(request: PageRequest, crew_id: UUID) -> HttpResponse:
    row = editable(Crew.objects.all(), request.user, pk=crew_id)
    works = [
        half
        for (half, day), on in zip(
            WORKING_HALVES, (on for pair in row.works for on in pair), strict=True
        )
        if on
    ]
    kept = {
        "name": row.name,
        "skills": row.skills,
        "members": [str(member.pk) for member in row.members.all()],
        "works": works,
        "keeps_holidays": row.keeps_holidays,
        "version": row.version,
    }
    form = _form(request, initial=kept)

    def do(given: dict[str, Any]) -> HttpResponse:
        version = given.pop("version") or 0
        members = _members(request, given.pop("members"))
        crews.change_crew(crew=row, version=version, members=members, fields=_fields(given))
        return redirect("crew", crew_id=row.pk)

    return filled(request, form, do, title=row.name, act=_("Keep these"), here="plan")


@page("GET", "POST")
def crew_retire(request: PageRequest, crew_id: UUID) -> HttpResponse:
    row = editable(Crew.objects.all(), request.user, pk=crew_id)

    def do(_given: dict[str, Any]) -> HttpResponse:
        retired = {"retired_at": request.now}
        crews.change_crew(crew=row, version=row.version, members=None, fields=retired)
        return redirect("crews")

    lead = _("Nobody can book it any more. What it is booked for stays, until somebody moves it.")
    title = _("Retire %(name)s") % {"name": row.name}
    form = ConfirmForm(sent(request))
    return filled(request, form, do, title=title, act=_("Retire it"), lead=lead, here="plan")


@page("POST")
def absence_end(request: PageRequest, absence_id: UUID) -> HttpResponse:
    row = editable(CrewAbsence.objects.all(), request.user, pk=absence_id)
    crew_id = row.crew_id
    row.delete()
    return redirect("crew", crew_id=crew_id)


@page("GET", "POST")
def tool_add(request: PageRequest) -> HttpResponse:
    may_write(Tool, request.user)

    def do(given: dict[str, Any]) -> HttpResponse:
        fields = {"name": given["name"], "capacity": int(given["capacity"])}
        crews.add_tool(by=request.user, fields=fields)
        return redirect("crews")

    title = _("Note a shared tool")
    lead = _("Something of which there are only so many: a tester, a drying heater.")
    form = ToolForm(sent(request))
    return filled(request, form, do, title=title, act=_("Note it"), lead=lead, here="plan")


def _form(request: PageRequest, *, initial: dict[str, Any]) -> CrewForm:
    form = CrewForm(sent(request), initial=initial)
    people = request.user.contractor.members.filter(is_active=True).order_by("name", "pk")
    offer(form, skills=words.SKILLS, members={str(each.pk): each.name for each in people})
    return form


def _members(request: PageRequest, ids: list[str]) -> list[Any]:
    return list(request.user.contractor.members.filter(pk__in=ids, is_active=True))


def _fields(given: dict[str, Any]) -> dict[str, Any]:
    chosen = set(given.pop("works"))
    halves = [int(half in chosen) for half, _day in WORKING_HALVES]
    return {**given, "works": [halves[at : at + 2] for at in range(0, 14, 2)]}


def _days(first: date, last: date) -> list[date]:
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]
