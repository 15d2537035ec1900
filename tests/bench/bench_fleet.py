"""Contractors that plan at the same moment, through the queue and its workers.

`python -m tests.bench fleet`: 1, 10 and 100 of them on two workers, a second of search each.
"""

import resource
import time
from datetime import timedelta

from django.utils import timezone

from tests.bench.server import database, gunicorn, row

CONTRACTORS = (1, 10, 100)
SECONDS = 1.0
JOBS, CREWS = 12, 3
LONGEST_WAIT_S = 300
SKILLS = (["lay", "mortar"], ["lay", "mortar", "tile"], ["electric", "tile"])


def company(at):
    """A contractor with open jobs that all press; returns who asks for the plan."""
    from tests.factories import (
        ContractorFactory,
        CrewFactory,
        MaterialFactory,
        MemberFactory,
        RoomFactory,
    )

    contractor = ContractorFactory()
    MaterialFactory(contractor=contractor, kind="mortar")
    for skills in SKILLS[:CREWS]:
        CrewFactory(contractor=contractor, skills=skills)
    for number in range(JOBS):
        due = at.date() + timedelta(days=20 + number)
        RoomFactory(contractor=contractor, job__number=number + 1, job__due_on=due)
    return MemberFactory(contractor=contractor, role="office")


def together(count):
    """Seconds until the last of them has its proposal, and the plans."""
    from scheduling.actions.plans import ask_for_plan
    from scheduling.models import Plan

    at = timezone.now()  # noqa: TID251 (the workers read the clock)
    members = [company(at) for _ in range(count)]
    began = time.perf_counter()
    for member in members:
        ask_for_plan(by=member, seconds=SECONDS, seed=1, frozen_days=0, lateness_first=False, at=at)
    mine = Plan.objects.filter(contractor__in=[member.contractor_id for member in members])
    while mine.filter(state__in=("queued", "solving")).exists():
        assert time.perf_counter() - began < LONGEST_WAIT_S, "plans are still waiting"
        time.sleep(0.1)
    return time.perf_counter() - began, list(mine)


def main() -> list[str]:
    lines = ["| contractors at once | all have their proposal | goal | met |", "|---|---|---|---|"]
    with database(), gunicorn():
        together(1)  # the workers load the solvers
        for count in CONTRACTORS:
            took, plans = together(count)
            assert all(plan.state == "proposed" for plan in plans)
            assert all(plan.objective["unplanned"] == 0 for plan in plans)
            goal = 2 + 1.5 * SECONDS * count  # as if one after the other
            late = sum(plan.objective["late"] for plan in plans) / count
            lines.append(
                row(
                    str(count),
                    f"{took:.1f} s, {60 * count / took:.0f} a minute, {late:.1f} late each",
                    f"{goal:.0f} s",
                    met=took <= goal,
                )
            )
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1000
    return [*lines, "", f"The largest process took {peak} MB."]
