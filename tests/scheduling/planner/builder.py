"""Small planning problems for tests: five lines instead of fifty."""

from datetime import date

from scheduling.planner.problem import Crew, Job, Link, Pool, Problem, Task

MONDAY = date(2027, 3, 1)
WEEKDAYS = ((True, True),) * 5 + ((False, False),) * 2


def crew(name="a", skills="lay", *, works=WEEKDAYS, away=()):
    return Crew(id=name, skills=frozenset(skills.split()), works=works, away=frozenset(away))


ONE_CREW = crew()


def task(name, skill="lay", half_days=1, *, job="j", uses=(), not_before=0, fixed=None):
    return Task(
        id=name,
        job=job,
        skill=skill,
        half_days=half_days,
        uses=tuple(dict(uses).items()),
        not_before=not_before,
        fixed=fixed,
    )


def link(before, after, lag_hours=0):
    return Link(before=before, after=after, lag_hours=lag_hours)


def job(name="j", due_slot=4, weight=1):
    return Job(id=name, due_slot=due_slot, weight=weight)


def problem(
    tasks,
    *,
    crews=(ONE_CREW,),
    links=(),
    jobs=None,
    pools=(),
    half_days=28,
    start=MONDAY,
    previous=None,
):
    """A problem with a job, due at slot 4 with weight 1, for each job that the tasks name."""
    names = dict.fromkeys(task.job for task in tasks)
    return Problem(
        start=start,
        half_days=half_days,
        crews=tuple(crews),
        pools=tuple(Pool(id=name, capacity=capacity) for name, capacity in dict(pools).items()),
        tasks=tuple(tasks),
        links=tuple(links),
        jobs=tuple(jobs) if jobs is not None else tuple(job(name) for name in names),
        previous=previous,
    )
