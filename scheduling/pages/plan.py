"""The crew plan: who is where, half-day by half-day."""

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse

from config.pages import page
from jobs.requests import PageRequest
from scheduling.models import Booking, Crew, CrewAbsence, Plan
from scheduling.pages import words

DAYS = 7
HALVES = ("am", "pm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """What stands in one half-day of one crew; `kind` is booked, held, away or free."""

    kind: str
    first_of_day: bool
    words: str = ""
    url: str = ""


@page("GET")
def plan_page(request: PageRequest) -> HttpResponse:
    today = request.now.astimezone(ZoneInfo(request.user.contractor.time_zone)).date()
    start = _day(request.GET.get("from", "")) or today
    days = [start + timedelta(days=n) for n in range(DAYS)]
    crews = list(
        Crew.objects.visible_to(request.user).filter(retired_at=None).order_by("name", "pk")
    )
    booked = _booked(request, days)
    away = _away(request, days)
    rows = [
        (crew, [_slot(crew, day, half, booked, away) for day in days for half in HALVES])
        for crew in crews
    ]
    context = {
        "here": "plan",
        "open_plan": Plan.objects.visible_to(request.user)
        .filter(state__in=("queued", "solving", "proposed"))
        .only("pk", "state", "contractor_id")
        .order_by("-pk")
        .first(),
        "days": days,
        "halves": [half for _ in days for half in HALVES],
        "rows": rows,
        "before": start - timedelta(days=7),
        "after": start + timedelta(days=7),
        "zone": request.user.contractor.time_zone,
    }
    return render(request, "scheduling/plan.html", context)


Booked = dict[tuple[object, date, str], Booking]
Away = dict[tuple[object, date, str], CrewAbsence]


def _booked(request: PageRequest, days: list[date]) -> Booked:
    rows = (
        Booking.objects.visible_to(request.user)
        .filter(day__gte=days[0], day__lte=days[-1], cancelled_at=None)
        .select_related("job", "room")
        .order_by("pk")
    )
    return {(row.crew_id, row.day, row.half): row for row in rows}


def _away(request: PageRequest, days: list[date]) -> Away:
    rows = CrewAbsence.objects.visible_to(request.user).filter(day__gte=days[0], day__lte=days[-1])
    return {(row.crew_id, row.day, row.half): row for row in rows.order_by("pk")}


def _slot(crew: Crew, day: date, half: str, booked: Booked, away: Away) -> Slot:
    first = half == "am"
    if row := booked.get((crew.pk, day, half)):
        place = f"{row.job.street}, {words.TASKS[row.task]}"
        return Slot(
            kind="held" if row.pinned else "booked",
            first_of_day=first,
            words=place,
            url=reverse("job", args=[row.job_id]),
        )
    if absence := away.get((crew.pk, day, half)):
        return Slot(kind="away", first_of_day=first, words=absence.note)
    works = crew.works[day.weekday()][HALVES.index(half)]
    return Slot(kind="free" if works else "off", first_of_day=first)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
