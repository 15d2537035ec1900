"""Plans: asked for, worked out by a worker, shown as a difference, accepted whole or not at all."""

import hashlib
import json
import threading
import time
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.db import transaction
from uuid_utils.compat import uuid7

from config.celery import wake
from config.errors import DomainError
from config.sentence import Sentence, joined
from config.tenancy import told
from jobs.models import Job, Member
from scheduling.actions.crews import HalfDayTaken
from scheduling.actions.planning_facts import (
    jobs_by_name,
    jobs_named,
    names_of,
    names_with_waits,
    problem_of,
)
from scheduling.halfday import zone_named
from scheduling.models import Booking, Crew, Plan
from scheduling.planner.format import plan_from, plan_to, problem_from, problem_to
from scheduling.planner.objective import job_ends
from scheduling.planner.places import why_moved
from scheduling.planner.problem import Booking as Place
from scheduling.planner.problem import Plan as Schedule
from scheduling.planner.problem import Problem, half_day_of
from scheduling.workload import STEPS

SOLVE = "scheduling.tasks.solve_plan"
SECONDS_BETWEEN_LOOKS = 1.0
EXPLAINED_JOBS = 5
CHANGED = {
    what: [f"{what} {{name}} {how}" for how in ("is new", "is gone", "is not as it was")]
    for what in ("crew", "pool", "job", "task")
}


class PlanUnderWay(DomainError):
    slug = "plan-under-way"


class PlanNotOpen(DomainError):
    slug = "plan-not-open"


class PlanOutOfDate(DomainError):
    slug = "plan-out-of-date"


class Move(NamedTuple):
    """A task in a proposal against the bookings of today; None where it has no place."""

    job_id: str
    task: str
    from_crew: str | None
    from_day: str | None
    from_half: str | None
    to_crew: str | None
    to_day: str | None
    to_half: str | None
    because: tuple[str, ...]  # what stands against its old place; empty for what is new


class LateJob(NamedTuple):
    """A job of a proposal that ends late, or is not all planned and counts as ending with it."""

    job_id: str
    street: str
    rooms: tuple[str, ...]
    late_half_days: int
    because: tuple[str, ...]


class NoPlace(NamedTuple):
    """A task that a proposal has no place for."""

    job_id: str
    street: str
    rooms: tuple[str, ...]
    task: str
    because: tuple[str, ...]


@transaction.atomic
def ask_for_plan(
    *, by: Member, seconds: float, seed: int, frozen_days: int, lateness_first: bool, at: datetime
) -> Plan:
    """Ask a worker for a plan of all open jobs from tomorrow on; raises PlanUnderWay."""
    zone = zone_named(by.contractor.time_zone)
    start = at.astimezone(zone).date() + timedelta(days=1)
    problem = problem_to(problem_of(by.contractor_id, start=start))
    with told(
        {
            "plan_one_at_a_time": PlanUnderWay(
                Sentence("A plan is being worked out. Wait for it, or cancel it first.")
            )
        }
    ):
        row = Plan.objects.create(
            contractor_id=by.contractor_id,
            problem=problem
            | {"options": {"frozen_days": frozen_days, "lateness_first": lateness_first}},
            facts_digest=digest(problem),
            seconds=seconds,
            seed=seed,
            asked_at=at,
            asked_by=by,
        )
    wake(SOLVE, row.pk)
    return row


@transaction.atomic
def cancel_plan(*, by: Member, plan: Plan, at: datetime) -> Plan:
    """Stop a plan that is being worked out, or decline a proposal; raises PlanNotOpen."""
    row = Plan.objects.select_for_update().get(pk=plan.pk)
    if row.state not in ("queued", "solving", "proposed"):
        raise PlanNotOpen(f"This plan is {row.state} already.")
    row.state = "declined" if row.state == "proposed" else "cancelled"
    row.settled_at, row.settled_by = at, by
    row.save()
    return row


@transaction.atomic
def accept_plan(*, by: Member, plan: Plan, at: datetime) -> Plan:
    """Book all of a proposal, or nothing.

    Raises PlanNotOpen, PlanOutOfDate with the facts that changed since, or HalfDayTaken.
    """
    row = Plan.objects.select_for_update().get(pk=plan.pk)
    if row.state != "proposed":
        raise PlanNotOpen(f"This plan is {row.state}; only a proposal can be accepted.")
    before = problem_from(row.problem)
    now = problem_of(row.contractor_id, start=before.start)
    if digest(problem_to(now)) != row.facts_digest:
        raise PlanOutOfDate(
            Sentence(
                "Since this plan was asked for, this has changed: {changed}. Ask for a new plan.",
                changed=joined(changes(before, now)[:8], "; "),
            )
        )
    _book(row, before, by=by, at=at)
    row.state, row.settled_at, row.settled_by = "accepted", at, by
    row.save()
    return row


def _book(row: Plan, problem: Problem, *, by: Member, at: datetime) -> None:
    schedule = plan_from(row.plan, start=problem.start)
    jobs = jobs_by_name(row.contractor_id)
    crews = {
        crew.name: crew
        for crew in Crew.objects.filter(contractor_id=row.contractor_id, retired_at=None)
    }
    wanted: dict[tuple[UUID, str, UUID, date, str], UUID] = {}
    for place in schedule.bookings:
        name, step = place.task.rsplit(" ", 1)
        span = uuid7()
        for slot in place.slots:
            day, half = half_day_of(problem.start, slot)
            assert place.crew is not None
            wanted[jobs[name].pk, step, crews[place.crew].pk, day, half] = span
    standing = Booking.objects.select_for_update().filter(
        contractor_id=row.contractor_id,
        job__in=jobs.values(),
        day__gte=problem.start,
        task__in=STEPS,
        cancelled_at=None,
    )
    gone = []
    for booking in standing.order_by("pk"):
        key = booking.job_id, booking.task, booking.crew_id, booking.day, booking.half
        if wanted.pop(key, None) is None and not booking.pinned:
            gone.append(booking.pk)
    Booking.objects.filter(pk__in=gone).update(cancelled_at=at)
    taken = HalfDayTaken("Somebody booked one of these half-days meanwhile. Ask for a new plan.")
    with told({"booking_crew_once_per_half_day": taken}):
        Booking.objects.bulk_create(
            [
                Booking(
                    contractor_id=row.contractor_id,
                    crew_id=crew,
                    day=day,
                    half=half,
                    job_id=job,
                    task=step,
                    span=span,
                    plan=row,
                    booked_at=at,
                    booked_by=by,
                )
                for (job, step, crew, day, half), span in wanted.items()
            ]
        )


def differences(row: Plan) -> list[Move]:
    """What the proposal changes of the bookings that it was asked about."""
    if row.plan is None:
        return []
    problem = problem_from(row.problem)
    jobs = _jobs_in(row, problem)
    schedule = plan_from(row.plan, start=problem.start)
    now = schedule.by_task()
    why = why_moved(problem, schedule, names=names_of(jobs))
    before = (problem.previous or Schedule(bookings=())).by_task()
    moves = []
    for task in problem.tasks:
        was, is_now = before.get(task.id), now.get(task.id)
        if (was and (was.crew, was.start)) != (is_now and (is_now.crew, is_now.start)):
            name, step = task.id.rsplit(" ", 1)
            moves.append(
                Move(
                    str(jobs[name].pk),
                    step,
                    *_where(problem, was),
                    *_where(problem, is_now),
                    why.get(task.id, ()),
                )
            )
    return moves


def late_jobs(row: Plan) -> list[LateJob]:
    """Why the jobs are late, or not all of them planned, of which that was found out."""
    jobs = _jobs_in(row, problem_from(row.problem))
    return [
        LateJob(*_who(jobs[each["job"]]), each["late_half_days"], tuple(each["because"]))
        for each in row.because
    ]


def without_place(row: Plan) -> list[NoPlace]:
    """The tasks that the plan has no place for, job by job in order of work."""
    problem = problem_from(row.problem)
    jobs = _jobs_in(row, problem)
    found = []
    for each in (row.plan or {}).get("unplanned", []):
        name, step = each["task"].rsplit(" ", 1)
        found.append(NoPlace(*_who(jobs[name]), step, tuple(each["because"])))
    return found


def _jobs_in(row: Plan, problem: Problem) -> dict[str, Job]:
    return jobs_named(row.contractor_id, [job.id for job in problem.jobs])


def _who(job: Job) -> tuple[str, str, tuple[str, ...]]:
    return str(job.pk), job.street, tuple(room.name for room in job.rooms.all())


def _where(problem: Problem, place: Place | None) -> tuple[str | None, str | None, str | None]:
    if place is None:
        return None, None, None
    day, half = half_day_of(problem.start, place.start)
    return place.crew, day.isoformat(), half


def changes(before: Problem, now: Problem) -> list[Sentence]:
    """Which facts differ between two problems, in words."""
    said: list[Sentence] = []
    for what in CHANGED:
        old = {thing.id: thing for thing in getattr(before, f"{what}s")}
        new = {thing.id: thing for thing in getattr(now, f"{what}s")}
        is_new, is_gone, is_another = CHANGED[what]
        said += [Sentence(is_new, name=name) for name in new.keys() - old.keys()]
        said += [Sentence(is_gone, name=name) for name in old.keys() - new.keys()]
        said += [
            Sentence(is_another, name=name)
            for name in old
            if old[name] != new.get(name) and name in new
        ]
    if before.links != now.links:
        said.append(Sentence("the waits between tasks are others"))
    if before.previous != now.previous:
        said.append(Sentence("bookings were made, moved or cancelled"))
    return sorted(said)


def solve_plan(plan_id: UUID, *, clock: Callable[[], datetime]) -> bool:
    """Work out one plan; True if this run did it. A cancelled one is left within a second."""
    if not Plan.objects.claim(plan_id, at=clock()):
        return False
    row = Plan.objects.get(pk=plan_id)
    from scheduling.planner.reasons import why_late  # the solvers load only in workers
    from scheduling.planner.solve import Progress, load, solve
    from scheduling.planner.unplanned import with_reasons

    load()
    problem = problem_from(row.problem)
    latest: dict[str, Any] = {}
    me, looked_at, given_up = threading.get_ident(), time.monotonic(), False

    def report(progress: Progress) -> None:
        latest.update(seconds=progress.seconds, layer=progress.layer, **progress.score._asdict())

    def stopped() -> bool:
        """Tell how far it is, once a second and from this thread alone: it has the connection."""
        nonlocal looked_at, given_up
        if threading.get_ident() == me and time.monotonic() >= looked_at + SECONDS_BETWEEN_LOOKS:
            looked_at = time.monotonic()
            mine = Plan.objects.filter(pk=plan_id, state="solving")
            given_up = not mine.update(progress=dict(latest), claimed_at=clock())
        return given_up

    solved = solve(
        problem,
        seconds=row.seconds,
        seed=row.seed,
        report=report,
        stopped=stopped,
        **row.problem["options"],
    )
    names = names_with_waits(row.contractor_id, start=problem.start)
    plan = with_reasons(problem, solved.plan, names=names)
    ends = job_ends(problem, plan)
    of = {task.id: task.job for task in problem.tasks}
    short = {of[each.task] for each in plan.unplanned}
    worst = sorted(
        (job.id in short, job.weight * (ends[job.id] - job.due_slot), job.id)
        for job in problem.jobs
        if job.id in short or ends[job.id] > job.due_slot
    )
    because = [
        {
            "job": name,
            "late_half_days": ends[name] - _due(problem, name),
            "because": why_late(problem, plan, name, names=names).because,
        }
        for *_, name in worst[::-1][:EXPLAINED_JOBS]
    ]
    done = Plan.objects.filter(pk=plan_id, state="solving").update(
        state="proposed",
        plan=plan_to(plan, start=problem.start),
        objective=solved.score._asdict()
        | {"late_bound": solved.late_bound, "optimal": solved.optimal},
        because=because,
        progress=dict(latest),
        solved_at=clock(),
    )
    return done == 1


def _due(problem: Problem, name: str) -> int:
    return next(job.due_slot for job in problem.jobs if job.id == name)


def digest(problem: Mapping[str, Any]) -> str:
    text = json.dumps(problem, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
