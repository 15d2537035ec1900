"""The planner against the outside: what the literature defines, on instances small enough to check.

PSPLIB: R. Kolisch, A. Sprecher, "PSPLIB - A project scheduling problem library", European Journal
of Operational Research 96 (1996) 205-216. Its instances carry no licence and stay outside; the
benchmark takes their folder. Here are instances of the same form with optima worked out by hand.
"""

from datetime import date

import pytest

from scheduling.planner.check import violations
from scheduling.planner.problem import Crew, Job, Link, Pool, Problem, Task
from scheduling.planner.solve import solve

START = date(2027, 3, 1)


def project(durations, demands, precedence, capacity):
    """As PSPLIB maps: a period is a slot, a resource a pool, the makespan the half-days late."""
    return Problem(
        start=START,
        half_days=sum(durations) or 1,
        crews=(),
        pools=(Pool(id="r", capacity=capacity),),
        tasks=tuple(
            Task(id=f"a{number}", job="project", skill=None, half_days=length, uses=(("r", need),))
            for number, (length, need) in enumerate(zip(durations, demands, strict=True))
        ),
        links=tuple(Link(before=f"a{one}", after=f"a{two}") for one, two in precedence),
        jobs=(Job(id="project", due_slot=0, weight=1),),
    )


@pytest.mark.parametrize(
    ("asked", "makespan"),
    [
        # No resource conflict: the critical path, 3 + 2 + 4.
        pytest.param(project([3, 2, 4, 1], [1, 1, 1, 1], [(0, 1), (1, 2)], 4), 9, id="P1 path"),
        # Nothing in parallel (2 + 2 > 3): the sum of the durations.
        pytest.param(project([3, 2, 4], [2, 2, 2], [], 3), 9, id="P2 serial"),
        # Energy: (3·2 + 3·2 + 2·2 + 2·2) / 4 = 5 periods, and 3 + 2 in two rows meets it.
        pytest.param(project([3, 3, 2, 2], [2, 2, 2, 2], [], 4), 5, id="P3 energy"),
        # a0 (2 periods) frees a2 (4), a1 (3) stands alone; 2 units: a0 and a1, then a2: 2 + 4.
        pytest.param(project([2, 3, 4], [1, 1, 1], [(0, 2)], 2), 6, id="P4 order"),
    ],
)
def test_makespans_of_projects_with_one_resource(asked, makespan):
    solved = solve(asked, steps=3000)
    assert violations(asked, solved.plan) == []
    assert solved.score.late == makespan
    assert solved.optimal


@pytest.mark.parametrize("steps", [400])
def test_one_crew_follows_smiths_rule(steps):
    """One machine, all due at 0: by falling weight / length is optimal.

    Source: W. E. Smith, "Various optimizers for single-stage production", Naval Research
    Logistics Quarterly 3 (1956) 59-66. By hand, in that order (5/1, 4/2, 3/3, 1/4):
    5·1 + 4·3 + 3·6 + 1·10 = 45.
    """
    lengths, weights = [4, 3, 2, 1], [1, 3, 4, 5]
    asked = Problem(
        start=START,
        half_days=20,
        crews=(Crew(id="c", skills=frozenset({"lay"}), works=((True, True),) * 7),),
        pools=(),
        tasks=tuple(
            Task(id=f"t{number}", job=f"j{number}", skill="lay", half_days=length)
            for number, length in enumerate(lengths)
        ),
        links=(),
        jobs=tuple(
            Job(id=f"j{number}", due_slot=0, weight=weight) for number, weight in enumerate(weights)
        ),
    )
    solved = solve(asked, steps=steps)
    assert solved.score.late == 45
    assert solved.optimal
    order = sorted(solved.plan.bookings, key=lambda booking: booking.start)
    assert [booking.task for booking in order] == ["t3", "t2", "t1", "t0"]
