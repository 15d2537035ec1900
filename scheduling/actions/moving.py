"""The office moves a task by hand: to where nothing stands against it, and then it stays there."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db import transaction

from config.errors import DomainError
from config.etags import require_version
from config.sentence import Sentence, joined
from config.tenancy import told
from jobs.models import Job
from scheduling.actions.crews import HalfDayTaken
from scheduling.actions.planning_facts import jobs_by_name, names_of, problem_of
from scheduling.halfday import zone_named
from scheduling.models import Booking, Crew
from scheduling.planner.places import Place, Standing
from scheduling.planner.problem import Job as PlanJob
from scheduling.planner.problem import (
    Plan,
    Problem,
    Task,
    half_day_of,
    said_with_weekday,
    slot_of,
)
from scheduling.workload import ANY_CREW, SKILLS, task_id

NEAREST = 6


class Near(NamedTuple):
    """A place where the task could be: its first half-day."""

    crew: str
    day: date
    half: str


class BookingCancelled(DomainError):
    slug = "move-refused"


class MoveRefused(DomainError):
    """`because` in sentences, and the nearest places where the task could be instead."""

    slug = "move-refused"

    def __init__(self, *, because: Sequence[str], nearest: Sequence[Near]) -> None:
        self.because, self.nearest = tuple(because), tuple(nearest)
        against = joined(because, "; ")
        said = Sentence(
            "It cannot be there: {because}. No crew has a place for it.", because=against
        )
        if nearest:
            places = [
                Sentence(
                    "{crew}, {when}",
                    crew=near.crew,
                    when=said_with_weekday(near.day, int(near.half == "pm")),
                )
                for near in nearest
            ]
            said = Sentence(
                "It cannot be there: {because}. Nearest possible: {places}.",
                because=against,
                places=joined(places, "; "),
            )
        super().__init__(said, pointer="#/half")

    def members(self) -> dict[str, Any]:
        return {
            "because": list(self.because),
            "nearest": [
                {"crew": near.crew, "day": near.day.isoformat(), "half": near.half}
                for near in self.nearest
            ],
        }


@transaction.atomic
def move_task(
    *, booking: Booking, version: int, crew: Crew, day: date, half: str, pinned: bool, at: datetime
) -> Booking:
    """Move a task so that this half-day of it falls there; the others go with it, in order.

    It is pinned there unless `pinned` says no. Raises Stale, MoveRefused or HalfDayTaken.
    """
    rows = _locked(booking, version)
    row = next(each for each in rows if each.pk == booking.pk)
    slots = _slots(rows, row, crew=crew, day=day, half=half, at=at)
    taken = HalfDayTaken(
        Sentence("Somebody booked {crew} meanwhile. Look again.", crew=crew.name), pointer="#/half"
    )
    if slots[0] > (rows[0].day, rows[0].half):
        pairs = list(zip(rows, slots, strict=True))[::-1]  # so that none steps onto the next one
    else:
        pairs = list(zip(rows, slots, strict=True))
    with told({"booking_crew_once_per_half_day": taken}):
        for each, (to_day, to_half) in pairs:
            each.crew, each.day, each.half, each.pinned = crew, to_day, to_half, pinned
            each.version += 1
            each.save()
    return row


@transaction.atomic
def hold_task(*, booking: Booking, version: int, pinned: bool) -> Booking:
    """Hold all half-days of a task where they are, or let planning move them; raises Stale."""
    rows = _locked(booking, version)
    for each in rows:
        each.pinned = pinned
        each.version += 1
        each.save()
    return next(each for each in rows if each.pk == booking.pk)


def _locked(booking: Booking, version: int) -> list[Booking]:
    """The half-days of its task in order, locked; raises Stale."""
    Job.objects.select_for_update().get(pk=booking.job_id)  # its tasks wait for each other
    rows = list(
        Booking.objects.select_for_update()
        .filter(contractor_id=booking.contractor_id, span=booking.span, cancelled_at=None)
        .select_related("crew", "job")
        .order_by("day", "half")
    )
    row = next((each for each in rows if each.pk == booking.pk), None)
    if row is None:
        raise BookingCancelled(Sentence("This half-day is cancelled. Book it anew."))
    require_version(row, version)
    return rows


def _slots(
    rows: Sequence[Booking], row: Booking, *, crew: Crew, day: date, half: str, at: datetime
) -> list[tuple[date, str]]:
    """Where the half-days of the task would go; raises MoveRefused."""
    today = at.astimezone(zone_named(row.contractor.time_zone)).date()
    problem, name = _problem_with(rows, start=min(today, rows[0].day))
    jobs = jobs_by_name(row.contractor_id) | {str(row.job.number): row.job}
    standing = Standing(problem, problem.previous or Plan(bookings=()), names=names_of(jobs))
    works = standing.works.get(crew.name, ())
    wanted, ahead = slot_of(problem.start, day, half), rows.index(row)
    start = wanted
    if wanted in works and works.index(wanted) >= ahead:
        start = works[works.index(wanted) - ahead]
    first = slot_of(problem.start, today, "am")
    because = standing.against(name, crew.name, start)
    if start < first:
        because = (Sentence("that half-day is over"),)
    if because:
        places = [each for each in standing.nearest(name, crew.name, start) if each.start >= first]
        raise MoveRefused(
            because=because, nearest=[_near(problem, each) for each in places[:NEAREST]]
        )
    at_rank = works.index(start)
    return [half_day_of(problem.start, slot) for slot in works[at_rank : at_rank + len(rows)]]


def _near(problem: Problem, place: Place) -> Near:
    assert place.crew is not None  # every task that is booked takes a crew
    return Near(place.crew, *half_day_of(problem.start, place.start))


def _problem_with(rows: Sequence[Booking], *, start: date) -> tuple[Problem, str]:
    """What planning knows from `start` on, with the task of these bookings as long as it is."""
    first = rows[0]
    problem = problem_of(first.contractor_id, start=start)
    name = task_id(str(first.job.number), first.task)
    standing = (problem.previous or Plan(bookings=())).by_task().get(name)
    slots = tuple(slot_of(start, each.day, each.half) for each in rows)
    if standing and (standing.crew, standing.slots) == (first.crew.name, slots):
        tasks = tuple(
            replace(task, half_days=len(rows), fixed=None) if task.id == name else task
            for task in problem.tasks
        )
        return replace(problem, tasks=tasks), name
    # Not what is planned under that name: other work, or more of the same step.
    more = task_id(f"{first.job.number}+", first.task)
    task = Task(
        id=more,
        job=str(first.job.number),
        skill=SKILLS.get(first.task, ANY_CREW),
        half_days=len(rows),
    )
    jobs = problem.jobs
    if all(job.id != task.job for job in jobs):
        jobs = (*jobs, PlanJob(id=task.job, due_slot=0, weight=0))
    return replace(
        problem,
        tasks=(*problem.tasks, task),
        links=(
            *problem.links,
            *(replace(link, after=more) for link in problem.links if link.after == name),
        ),
        jobs=jobs,
        crews=tuple(
            replace(crew, away=crew.away - set(slots)) if crew.id == first.crew.name else crew
            for crew in problem.crews
        ),
    ), more
