"""Why a job is late or a task has no place: the few constraints without which it would not be.

Found by relaxing one constraint after the other while the rest of the plan stays as it is, cut
down to those that are needed together, and confirmed by solving the job again exactly, with and
without them.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest

from config.sentence import Sentence
from scheduling.planner.greedy import greedy
from scheduling.planner.names import IDS, Names
from scheduling.planner.objective import job_ends
from scheduling.planner.places import ends_after
from scheduling.planner.problem import (
    Booking,
    Crew,
    Fixed,
    Link,
    Plan,
    Problem,
    Task,
    in_link_order,
    said_with_weekday,
    working_slots,
)
from scheduling.planner.solve import solve

CONFIRM_STEPS = 2_000
OTHERS = "others"
MORE_HALF_DAYS = 112  # eight weeks, to see whether the end of the plan stands in the way


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """`enough`: without these constraints the job would be on time, or all of it planned."""

    job: str
    because: tuple[str, ...]
    enough: bool


@dataclass(frozen=True, slots=True)
class _Constraint:
    """`relax` takes it out of a problem; what another job holds is `held` until then."""

    sentence: str
    relax: Callable[[Problem], Problem] = lambda problem: problem
    held: tuple[Booking, ...] = ()


def why_late(problem: Problem, plan: Plan, job: str, *, names: Names = IDS) -> Reason:
    """The constraints that make the job late or leave tasks of it unplanned."""
    alone = _alone(problem, plan, job)
    now = _badness(alone, job)
    others = list(_other_jobs(problem, plan, job, names))
    helpful = list(_helpful(alone, others, job, now))
    own = list(_constraints(problem, plan, job, names))
    for constraint in own:
        helpful += _helpful(alone, [constraint], job, now)
    helpful.sort(key=lambda pair: -pair[0])
    candidates = [constraint for _, constraint in helpful]
    candidates += [constraint for constraint in own if constraint not in candidates]
    needed: list[_Constraint] = []
    for constraint in candidates:
        if _badness(_without(alone, needed), job) == 0:
            break
        if _badness(_without(alone, [*needed, constraint]), job) < _badness(
            _without(alone, needed), job
        ):
            needed.append(constraint)
    for constraint in list(needed):
        fewer = [other for other in needed if other is not constraint]
        if _badness(_without(alone, fewer), job) <= _badness(_without(alone, needed), job):
            needed = fewer
    enough = _confirmed(alone, needed, job)
    sentences = tuple(constraint.sentence for constraint in needed)
    if not enough:
        sentences = (*sentences, _least(alone, needed, job))
    return Reason(job=job, because=sentences, enough=enough)


def _alone(problem: Problem, plan: Plan, job: str) -> Problem:
    """The job by itself: what others hold of crews and tools is not there."""
    of = {task.id: task for task in problem.tasks}
    held: dict[str, set[int]] = {}
    tools: list[Task] = []
    release: dict[str, int] = {}
    booked = plan.by_task()
    for booking in plan.bookings:
        task = of[booking.task]
        if task.job == job:
            continue
        if booking.crew:
            held.setdefault(booking.crew, set()).update(range(booking.start, booking.end))
        if task.uses and booking.slots:
            tools.append(_tool_out(task, booking))
    for link in problem.links:
        if of[link.after].job == job and of[link.before].job != job:
            before = booked.get(link.before)
            ready = before.end + link.lag_slots if before else problem.half_days + 1
            release[link.after] = max(release.get(link.after, 0), ready)
    mine = [
        replace(task, not_before=max(task.not_before, release.get(task.id, 0)))
        for task in problem.tasks
        if task.job == job
    ]
    names = {task.id for task in mine}
    jobs = [row for row in problem.jobs if row.id == job]
    if tools:
        jobs.append(replace(jobs[0], id=OTHERS, weight=0))
    return replace(
        problem,
        crews=tuple(
            replace(crew, away=crew.away | held.get(crew.id, set())) for crew in problem.crews
        ),
        tasks=(*mine, *tools),
        links=tuple(link for link in problem.links if {link.before, link.after} <= names),
        jobs=tuple(jobs),
        previous=None,
    )


def _other(task: str) -> str:
    return f"{OTHERS}: {task}"


def _tool_out(task: Task, booking: Booking) -> Task:
    """A tool in use elsewhere, as work without a crew."""
    return Task(
        id=_other(task.id),
        job=OTHERS,
        skill=None,
        half_days=booking.end - booking.start,
        uses=task.uses,
        fixed=Fixed(crew=None, start=booking.start),
    )


def _badness(alone: Problem, job: str) -> int:
    """Half-days late, and much more for each unplanned task, by the quick decoder."""
    return _bad(alone, greedy(alone), job)


def _bad(alone: Problem, plan: Plan, job: str) -> int:
    due = next(row.due_slot for row in alone.jobs if row.id == job)
    mine = {task.id for task in alone.tasks if task.job == job}
    missing = sum(unplanned.task in mine for unplanned in plan.unplanned)
    return missing * 10 * alone.half_days + max(0, job_ends(alone, plan)[job] - due)


def _helpful(
    alone: Problem, constraints: list[_Constraint], job: str, now: int
) -> Iterator[tuple[int, _Constraint]]:
    """What each gains that helps by itself. Where all of them together gain nothing, none does:
    of a thousand other jobs a few are found by halves."""
    gain = now - _badness(_without(alone, constraints), job)
    if gain <= 0:
        return
    if len(constraints) == 1:
        yield gain, constraints[0]
        return
    half = len(constraints) // 2
    yield from _helpful(alone, constraints[:half], job, now)
    yield from _helpful(alone, constraints[half:], job, now)


def _without(alone: Problem, constraints: list[_Constraint]) -> Problem:
    if held := [booking for constraint in constraints for booking in constraint.held]:
        alone = _gone(alone, held)
    for constraint in constraints:
        alone = constraint.relax(alone)
    return alone


def _confirmed(alone: Problem, needed: list[_Constraint], job: str) -> bool:
    """Solve again: bad with the constraints, however planned, and good without them."""
    if not needed:
        return False
    bound = solve(alone, steps=CONFIRM_STEPS)
    freed = _without(alone, needed)
    return (
        _bad(alone, bound.plan, job) > 0
        and _bad(freed, solve(freed, steps=CONFIRM_STEPS).plan, job) == 0
    )


def _least(alone: Problem, needed: list[_Constraint], job: str) -> str:
    freed = _without(alone, needed)
    plan = greedy(freed)
    if any(unplanned.task for unplanned in plan.unplanned):
        return Sentence("even without these, not all of its tasks find a place")
    return Sentence(
        "its own work and waits take until {when} even without anything else in the way",
        when=said_with_weekday(alone.start, max(0, job_ends(freed, plan)[job] - 1)),
    )


def _constraints(problem: Problem, plan: Plan, job: str, names: Names) -> Iterator[_Constraint]:
    mine = [task for task in problem.tasks if task.job == job]
    yield from _waits(problem, plan, {task.id for task in mine}, names)
    yield from _releases(problem, mine, names)
    yield from _leave(problem, plan, mine, names)
    yield from _skills(problem, mine, names)
    yield _Constraint(
        ends_after(problem),
        lambda p: replace(p, half_days=p.half_days + MORE_HALF_DAYS),
    )


def _waits(problem: Problem, plan: Plan, mine: set[str], names: Names) -> Iterator[_Constraint]:
    booked = plan.by_task()
    for link in problem.links:
        if not link.lag_slots or not {link.before, link.after} <= mine:
            continue
        if before := booked.get(link.before):
            until = said_with_weekday(problem.start, before.end + link.lag_slots)
            sentence = names.waits(link, until)
        else:
            sentence = Sentence(
                "{after} has to wait {hours} h behind {before}",
                after=names.task(link.after),
                hours=f"{link.lag_hours:g}",
                before=names.task(link.before),
            )

        def relax(p: Problem, link: object = link) -> Problem:
            return replace(
                p,
                links=tuple(
                    replace(other, lag_hours=0) if other == link else other for other in p.links
                ),
            )

        yield _Constraint(sentence, relax)


def _releases(problem: Problem, mine: list[Task], names: Names) -> Iterator[_Constraint]:
    for task in mine:
        if task.not_before > 0:
            yield _Constraint(
                Sentence(
                    "{task} may not start before {when}",
                    task=names.task(task.id),
                    when=said_with_weekday(problem.start, task.not_before),
                ),
                _changed_task(task.id, not_before=0),
            )
        if task.fixed:
            yield _Constraint(
                Sentence(
                    "{task} is fixed on {when}",
                    task=names.task(task.id),
                    when=said_with_weekday(problem.start, task.fixed.start),
                ),
                _changed_task(task.id, fixed=None),
            )


def _leave(problem: Problem, plan: Plan, mine: list[Task], names: Names) -> Iterator[_Constraint]:
    wanted = _wanted(problem, plan, mine)
    for crew in problem.crews:
        skills = sorted({task.skill for task in mine if task.skill} & crew.skills)
        away = sorted(slot for slot in crew.away if 0 <= slot < problem.half_days)
        from_slot, to_slot = wanted.get(crew.id, (0, 0))
        for first, last in _stretches(away):
            if first >= to_slot or last < from_slot:
                continue
            gone = frozenset(range(first, last + 1))
            present = working_slots(problem, replace(crew, away=crew.away - gone))
            if not skills or not gone & set(present):
                continue
            others = frozenset[str]().union(
                *(other.skills for other in problem.crews if other.id != crew.id)
            )
            alone = [task.skill for task in mine if task.skill in crew.skills - others]
            figures = {
                "crew": crew.id,
                "first": said_with_weekday(problem.start, first),
                "last": said_with_weekday(problem.start, last),
            }
            sentence = Sentence("{crew} is away from {first} until {last}", **figures)
            if alone and alone[0]:
                sentence = Sentence(
                    "{crew}, the only one that can {skill}, is away from {first} until {last}",
                    **figures,
                    skill=names.can(alone[0]),
                )
            yield _Constraint(sentence, _back_at_work(crew.id, gone))


def _stretches(slots: list[int]) -> Iterator[tuple[int, int]]:
    first = None
    for slot, following in zip_longest(slots, slots[1:]):
        first = slot if first is None else first
        if following != slot + 1:
            yield first, slot
            first = None


def _other_jobs(problem: Problem, plan: Plan, job: str, names: Names) -> Iterator[_Constraint]:
    """The bookings of another job on crews, or with tools, while this one could use them."""
    of = {task.id: task for task in problem.tasks}
    wanted = _wanted(problem, plan, [task for task in problem.tasks if task.job == job])
    found: dict[str, list[Booking]] = {}
    for booking in plan.bookings:
        task = of[booking.task]
        held = [booking.crew, *(pool for pool, _ in task.uses)]
        if task.job != job and any(
            booking.start < last and booking.end > first
            for first, last in (wanted[name] for name in held if name in wanted)
        ):
            found.setdefault(task.job, []).append(booking)
    for other, bookings in found.items():
        yield _Constraint(_held(problem, names.job(other), bookings), held=tuple(bookings))


def _wanted(problem: Problem, plan: Plan, mine: list[Task]) -> dict[str | None, tuple[int, int]]:
    """Of crews and tools that the tasks could use: from which slot on, were nothing else planned,
    and until when they do in the plan, or to its end."""
    names = {task.id for task in mine}
    booked = plan.by_task()
    before: dict[str, list[Link]] = {name: [] for name in names}
    for link in problem.links:
        if link.after in names and link.before in names:
            before[link.after].append(link)
    ends: dict[str, int] = {}
    wanted: dict[str | None, tuple[int, int]] = {}
    for task in in_link_order(problem):
        if task.id not in names:
            continue
        waits = (ends[link.before] + link.lag_slots for link in before[task.id])
        start = max([task.not_before, *waits])
        ends[task.id] = start + task.half_days
        booking = booked.get(task.id)
        until = booking.end if booking else problem.half_days
        able = [crew.id for crew in problem.crews if task.skill in crew.skills]
        for name in (*able, *(pool for pool, _ in task.uses)):
            first, last = wanted.get(name, (start, until))
            wanted[name] = min(first, start), max(last, until)
    return wanted


def _held(problem: Problem, job: str, bookings: list[Booking]) -> Sentence:
    """What the bookings hold: their crews, or else their tools."""
    of = {task.id: task for task in problem.tasks}
    crews = {booking.crew for booking in bookings if booking.crew}
    tools = {pool for booking in bookings for pool, _ in of[booking.task].uses}
    return Sentence(
        "{job} holds {things} between {first} and {last}",
        job=job,
        things=", ".join(sorted(crews or tools)),
        first=said_with_weekday(problem.start, min(booking.start for booking in bookings)),
        last=said_with_weekday(problem.start, max(booking.end for booking in bookings) - 1),
    )


def _gone(alone: Problem, bookings: list[Booking]) -> Problem:
    """What these bookings of other jobs hold is free."""
    freed: dict[str | None, set[int]] = {}
    for booking in bookings:
        freed.setdefault(booking.crew, set()).update(booking.slots)
    tools = {_other(booking.task) for booking in bookings}
    return replace(
        alone,
        crews=tuple(
            replace(crew, away=crew.away - freed.get(crew.id, set())) for crew in alone.crews
        ),
        tasks=tuple(task for task in alone.tasks if task.id not in tools),
    )


def _skills(problem: Problem, mine: list[Task], names: Names) -> Iterator[_Constraint]:
    for skill in sorted({task.skill for task in mine if task.skill}):
        able = [crew.id for crew in problem.crews if skill in crew.skills]
        if len(able) == len(problem.crews) or not problem.crews:
            continue
        sentence = Sentence("no crew can {skill}", skill=names.can(skill))
        if able:
            sentence = Sentence(
                "only {crews} can {skill}", crews=", ".join(able), skill=names.can(skill)
            )

        def relax(p: Problem, skill: str = skill) -> Problem:
            return replace(
                p, crews=tuple(replace(crew, skills=crew.skills | {skill}) for crew in p.crews)
            )

        yield _Constraint(sentence, relax)


def _changed_task(name: str, **change: object) -> Callable[[Problem], Problem]:
    def relax(p: Problem) -> Problem:
        return replace(
            p,
            tasks=tuple(
                replace(task, **change) if task.id == name else task  # type: ignore[arg-type]
                for task in p.tasks
            ),
        )

    return relax


def _back_at_work(name: str, slots: frozenset[int]) -> Callable[[Problem], Problem]:
    def relax(p: Problem) -> Problem:
        def back(crew: Crew) -> Crew:
            return replace(crew, away=crew.away - slots) if crew.id == name else crew

        return replace(p, crews=tuple(back(crew) for crew in p.crews))

    return relax
