"""How good and how fast: `python -m pytest tests/bench/bench_planner.py -s`.

On workloads of our own generator; `PLANNER_FOLDER` names a folder with problems in the planner's
format (PSPLIB among them, say), which carry licences of their own and stay outside.
"""

import json
import os
import resource
import time
from pathlib import Path

import pytest

from scheduling.planner.check import violations
from scheduling.planner.format import problem_from
from scheduling.planner.greedy import greedy
from scheduling.planner.objective import score
from scheduling.planner.solve import load, solve
from tests.scheduling.planner.generate import workload

FOLDER = os.environ.get("PLANNER_FOLDER")
GIGABYTE_KB = 1_000_000


def measured(name, asked, seconds):
    load()
    began = time.perf_counter()
    first = greedy(asked)
    first_ms = 1000 * (time.perf_counter() - began)
    began = time.perf_counter()
    solved = solve(asked, seconds=seconds)
    took = time.perf_counter() - began
    assert violations(asked, solved.plan) == []
    assert solved.late_bound <= solved.score.late <= score(asked, first).late
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"{name}: first plan {score(asked, first).late} late in {first_ms:.0f} ms, "
        f"{solved.score.late} late after {took:.1f} s, bound {solved.late_bound}, "
        f"optimal {solved.optimal}, {solved.steps} steps, {peak_kb // 1000} MB"
    )
    assert took < seconds * 1.1 + 0.2
    assert peak_kb < GIGABYTE_KB


@pytest.mark.parametrize(
    ("kind", "seconds"), [("small", 5), ("medium", 1), ("medium", 10), ("large", 10)]
)
def test_workloads(kind, seconds):
    measured(f"{kind}, {seconds} s", workload(kind, seed=1), seconds)


@pytest.mark.skipif(FOLDER is None, reason="PLANNER_FOLDER names no folder")
def test_problems_of_a_folder():
    for path in sorted(Path(FOLDER or "").glob("*.json")):
        measured(path.stem, problem_from(json.loads(path.read_bytes())), 10)
