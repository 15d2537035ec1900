"""A proposal of the planner, shown as what it would change; accepted whole or left."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext

from config.errors import DomainError
from config.forms import ConfirmForm
from config.pages import page
from config.tenancy import editable, may_write, visible
from config.wording import in_language
from jobs.models import Job
from jobs.requests import PageRequest
from scheduling.actions import plans
from scheduling.actions.planning_facts import assumptions_of
from scheduling.models import Booking, Crew, Plan
from scheduling.pages import words
from scheduling.workload import AFTER_COVERING

# How long the planner may look, and for how many days what is booked stays.
SECONDS, FROZEN_DAYS = 10.0, 2
SHOWN_DAYS = 14
HALVES = ("am", "pm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One booking that moves: where it was and where it would be, None for nowhere."""

    street: str
    task: str
    assumed: Sequence[str]
    was: tuple[str, date, str] | None
    now: tuple[str, date, str] | None
    because: str


@page("POST")
def ask(request: PageRequest) -> HttpResponse:
    may_write(Plan, request.user)
    try:
        row = plans.ask_for_plan(
            by=request.user,
            seconds=SECONDS,
            seed=1,
            frozen_days=FROZEN_DAYS,
            lateness_first=False,
            at=request.now,
        )
    except DomainError as refused:
        return _refused(request, refused)
    return redirect("proposal", plan_id=row.pk)


@page("GET", "POST")
def proposal(request: PageRequest, plan_id: UUID) -> HttpResponse:
    row = visible(Plan.objects.all(), request.user, pk=plan_id)
    form = ConfirmForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        row = editable(Plan.objects.all(), request.user, pk=plan_id)
        try:
            settle = plans.accept_plan if "accept" in request.POST else plans.cancel_plan
            settle(by=request.user, plan=row, at=request.now)
            return redirect("plan")
        except DomainError as refused:
            form.full_clean()
            form.refuse(refused)
    proposed = row.state == "proposed"
    changes = _changes(request, row) if proposed else []
    without_place = plans.without_place(row) if proposed else []
    late = plans.late_jobs(row) if proposed else []
    short = {each.job_id for each in without_place}
    context = {
        "here": "plan",
        "plan": row,
        "form": form,
        "changes": changes,
        "zone": request.user.contractor.time_zone,
        "objective": row.objective or {},
        "without_place": [(each, words.TASKS.get(each.task, each.task)) for each in without_place],
        "late": [(each, each.job_id in short) for each in late],
        **_table(request, changes),
    }
    status = 422 if form.errors else 200
    return render(request, "scheduling/proposal.html", context, status=status)


def _changes(request: PageRequest, row: Plan) -> list[Change]:
    moves = plans.differences(row)
    streets = dict(
        Job.objects.visible_to(request.user)
        .filter(pk__in={move.job_id for move in moves})
        .values_list("pk", "street")
    )
    waiting = {UUID(move.job_id) for move in moves if move.task in AFTER_COVERING}
    assumed = assumptions_of(row.contractor_id, waiting) if waiting else {}
    return [
        Change(
            street=streets.get(UUID(move.job_id), ""),
            assumed=assumed.get(UUID(move.job_id), ()) if move.task in AFTER_COVERING else (),
            task=str(words.TASKS.get(move.task, move.task)),
            was=_place(move.from_crew, move.from_day, move.from_half),
            now=_place(move.to_crew, move.to_day, move.to_half),
            because="; ".join(map(in_language, move.because)),
        )
        for move in moves
    ]


def _place(crew: str | None, day: str | None, half: str | None) -> tuple[str, date, str] | None:
    if crew is None or day is None or half is None:
        return None
    return crew, date.fromisoformat(day), half


def _table(request: PageRequest, changes: list[Change]) -> dict[str, Any]:
    """Crews by half-days around the changes: what goes, what comes, what stays."""
    if not changes:
        return {"rows": [], "days": []}
    touched = [place[1] for each in changes for place in (each.was, each.now) if place]
    start = min(touched)
    days = [
        start + timedelta(days=n) for n in range(min((max(touched) - start).days + 1, SHOWN_DAYS))
    ]
    gone = {each.was: f"{each.street}, {each.task}" for each in changes if each.was}
    new = {each.now: f"{each.street}, {each.task}" for each in changes if each.now}
    stays = {
        (row.crew.name, row.day, row.half): row
        for row in Booking.objects.visible_to(request.user)
        .filter(day__gte=days[0], day__lte=days[-1], cancelled_at=None)
        .select_related("crew", "job")
    }
    names = list(
        Crew.objects.visible_to(request.user)
        .filter(retired_at=None)
        .order_by("name", "pk")
        .values_list("name", flat=True)
    )
    rows = []
    for name in names:
        slots = []
        for day in days:
            for half in HALVES:
                key = (name, day, half)
                slot = {"first": half == "am", "gone": gone.get(key), "new": new.get(key)}
                if (kept := stays.get(key)) and key not in gone:
                    slot["stays"] = f"{kept.job.street}, {words.TASKS[kept.task]}"
                    slot["held"] = kept.pinned
                slots.append(slot)
        rows.append((name, slots))
    return {"rows": rows, "days": days, "halves": [half for _ in days for half in HALVES]}


def _refused(request: PageRequest, refused: DomainError) -> HttpResponse:
    form = ConfirmForm({})
    form.full_clean()
    form.refuse(refused)
    under_way = (
        Plan.objects.visible_to(request.user)
        .filter(state__in=("queued", "solving"))
        .order_by("-pk")
        .first()
    )
    if under_way is not None:
        return redirect("proposal", plan_id=under_way.pk)
    context = {"title": gettext("No plan was asked for"), "detail": refused.detail}
    return render(request, "problem.html", context, status=422)
