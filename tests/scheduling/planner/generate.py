"""Workloads of a contractor, of any size and start: eight tasks a job, mixed crews, leave."""

import random
from datetime import date
from itertools import pairwise

from scheduling.planner.problem import (
    Crew,
    Fixed,
    Job,
    Link,
    Pool,
    Problem,
    Task,
    working_slots,
)

KINDS = {  # jobs, crews, half-days, load of the busiest skill, testers, heaters
    "small": (12, 3, 240, 0.80, 2, 1),
    "medium": (150, 12, 400, 0.93, 2, 3),
    "large": (1000, 60, 730, 0.95, 6, 14),
}
SKILLS = [
    "lay mortar survey", "mortar tile", "electric survey", "tile", "lay mortar", "lay tile",
    "electric", "lay mortar tile", "lay survey", "electric tile", "mortar tile",
    "electric lay survey",
]  # fmt: skip
SMALL_SKILLS = ["lay mortar survey", "lay mortar tile", "electric survey tile"]
CURE_HOURS = [168] * 3 + [336] * 3 + [240, 240, 504, 672]


def workload(kind, *, seed, start=date(2027, 3, 1), load=None):
    """A problem of a kind; jobs come in so fast that the busiest skill has the kind's load."""
    jobs, crews, half_days, usual_load, testers, heaters = KINDS[kind]
    rng = random.Random(f"{kind} {seed} {start}")
    problem = Problem(
        start=start,
        half_days=half_days,
        crews=tuple(_crew(rng, number, half_days, kind) for number in range(crews)),
        pools=(
            Pool(id="insulation-tester", capacity=testers),
            Pool(id="drying-heater", capacity=heaters),
        ),
        tasks=(),
        links=(),
        jobs=(),
    )
    span = _span(problem, jobs, load or usual_load)
    releases = sorted(rng.randrange(max(1, span)) for _ in range(jobs))
    rows = [_job(rng, problem, number, release) for number, release in enumerate(releases)]
    return Problem(
        start=start,
        half_days=half_days,
        crews=problem.crews,
        pools=problem.pools,
        jobs=tuple(row[0] for row in rows),
        tasks=tuple(task for row in rows for task in row[1]),
        links=tuple(link for row in rows for link in row[2]),
    )


def _crew(rng, number, half_days, kind):
    skills = SMALL_SKILLS if kind == "small" else SKILLS
    week = [[True, True] for _ in range(5)] + [[False, False], [False, False]]
    if rng.random() < 0.4:
        week[5] = [True, False]
    if rng.random() < 0.15:
        week[rng.randrange(5)] = [False, False]
    away = set()
    while rng.random() < 0.8 and len(away) < 40:
        first = rng.randrange(half_days)
        away.update(range(first, first + rng.randint(2, 10)))
    return Crew(
        id=f"c{number + 1:02}",
        skills=frozenset(skills[number % len(skills)].split()),
        works=tuple((am, pm) for am, pm in week),
        away=frozenset(away),
    )


def _span(problem, jobs, load):
    """Slots over which the jobs come in, for the busiest group of skills to have that load.

    Tiling, 4 half-days a job on average, is the most of a job; its crews also do other work.
    """
    per_job = 11.5
    capacity = sum(len(working_slots(problem, crew)) for crew in problem.crews)
    per_slot = capacity / problem.half_days
    return round(jobs * per_job / (load * per_slot))


def _job(rng, problem, number, release):
    name = f"j{number + 1:04}"
    lay, tile = rng.randint(1, 3), rng.randint(2, 4)
    cure = rng.choice(CURE_HOURS)
    heated = rng.choice(["prepare", "embed"]) if rng.random() < 0.45 else None
    lengths = {
        "survey": ("survey", 1), "prepare": ("lay", rng.randint(1, 2)), "lay": ("lay", lay),
        "embed": ("mortar", 1), "tile": ("tile", tile), "grout": ("tile", 1),
        "connect": ("electric", 1), "energize": ("electric", 1),
    }  # fmt: skip
    tasks = []
    for step, (skill, half_days) in lengths.items():
        not_before, fixed, uses = 0, None, ()
        if step == "survey":
            not_before = release
            fixed = _survey_date(rng, problem, release)
        if step == "tile" and rng.random() < 0.1:
            not_before = release + rng.randint(18, 40)
        if step == "energize":
            uses = (("insulation-tester", 1),)
        elif step == heated:
            uses = (("drying-heater", 1),)
        tasks.append(
            Task(
                id=f"{name}-{step}",
                job=name,
                skill=skill,
                half_days=half_days,
                uses=uses,
                not_before=not_before,
                fixed=fixed,
            )
        )
    lags = {"tile": 24, "grout": 24, "connect": rng.choice([0, 0, 12, 24])}
    steps = list(lengths)
    links = [
        Link(before=f"{name}-{one}", after=f"{name}-{two}", lag_hours=lags.get(two, 0))
        for one, two in pairwise(steps)
    ]
    links.append(Link(before=f"{name}-embed", after=f"{name}-energize", lag_hours=cure))
    work = sum(half_days for _, half_days in lengths.values())
    due = release // 2 + cure // 24 + round(work / 2 * 7 / 5) + rng.randint(-3, 14)
    return (
        Job(id=name, due_slot=2 * due + 2, weight=rng.choice([1, 1, 2, 2, 3, 4, 5])),
        tasks,
        links,
    )


def _survey_date(rng, problem, release):
    """Now and then a survey is agreed with the customer: a crew that can, a slot that it works."""
    if rng.random() > 0.05:
        return None
    crew = rng.choice([crew for crew in problem.crews if "survey" in crew.skills])
    free = [slot for slot in working_slots(problem, crew) if release <= slot < release + 10]
    return Fixed(crew=crew.id, start=rng.choice(free)) if free else None
