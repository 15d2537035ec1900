"""A problem as tables of whole numbers, for the compiled searches.

Tasks, crews, pools and jobs go by their index in the problem; a table's fields `x_at` and `x_to`
are a slice of table x. A crew's working half-days are numbered 0, 1, 2 ... (their rank), so that
a task on consecutive working half-days holds consecutive ranks, whatever lies between them.
"""

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduling.planner.problem import (
    Booking,
    Plan,
    Problem,
    Task,
    Unplanned,
    in_link_order,
    working_slots,
)

Ints = NDArray[np.int64]
Table = NDArray[Any]  # a structured array, all its fields int64
NO_CREW = -1
UNPLANNED = -1  # for a start slot
NEVER = 1 << 30  # a slot behind every horizon


def fields(*names: str) -> np.dtype[Any]:
    return np.dtype([(name, np.int64) for name in names])


TASK = fields(
    "job", "length", "needs_crew", "release",
    "latest",  # by when it must end for the fixed tasks behind it
    "tail",  # how long its job takes at least from its end on
    "held",  # 1: stays where it is, booked or unplanned
    "was_crew", "was_start",  # in the previous plan; NEVER: not booked in it
    "able_at", "able_to", "use_at", "use_to", "before_at", "before_to", "after_at", "after_to",
)  # fmt: skip
LINK = fields("task", "lag")
USE = fields("pool", "amount")
JOB = fields(
    "due", "weight",
    "least_end",  # by when it could end if nothing else were planned
    "good_end",  # by when it could end at best: least_end, or its end in the previous plan
    "task_at", "task_to",
)  # fmt: skip
POOL = fields("capacity", "user_at", "user_to")
PLACE = fields("crew", "start")


class Arrays(NamedTuple):
    """Slots count from the start of the plan."""

    half_days: int
    task: Table
    before: Table
    after: Table
    use: Table
    able: Ints  # crews that can do a task, the one with the fewest skills first
    job: Table
    of_job: Ints  # the tasks of a job, in link order
    order: Ints  # all tasks in link order
    rank: Ints  # [crew, slot]: how many working half-days are before the slot
    slot: Ints  # [crew, rank]: the slot; NEVER behind the last one
    pool: Table
    user: Ints  # tasks that use a pool


def arrays(problem: Problem, plan: Plan) -> Arrays:
    """The problem as arrays. `plan` decides which fixed tasks are kept, and which given up."""
    tasks = problem.tasks
    index = _index(tasks)
    crews, pools, jobs = _index(problem.crews), _index(problem.pools), _index(problem.jobs)
    order = [index[task.id] for task in in_link_order(problem)]
    before: list[list[tuple[int, int]]] = [[] for _ in tasks]
    after: list[list[tuple[int, int]]] = [[] for _ in tasks]
    for link in problem.links:
        before[index[link.after]].append((index[link.before], link.lag_slots))
        after[index[link.before]].append((index[link.after], link.lag_slots))
    of_job: list[list[int]] = [[] for _ in jobs]
    for number in order:
        of_job[jobs[tasks[number].job]].append(number)
    able = _able(problem, crews)
    uses = [[(pools[pool], amount) for pool, amount in task.uses if amount] for task in tasks]

    task_table = np.zeros(len(tasks), dtype=TASK)
    task_table["job"] = [jobs[task.job] for task in tasks]
    task_table["length"] = [task.half_days for task in tasks]
    task_table["needs_crew"] = [task.skill is not None for task in tasks]
    task_table["release"] = [max(0, min(task.not_before, problem.half_days + 1)) for task in tasks]
    task_table["latest"] = _latest_ends(problem, plan, order, after)
    task_table["tail"] = _tails(problem, order, after)
    task_table["held"] = [task.fixed is not None for task in tasks]
    was = places(problem, problem.previous or Plan(bookings=()))
    task_table["was_crew"] = was["crew"]
    task_table["was_start"] = np.where(was["start"] == UNPLANNED, NEVER, was["start"])
    job_table = np.zeros(len(jobs), dtype=JOB)
    job_table["due"] = [job.due_slot for job in problem.jobs]
    job_table["weight"] = [job.weight for job in problem.jobs]
    pool_table = np.zeros(len(pools), dtype=POOL)
    pool_table["capacity"] = [pool.capacity for pool in problem.pools]
    users: list[list[int]] = [[] for _ in pools]
    for number, used in enumerate(uses):
        for pool, _ in used:
            users[pool].append(number)
    rank, slot = _calendars(problem)
    return Arrays(
        half_days=problem.half_days,
        before=np.array(_joined(task_table, "before", before), dtype=LINK),
        after=np.array(_joined(task_table, "after", after), dtype=LINK),
        use=np.array(_joined(task_table, "use", uses), dtype=USE),
        able=np.array(_joined(task_table, "able", able), dtype=np.int64),
        of_job=np.array(_joined(job_table, "task", of_job), dtype=np.int64),
        order=np.array(order, dtype=np.int64),
        task=task_table,
        job=job_table,
        rank=rank,
        slot=slot,
        pool=pool_table,
        user=np.array(_joined(pool_table, "user", users), dtype=np.int64),
    )


def places(problem: Problem, plan: Plan) -> Table:
    """Crew (or NO_CREW; NEVER if there is no such crew) and start (or UNPLANNED) of each task."""
    booked = plan.by_task()
    crews = _index(problem.crews)
    table = np.full(len(problem.tasks), UNPLANNED, dtype=PLACE)
    for number, task in enumerate(problem.tasks):
        if booking := booked.get(task.id):
            crew = NO_CREW if booking.crew is None else crews.get(booking.crew, NEVER)
            table[number] = crew, booking.start
    return table


def plan_at(problem: Problem, table: Table) -> Plan:
    """The plan with its tasks at the places in `table`."""
    worked = [working_slots(problem, crew) for crew in problem.crews]
    rank = [{slot: rank for rank, slot in enumerate(slots)} for slots in worked]
    bookings, unplanned = [], []
    for task, (crew, start) in zip(problem.tasks, table.tolist(), strict=True):
        if start == UNPLANNED:
            unplanned.append(Unplanned(task=task.id, because=()))
            continue
        slots: tuple[int, ...] = tuple(range(start, start + task.half_days))
        if crew != NO_CREW and task.half_days:
            first = rank[crew][start]
            slots = worked[crew][first : first + task.half_days]
        name = None if crew == NO_CREW else problem.crews[crew].id
        bookings.append(Booking(task=task.id, crew=name, start=start, slots=slots))
    return Plan(bookings=tuple(bookings), unplanned=tuple(unplanned))


def _index(things: Iterable[Any]) -> dict[str, int]:
    return {thing.id: number for number, thing in enumerate(things)}


def _joined(table: Table, name: str, lists: list[list[Any]]) -> list[Any]:
    """The lists end to end; where each begins and ends goes into the table."""
    joined: list[Any] = []
    for number, values in enumerate(lists):
        table[f"{name}_at"][number] = len(joined)
        joined += values
        table[f"{name}_to"][number] = len(joined)
    return joined


def _able(problem: Problem, crews: dict[str, int]) -> list[list[int]]:
    by_skill: dict[str | None, list[int]] = {}
    for crew in sorted(problem.crews, key=lambda crew: len(crew.skills)):
        for skill in crew.skills:
            by_skill.setdefault(skill, []).append(crews[crew.id])
    return [by_skill.get(task.skill, []) for task in problem.tasks]


def _calendars(problem: Problem) -> tuple[Ints, Ints]:
    half_days, crews = problem.half_days, len(problem.crews)
    longest = max((task.half_days for task in problem.tasks), default=0)
    rank = np.zeros((crews, half_days + 1), dtype=np.int64)
    slot = np.full((crews, half_days + longest + 1), NEVER, dtype=np.int64)
    for number, crew in enumerate(problem.crews):
        slots = np.array(working_slots(problem, crew), dtype=np.int64)
        rank[number] = np.searchsorted(slots, np.arange(half_days + 1))
        slot[number, : len(slots)] = slots
    return rank, slot


def _tails(problem: Problem, order: list[int], after: list[list[tuple[int, int]]]) -> list[int]:
    """From the end of each task to that of its job: its own tasks behind it and their waits."""
    tails = [0] * len(order)
    for number in reversed(order):
        for later, lag in after[number]:
            if problem.tasks[later].job == problem.tasks[number].job:
                tail = lag + problem.tasks[later].half_days + tails[later]
                tails[number] = max(tails[number], tail)
    return tails


def _latest_ends(
    problem: Problem, plan: Plan, order: list[int], after: list[list[tuple[int, int]]]
) -> list[int]:
    """By when each task must end so that the fixed tasks behind it can start as fixed."""
    booked = plan.by_task()

    def latest_start(task: Task, end: int) -> int:
        kept = task.fixed and booked.get(task.id)
        return kept.start if kept else end - task.half_days

    latest = [NEVER] * len(order)
    starts = [0] * len(order)
    for number in reversed(order):
        if after[number]:
            latest[number] = min(starts[later] - lag for later, lag in after[number])
        starts[number] = latest_start(problem.tasks[number], latest[number])
    return latest
