"""Why a task has no place in a plan, with all else where it is."""

from collections.abc import Iterator
from dataclasses import replace

from config.sentence import Sentence
from scheduling.planner.names import IDS, Names
from scheduling.planner.places import Standing
from scheduling.planner.problem import Plan, Problem, Task, said_with_weekday


def with_reasons(problem: Problem, plan: Plan, *, names: Names = IDS) -> Plan:
    """The plan, saying of each task without a place why it has none."""
    if not plan.unplanned:
        return plan
    standing = Standing(problem, plan, names=names)
    return replace(
        plan,
        unplanned=tuple(
            replace(each, because=tuple(_because(standing, standing.tasks[each.task])))
            for each in plan.unplanned
        ),
    )


def _because(standing: Standing, task: Task) -> Iterator[str]:
    problem, names = standing.problem, standing.names
    missing = [name for name, _ in standing.before[task.id] if name not in standing.booked]
    if missing:
        for name in missing:
            yield Sentence("it comes after {task}, which has no place", task=names.task(name))
        return
    if task.fixed:
        fixed = said_with_weekday(problem.start, task.fixed.start)
        against = standing.against(task.id, task.fixed.crew, task.fixed.start)
        for why in against:
            yield Sentence("it is fixed on {when}, and {against}", when=fixed, against=why)
        if not against:
            yield Sentence("it is fixed on {when}, and gave way to what comes first", when=fixed)
        return
    if task.skill and not any(task.skill in crew.skills for crew in problem.crews):
        yield Sentence("no crew can {skill}", skill=names.can(task.skill))
        return
    for pool in problem.pools:
        if (amount := dict(task.uses).get(pool.id, 0)) > pool.capacity:
            yield Sentence(
                "it needs {amount} {pool} and there are {capacity}",
                amount=amount,
                pool=pool.id,
                capacity=pool.capacity,
            )
            return
    yield Sentence(
        "it can start on {when} at the earliest, and from then on nothing free is left within "
        "the {half_days} half-days",
        when=said_with_weekday(problem.start, standing.earliest(task)),
        half_days=problem.half_days,
    )
