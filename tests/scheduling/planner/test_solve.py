"""The layers together: valid plans, proven optima, repeatable runs, repair."""

import threading
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.planner.check import violations
from scheduling.planner.greedy import greedy
from scheduling.planner.objective import moved, score
from scheduling.planner.problem import Fixed, Plan
from scheduling.planner.solve import load, solve

from .builder import WEEKDAYS, crew, job, link, problem, task
from .generate import workload


@st.composite
def problems(draw):
    """Jobs of up to four tasks in a row, crews of mixed skills, a tool, leave, fixed tasks."""
    skills = ["lay", "tile"]
    crews = [
        crew(
            name,
            " ".join(draw(st.lists(st.sampled_from(skills), min_size=1, unique=True))),
            works=draw(st.sampled_from([WEEKDAYS, ((True, False),) * 7])),
            away=draw(st.lists(st.integers(0, 27), max_size=6)),
        )
        for name in "ab"[: draw(st.integers(0, 2))]
    ]
    tasks, links = [], []
    for number in range(draw(st.integers(1, 4))):
        row = [
            task(
                f"{number}.{place}",
                draw(st.sampled_from([*skills, None])),
                draw(st.integers(0, 4)),
                job=f"j{number}",
                uses=draw(st.sampled_from([{}, {"heater": 1}, {"heater": 2}])),
                not_before=draw(st.integers(0, 30)) if draw(st.booleans()) else 0,
                fixed=(
                    Fixed(crew=draw(st.sampled_from(["a", None])), start=draw(st.integers(0, 27)))
                    if crews and not draw(st.integers(0, 5))
                    else None
                ),
            )
            for place in range(draw(st.integers(1, 4)))
        ]
        lags = st.sampled_from([0, 12, 25])
        links += [link(one.id, two.id, draw(lags)) for one, two in pairwise(row)]
        tasks += row
    if len(tasks) > 2 and draw(st.booleans()):
        links.append(link(tasks[0].id, tasks[-1].id, 24))
    names = dict.fromkeys(task.job for task in tasks)
    jobs = [job(name, draw(st.integers(-4, 20)), draw(st.integers(0, 5))) for name in names]
    return problem(tasks, crews=crews, links=links, jobs=jobs, pools={"heater": 2})


@settings(max_examples=60, derandomize=True, deadline=None)
@given(problems())
def test_every_layer_keeps_every_rule(asked):
    first = greedy(asked)
    assert violations(asked, first) == []
    solved = solve(asked, steps=1000)
    assert violations(asked, solved.plan) == []
    assert solved.score <= score(asked, first)
    assert solved.late_bound <= solved.score.late


@settings(max_examples=25, derandomize=True, deadline=None)
@given(problems(), st.sampled_from(["lay", "tile", "lay tile"]))
def test_another_crew_never_makes_the_optimum_worse(asked, skills):
    more = replace(asked, crews=(*asked.crews, crew("more", skills)))
    before, after = solve(asked, steps=4000), solve(more, steps=4000)
    if before.optimal and after.optimal:
        assert (after.score.unplanned, after.score.late) <= (
            before.score.unplanned,
            before.score.late,
        )


def test_a_weighty_job_goes_first_though_it_is_due_later():
    two = problem(
        [task("light", half_days=2, job="l"), task("heavy", half_days=2, job="h")],
        jobs=[job("l", due_slot=2, weight=1), job("h", due_slot=3, weight=5)],
    )
    solved = solve(two, steps=500)
    # By hand: light first 5 × 1 late, heavy first 1 × 2 late; ends 2 + 4.
    assert solved.score == (0, 2, 0, 6)
    assert solved.optimal


def test_the_rare_crew_is_kept_for_what_only_it_can_do():
    rare = problem(
        [task("lay", job="a", half_days=2), task("tile", "tile", job="b", half_days=2)],
        crews=[crew("both", "lay tile"), crew("layer", away=[0])],
        jobs=[job("a", due_slot=3), job("b", due_slot=2)],
    )
    solved = solve(rare, steps=500)
    # By hand: lay by the layer on slots 1-2 ends at 3, tile by the other on 0-1 ends at 2.
    assert solved.score == (0, 0, 0, 5)
    assert solved.optimal


def test_a_job_is_started_late_so_that_its_tool_is_there():
    tools = problem(
        [
            task("a", half_days=3, job="a", uses={"heater": 1}),
            task("b", "tile", 1, job="b", uses={"heater": 1}),
        ],
        crews=[crew("a"), crew("b", "tile")],
        jobs=[job("a", due_slot=4), job("b", due_slot=1, weight=2)],
        pools={"heater": 1},
    )
    solved = solve(tools, steps=500)
    # By hand: b on slot 0, then a on 1-3, both on time.
    assert solved.score == (0, 0, 0, 5)
    assert solved.optimal


def test_nothing_to_do_is_done_at_once():
    assert solve(problem([]), seconds=5).plan == Plan(bookings=())


def test_the_same_seed_and_steps_give_the_same_plan():
    asked = workload("small", seed=3)
    assert solve(asked, seed=5, steps=3000).plan == solve(asked, seed=5, steps=3000).plan


def test_the_search_stops_when_told_to():
    asked = workload("small", seed=3)
    told = threading.Event()
    told.set()
    solved = solve(asked, seconds=600, stopped=told.is_set)
    assert violations(asked, solved.plan) == []


def test_the_search_betters_the_first_plan_by_far():
    asked = workload("medium", seed=2)
    first = score(asked, greedy(asked)).late
    assert solve(asked, steps=8000).score.late < first / 2


@pytest.fixture(scope="module")
def planned():
    asked = workload("small", seed=4)
    return asked, solve(asked, steps=6000).plan


def away_for_days(asked, name, first, days):
    gone = frozenset(range(first, first + 2 * days))
    return replace(
        asked,
        crews=tuple(
            replace(crew, away=crew.away | gone) if crew.id == name else crew
            for crew in asked.crews
        ),
    )


def test_a_plan_that_still_holds_is_left_alone(planned):
    asked, plan = planned
    again = solve(replace(asked, previous=plan), steps=2000)
    assert again.score.moved == 0
    assert again.score.late <= score(asked, plan).late * 1.01


def test_a_crew_that_falls_ill_moves_few_bookings(planned):
    asked, plan = planned
    ill = replace(away_for_days(asked, "c01", 28, 5), previous=plan)
    hit = [
        booking
        for booking in plan.bookings
        if booking.crew == "c01" and any(28 <= slot < 38 for slot in booking.slots)
    ]
    assert hit
    solved = solve(ill, steps=8000)
    assert violations(ill, solved.plan) == []
    assert solved.score.moved <= 4 * len(hit)


def test_frozen_days_stay(planned):
    asked, plan = planned
    later = replace(away_for_days(asked, "c02", 40, 3), previous=plan)
    solved = solve(later, steps=4000, frozen_days=15, lateness_first=True)
    before = plan.by_task()
    assert all(before[name].start >= 30 for name in moved(plan, solved.plan))


def test_a_previous_plan_for_other_tasks_does_not_count(planned):
    _, plan = planned
    other = problem([task("lay")], previous=plan)
    solved = solve(other, steps=500)
    assert solved.score == (0, 0, 0, 1)


def test_loading_twice_is_harmless():
    load()
    load()
