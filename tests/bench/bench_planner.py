"""How good and how fast the planner is: `python -m tests.bench planner`.

On workloads of our own generator; `PLANNER_FOLDER` names a folder with problems in the planner's
format (PSPLIB among them, say), which carry licences of their own and stay outside.
"""

import json
import os
import resource
import time
from pathlib import Path

from scheduling.planner.check import violations
from scheduling.planner.format import problem_from
from scheduling.planner.greedy import greedy
from scheduling.planner.objective import score
from scheduling.planner.problem import Problem
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


def main() -> list[str]:
    load()
    lines = [
        measured(f"{kind}, {seconds} s", workload(kind, seed=1), seconds)
        for kind, seconds in (("small", 5), ("medium", 1), ("medium", 10), ("large", 10))
    ]
    for path in sorted(Path(FOLDER).glob("*.json")) if FOLDER else []:
        lines.append(measured(path.stem, problem_from(json.loads(path.read_bytes())), 10))
    return lines
