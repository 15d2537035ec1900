"""The crew plan: who is where, half-day by half-day, what hardens and what ends late."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Count, OuterRef, Subquery
from django.db.models.functions import JSONObject
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse

from config.pages import page
from jobs.requests import PageRequest
from scheduling.actions.planning_facts import Hardening, hardening_of
from scheduling.actions.standing import bring_up_to_date
from scheduling.models import Booking, Crew, CrewAbsence, JobWait, Plan
from scheduling.pages import words
from scheduling.workload import AFTER_COVERING

DAYS = 7
MOST_LATE = 50
HALVES = ("am", "pm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """What stands in one half-day of one crew; `kind` is booked, held, away, off or free.

    In the row of a floor it is wet (keep off) or cures (walk on it, no heat).
    """

    kind: str
    first_of_day: bool
    words: str = ""
    url: str = ""
    late: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """A job whose last booking is behind its due date."""

    job_id: UUID
    street: str
    ends_on: date
    due_on: date


@page("GET")
def plan_page(request: PageRequest) -> HttpResponse:
    bring_up_to_date(request.user, at=request.now)
    today = request.now.astimezone(ZoneInfo(request.user.contractor.time_zone)).date()
    start = _day(request.GET.get("from", "")) or today
    days = [start + timedelta(days=n) for n in range(DAYS)]
    crews: list[Any] = list(
        Crew.objects.visible_to(request.user)
        .filter(retired_at=None)
        .annotate(away_on=_absences(request, days))
        .order_by("name", "pk")
    )
    booked = _booked(request, days)
    away = {
        (crew.pk, date.fromisoformat(each["day"]), each["half"]): each["note"]
        for crew in crews
        for each in crew.away_on
    }
    latest, late_count = _latest(request)
    office = request.user.role == "office"
    rows = [
        (
            crew,
            [
                _slot(crew, day, half, booked, away, office=office)
                for day in days
                for half in HALVES
            ],
        )
        for crew in crews
    ]
    floors = _floors(request, start) if rows else []
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
        "floors": [(floor.job.street, slots) for floor, slots in floors if _hardening(slots)],
        "assumed": _assumed(booked, floors),
        "late": latest,
        "late_count": late_count,
        "before": start - timedelta(days=7),
        "after": start + timedelta(days=7),
        "zone": request.user.contractor.time_zone,
    }
    return render(request, "scheduling/plan.html", context)


Booked = dict[tuple[object, date, str], Any]
Away = dict[tuple[object, date, str], str]


def _booked(request: PageRequest, days: list[date]) -> Booked:
    rows = (
        Booking.objects.visible_to(request.user)
        .filter(day__gte=days[0], day__lte=days[-1], cancelled_at=None)
        .order_by("pk")
        .values_list(
            *("pk", "crew_id", "day", "half", "pinned", "task", "job_id", "job__street"),
            "job__wait__days_late",
            named=True,
        )
    )
    return {(row.crew_id, row.day, row.half): row for row in rows}


def _absences(request: PageRequest, days: list[date]) -> ArraySubquery:
    rows = CrewAbsence.objects.visible_to(request.user).filter(
        crew=OuterRef("pk"), day__gte=days[0], day__lte=days[-1]
    )
    return ArraySubquery(rows.values(json=JSONObject(day="day", half="half", note="note")))


def _slot(
    crew: Crew,
    day: date,
    half: str,
    booked: Booked,
    away: Away,
    *,
    office: bool,
) -> Slot:
    first = half == "am"
    if row := booked.get((crew.pk, day, half)):
        address = ("booking", row.pk) if office else ("job", row.job_id)
        return Slot(
            kind="held" if row.pinned else "booked",
            first_of_day=first,
            words=f"{row.job__street}, {words.TASKS[row.task]}",
            url=reverse(address[0], args=[address[1]]),
            late=row.job__wait__days_late is not None,
        )
    if (note := away.get((crew.pk, day, half))) is not None:
        return Slot(kind="away", first_of_day=first, words=note)
    works = crew.works[day.weekday()][HALVES.index(half)]
    return Slot(kind="free" if works else "off", first_of_day=first)


def _assumed(booked: Booked, floors: list[tuple[Hardening, list[Slot]]]) -> list[str]:
    """Materials without a data sheet on which something of these days rests."""
    waiting = {row.job_id for row in booked.values() if row.task in AFTER_COVERING}
    resting = [floor for floor, slots in floors if floor.job.pk in waiting or _hardening(slots)]
    return list(dict.fromkeys(name for floor in resting for name in floor.assumed))


def _floors(request: PageRequest, start: date) -> list[tuple[Hardening, list[Slot]]]:
    """The floors that were covered lately or are to be, and each half-day of the days shown."""
    return [
        (
            floor,
            [
                Slot(kind=_hardens(floor, slot), first_of_day=slot % 2 == 0)
                for slot in range(2 * DAYS)
            ],
        )
        for floor in hardening_of(request.user.contractor_id, start=start)
    ]


def _hardening(slots: list[Slot]) -> bool:
    return any(slot.kind != "free" for slot in slots)


def _hardens(floor: Hardening, slot: int) -> str:
    if floor.covered <= slot < floor.walk:
        return "wet"
    return "cures" if floor.walk <= slot < floor.heat else "free"


def _latest(request: PageRequest) -> tuple[list[Late], int]:
    """The jobs that end latest after they are due, and how many there are, in one query."""
    late = JobWait.objects.visible_to(request.user).filter(days_late__isnull=False)
    # Of all, not of each row: the database counts once.
    total = late.order_by().values("contractor").annotate(n=Count("pk")).values("n")
    rows = (
        late.annotate(total=Subquery(total))
        .order_by("-days_late", "job")
        .values_list("job_id", "job__street", "job__due_on", "days_late", "total")
    )
    found, count = [], 0
    for job_id, street, due_on, days, count in rows[:MOST_LATE]:  # noqa: B007 (the same in each)
        assert due_on is not None  # what is late has both
        assert days is not None
        ends_on = due_on + timedelta(days=days)
        found.append(Late(job_id=job_id, street=street, ends_on=ends_on, due_on=due_on))
    return found, count


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
