"""What is wrong with a plan, whoever made it. Knows the rules and nothing of the solver."""

from collections import Counter
from collections.abc import Iterator

from scheduling.planner.problem import (
    Booking,
    Crew,
    Plan,
    Problem,
    Task,
    half_day_of,
    working_slots,
)


def violations(problem: Problem, plan: Plan) -> list[str]:
    """Every rule that the plan breaks, as sentences; empty for a plan that can be stored."""
    found = list(_not_exactly_once(problem, plan))
    if found:
        return found  # what follows needs one booking for a task
    booked = plan.by_task()
    tasks = {task.id: task for task in problem.tasks}
    crews = {crew.id: crew for crew in problem.crews}
    working = {crew.id: working_slots(problem, crew) for crew in problem.crews}
    for booking in plan.bookings:
        task = tasks[booking.task]
        found += _in_its_place(problem, task, booking)
        found += _by_its_crew(task, booking, crews)
        found += _on_its_slots(problem, task, booking, working)
    found += _crews_twice(problem, plan)
    found += _links_broken(problem, booked)
    found += _pools_overdrawn(problem, tasks, plan)
    return found


def _not_exactly_once(problem: Problem, plan: Plan) -> Iterator[str]:
    named = Counter(booking.task for booking in plan.bookings)
    named.update(unplanned.task for unplanned in plan.unplanned)
    for task in problem.tasks:
        if (times := named.pop(task.id, 0)) != 1:
            yield f"{task.id} is in the plan {times} times; it belongs there exactly once."
    for name in named:
        yield f"{name} is in the plan but not in the problem."


def _in_its_place(problem: Problem, task: Task, booking: Booking) -> Iterator[str]:
    if booking.start < 0 or booking.end > problem.half_days:
        yield f"{task.id} leaves the {problem.half_days} half-days of the plan."
    if booking.start < task.not_before:
        yield f"{task.id} starts {_at(problem, booking.start)}, before it may."
    fixed = task.fixed
    if fixed and (booking.crew, booking.start) != (fixed.crew, fixed.start):
        yield f"{task.id} is not booked as it is fixed."


def _by_its_crew(task: Task, booking: Booking, crews: dict[str, Crew]) -> Iterator[str]:
    if task.skill is None:
        if booking.crew is not None:
            yield f"{task.id} needs no crew and has {booking.crew}."
    elif booking.crew not in crews:
        yield f"{task.id} needs a crew; “{booking.crew}” is none."
    elif task.skill not in crews[booking.crew].skills:
        yield f"{task.id} is booked on {booking.crew}, which cannot {task.skill}."


def _on_its_slots(
    problem: Problem, task: Task, booking: Booking, working: dict[str, tuple[int, ...]]
) -> Iterator[str]:
    slots = booking.slots
    if len(slots) != task.half_days:
        yield f"{task.id} takes {task.half_days} half-days and has {len(slots)}."
    if not slots:
        return
    if booking.start != slots[0]:
        yield f"{task.id} does not start with its first slot."
    if booking.crew is None:
        due = tuple(range(slots[0], slots[0] + len(slots)))
    else:
        due = tuple(slot for slot in working.get(booking.crew, ()) if slots[0] <= slot <= slots[-1])
    if slots != due:
        yield (
            f"{task.id} from {_at(problem, slots[0])[3:]} on is not on consecutive "
            f"working half-days of {booking.crew or 'the calendar'}."
        )


def _crews_twice(problem: Problem, plan: Plan) -> Iterator[str]:
    """A crew does nothing else from a task's first to its last slot."""
    spans = sorted(
        (booking.crew, booking.start, booking.end, booking.task)
        for booking in plan.bookings
        if booking.crew is not None and booking.slots
    )
    # Behind a long booking several short ones may overlap it: keep the one that ends last.
    last: tuple[str, int, int, str] | None = None
    for span in spans:
        crew, start, end, task = span
        if last and last[0] == crew and start < last[2]:
            yield f"{crew} has {last[3]} and {task} at once {_at(problem, start)}."
        if not last or last[0] != crew or end > last[2]:
            last = (crew, start, end, task)


def _links_broken(problem: Problem, booked: dict[str, Booking]) -> Iterator[str]:
    for link in problem.links:
        after = booked.get(link.after)
        if after is None:
            continue
        before = booked.get(link.before)
        if before is None:
            yield f"{link.after} is booked, but {link.before}, which comes first, is not."
        elif after.start < before.end + link.lag_slots:
            yield (
                f"{link.after} starts {_at(problem, after.start)}, less than "
                f"{link.lag_hours:g} h behind {link.before}."
            )


def _pools_overdrawn(problem: Problem, tasks: dict[str, Task], plan: Plan) -> Iterator[str]:
    for pool in problem.pools:
        change: Counter[int] = Counter()
        for booking in plan.bookings:
            if amount := dict(tasks[booking.task].uses).get(pool.id):
                change[booking.start] += amount
                change[booking.end] -= amount
        out = 0
        for slot in sorted(change):
            out += change[slot]
            if out > pool.capacity:
                yield f"{out} of {pool.capacity} {pool.id} are out {_at(problem, slot)}."


def _at(problem: Problem, slot: int) -> str:
    day, half = half_day_of(problem.start, slot)
    return f"on {day} {half}"
