"""How good a plan is: four numbers, compared left to right, smaller is better."""

from typing import NamedTuple

from scheduling.planner.problem import Plan, Problem


class Score(NamedTuple):
    """`late` is in weighted half-days, `ends` in half-days; `moved` counts bookings."""

    unplanned: int
    late: int
    moved: int
    ends: int


def score(problem: Problem, plan: Plan) -> Score:
    """Score a plan that has no violations."""
    ends = job_ends(problem, plan)
    return Score(
        unplanned=len(plan.unplanned),
        late=sum(job.weight * max(0, ends[job.id] - job.due_slot) for job in problem.jobs),
        moved=len(moved(problem.previous, plan)),
        ends=sum(ends.values()),
    )


def job_ends(problem: Problem, plan: Plan) -> dict[str, int]:
    """Each job's end slot; the horizon if one of its tasks is unplanned, 0 without tasks."""
    ends = {job.id: 0 for job in problem.jobs}
    booked = plan.by_task()
    for task in problem.tasks:
        booking = booked.get(task.id)
        end = booking.end if booking else problem.half_days
        ends[task.job] = max(ends[task.job], end)
    return ends


def moved(previous: Plan | None, plan: Plan) -> tuple[str, ...]:
    """The tasks that both plans book, with another crew or start."""
    if previous is None:
        return ()
    before = previous.by_task()
    return tuple(
        booking.task
        for booking in plan.bookings
        if (was := before.get(booking.task))
        and (was.crew, was.start) != (booking.crew, booking.start)
    )
