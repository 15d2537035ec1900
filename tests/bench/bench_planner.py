"""How good and how fast the planner is: `python -m tests.bench planner`.

On workloads of our own generator; `PLANNER_FOLDER` names a folder with problems in the planner's
format (PSPLIB among them, say), which carry licences of their own and stay outside.
"""

import json
import os
import resource
import time
from dataclasses import replace
from pathlib import Path

from scheduling.planner.check import violations
from scheduling.planner.format import problem_from
from scheduling.planner.greedy import greedy
from scheduling.planner.objective import score
from scheduling.planner.problem import Problem, working_slots
from scheduling.planner.solve import load, solve
from tests.scheduling.planner.generate import workload

FOLDER = os.environ.get("PLANNER_FOLDER")
GIGABYTE_KB = 1_000_000


def measured(name: str, asked: Problem, seconds: float) -> str:
    began = time.perf_counter()
    first = greedy(asked)
    first_ms = 1000 * (time.perf_counter() - began)
    began = time.perf_counter()
    solved = solve(asked, seconds=seconds)
    took = time.perf_counter() - began
    assert violations(asked, solved.plan) == []
    assert solved.late_bound <= solved.score.late <= score(asked, first).late
    assert took < seconds * 1.1 + 0.2
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert peak_kb < GIGABYTE_KB
    return (
        f"{name}: first plan {score(asked, first).late} late in {first_ms:.0f} ms, "
        f"{solved.score.late} late after {took:.1f} s, bound {solved.late_bound}, "
        f"optimal {solved.optimal}, {solved.steps} steps, {peak_kb // 1000} MB"
    )


def repaired(asked: Problem, crew: str, day: int, seconds: float) -> str:
    """A crew is ill on its next five days; `asked` has the plan that it was in."""
    assert asked.previous is not None
    ill = next(each for each in asked.crews if each.id == crew)
    days = sorted({slot // 2 for slot in working_slots(asked, ill) if slot >= 2 * day})[:5]
    gone = frozenset(slot for each in days for slot in (2 * each, 2 * each + 1))
    hit = sum(each.crew == crew and bool(gone & {*each.slots}) for each in asked.previous.bookings)
    crews = tuple(
        replace(each, away=each.away | gone) if each is ill else each for each in asked.crews
    )
    again = replace(asked, crews=crews)
    solved = solve(again, seconds=seconds)
    assert violations(again, solved.plan) == []
    return (
        f"{crew} away for five days from day {day} on: {hit} bookings hit, "
        f"{solved.score.moved} moved, {solved.score.unplanned} unplanned, "
        f"{solved.score.late} late ({score(asked, asked.previous).late} before)"
    )


def main() -> list[str]:
    load()
    lines = [
        measured(f"{kind}, {seconds} s", workload(kind, seed=1), seconds)
        for kind, seconds in (("small", 5), ("medium", 1), ("medium", 10), ("large", 10))
    ]
    medium = workload("medium", seed=1)
    planned = replace(medium, previous=solve(medium, seconds=10).plan)
    lines += [
        repaired(planned, crew, day, 10) for day in (30, 61, 75, 90) for crew in ("c02", "c06")
    ]
    for path in sorted(Path(FOLDER).glob("*.json")) if FOLDER else []:
        lines.append(measured(path.stem, problem_from(json.loads(path.read_bytes())), 10))
    return lines
