"""What is to be planned: crews, shared tools, tasks, links and jobs, on half-day slots.

Slot 0 is the morning of the problem's first day, slot 1 its afternoon, and so on; slot h covers
the hours [12h, 12h + 12) after midnight of that day. An end slot is the last occupied slot + 1.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from config.errors import DomainError
from config.sentence import Sentence, word

HOURS_PER_SLOT = 12
TASK_LIMIT = 20_000
HORIZON_LIMIT = 7_320  # ten years of half-days

Half = str  # "am" or "pm"


class ProblemRefused(DomainError):
    """The planning problem contradicts itself or is not in the format."""

    slug = "planning-problem-refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """People who work together. `works[weekday][half]` from Monday; `away` holds slots."""

    id: str
    skills: frozenset[str]
    works: tuple[tuple[bool, bool], ...]
    away: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """A shared tool of which `capacity` can be out at once."""

    id: str
    capacity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """Exactly this crew (None if the task takes none) and first slot, or not at all."""

    crew: str | None
    start: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Work of `half_days` working slots in a row; `skill` None takes no crew."""

    id: str
    job: str
    skill: str | None
    half_days: int
    uses: tuple[tuple[str, int], ...] = ()
    not_before: int = 0
    fixed: Fixed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """`after` starts no earlier than `lag_hours` of elapsed time behind the end of `before`."""

    before: str
    after: str
    lag_hours: float = 0

    @property
    def lag_slots(self) -> int:
        return math.ceil(self.lag_hours / HOURS_PER_SLOT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """`due_slot` is an end slot: the job is on time if its last task ends by it."""

    id: str
    due_slot: int
    weight: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """One task in the plan; `slots` are those worked, `start` the first (or the milestone's)."""

    task: str
    crew: str | None
    start: int
    slots: tuple[int, ...]

    @property
    def end(self) -> int:
        return self.slots[-1] + 1 if self.slots else self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplanned:
    """A task that has no place, and why."""

    task: str
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    bookings: tuple[Booking, ...]
    unplanned: tuple[Unplanned, ...] = ()

    def by_task(self) -> dict[str, Booking]:
        return {booking.task: booking for booking in self.bookings}


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Raises ProblemRefused on doubled or dangling ids, a cycle of links, or too large a size."""

    start: date
    half_days: int
    crews: tuple[Crew, ...]
    pools: tuple[Pool, ...]
    tasks: tuple[Task, ...]
    links: tuple[Link, ...]
    jobs: tuple[Job, ...]
    previous: Plan | None = None

    def __post_init__(self) -> None:
        _refuse_size(self)
        _refuse_names(self)
        in_link_order(self)


def working_slots(problem: Problem, crew: Crew) -> tuple[int, ...]:
    """The slots in the horizon that the crew works, in order."""
    first = problem.start.weekday()
    return tuple(
        slot
        for slot in range(problem.half_days)
        if crew.works[(first + slot // 2) % 7][slot % 2] and slot not in crew.away
    )


def slot_of(start: date, day: date, half: Half) -> int:
    """The slot of a half-day, negative before the first day."""
    return 2 * (day - start).days + (half == "pm")


def half_day_of(start: date, slot: int) -> tuple[date, Half]:
    return start + timedelta(days=slot // 2), "pm" if slot % 2 else "am"


def said_with_weekday(start: date, slot: int) -> Sentence:
    """Such as `Fri 2027-03-05 am`."""
    day, half = half_day_of(start, slot)
    figures = {"weekday": word(f"{day:%a}"), "day": day}
    if half == "pm":
        return Sentence("{weekday} {day} pm", **figures)
    return Sentence("{weekday} {day} am", **figures)


def in_link_order(problem: Problem) -> tuple[Task, ...]:
    """The tasks so that each comes behind all that must end before it.

    Raises ProblemRefused with the names of one cycle.
    """
    after: dict[str, list[str]] = {task.id: [] for task in problem.tasks}
    waits = dict.fromkeys(after, 0)
    for link in problem.links:
        after[link.before].append(link.after)
        waits[link.after] += 1
    ready = [name for name, count in reversed(waits.items()) if not count]
    order: list[str] = []
    while ready:
        order.append(name := ready.pop())
        for later in after[name]:
            waits[later] -= 1
            if not waits[later]:
                ready.append(later)
    if len(order) < len(waits):
        cycle = _cycle(after, {name for name, count in waits.items() if count})
        raise ProblemRefused(
            f"These tasks wait for each other in a circle: {' → '.join(cycle)}. "
            "Take out one of these links.",
            pointer="#/links",
        )
    by_id = {task.id: task for task in problem.tasks}
    return tuple(by_id[name] for name in order)


def _cycle(after: dict[str, list[str]], stuck: set[str]) -> list[str]:
    """One cycle among tasks of which each waits for another stuck one."""
    before: dict[str, list[str]] = {name: [] for name in stuck}
    for name in stuck:
        for later in after[name]:
            before[later].append(name)
    path = [min(stuck)]
    while (earlier := min(before[path[-1]])) not in path:
        path.append(earlier)
    path = path[path.index(earlier) :]
    return [path[0], *reversed(path)]


def _refuse_size(problem: Problem) -> None:
    if len(problem.tasks) > TASK_LIMIT:
        raise ProblemRefused(
            f"{len(problem.tasks):,} tasks are more than one plan can hold; the limit is "
            f"{TASK_LIMIT:,}. Plan a shorter time, or one region after the other.",
            pointer="#/tasks",
        )
    if not 1 <= problem.half_days <= HORIZON_LIMIT:
        raise ProblemRefused(
            f"The plan must span 1 to {HORIZON_LIMIT:,} half-days, not {problem.half_days:,}.",
            pointer="#/half_days",
        )


def _refuse_names(problem: Problem) -> None:
    crews = _unique("crews", (crew.id for crew in problem.crews))
    pools = _unique("pools", (pool.id for pool in problem.pools))
    jobs = _unique("jobs", (job.id for job in problem.jobs))
    tasks = _unique("tasks", (task.id for task in problem.tasks))
    for index, task in enumerate(problem.tasks):
        _known("job", task.job, jobs, f"#/tasks/{index}/job")
        for pool, _ in task.uses:
            _known("pool", pool, pools, f"#/tasks/{index}/uses")
        if task.fixed and task.fixed.crew is not None:
            _known("crew", task.fixed.crew, crews, f"#/tasks/{index}/fixed/crew")
    for index, link in enumerate(problem.links):
        _known("task", link.before, tasks, f"#/links/{index}/before")
        _known("task", link.after, tasks, f"#/links/{index}/after")


def _unique(what: str, names: Iterable[str]) -> set[str]:
    seen: set[str] = set()
    for index, name in enumerate(names):
        if name in seen:
            raise ProblemRefused(
                f"Two {what} have the id “{name}”. Give each its own.",
                pointer=f"#/{what}/{index}/id",
            )
        seen.add(name)
    return seen


def _known(what: str, name: str, names: set[str], pointer: str) -> None:
    if name not in names:
        raise ProblemRefused(f"There is no {what} “{name}” in the problem.", pointer=pointer)
