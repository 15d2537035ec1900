"""The first plan: always valid, whatever the problem leaves room for."""

from scheduling.planner.check import violations
from scheduling.planner.greedy import greedy
from scheduling.planner.objective import score
from scheduling.planner.problem import Fixed

from .builder import WEEKDAYS, crew, job, link, problem, task


def left_out(plan):
    return [unplanned.task for unplanned in plan.unplanned]


def test_the_job_due_first_goes_first():
    two = problem(
        [task("late", job="l"), task("soon", job="s")],
        jobs=[job("l", due_slot=8), job("s", due_slot=2)],
    )
    plan = greedy(two).by_task()
    assert (plan["soon"].start, plan["late"].start) == (0, 1)


def test_each_task_takes_the_crew_that_ends_it_first():
    busy = problem([task("a1"), task("b1")], crews=[crew("a"), crew("b", away=[0, 1])])
    plan = greedy(busy).by_task()
    assert [(booking.crew, booking.start) for booking in plan.values()] == [("a", 0), ("a", 1)]


def test_a_task_pauses_over_the_weekend():
    long = problem([task("long", half_days=12)])
    (booking,) = greedy(long).bookings
    assert booking.slots == (*range(10), 14, 15)


def test_a_tool_is_waited_for_through_the_pause():
    friday_pm = 9
    heated = problem(
        [
            task("dry", half_days=2, uses={"heater": 1}, not_before=friday_pm),
            task("warm", None, 2, uses={"heater": 1}, not_before=friday_pm),
        ],
        pools={"heater": 1},
    )
    assert greedy(heated).by_task()["warm"].start == 15
    assert violations(heated, greedy(heated)) == []


def test_what_precedes_a_fixed_task_is_planned_around_it():
    held = problem(
        [task("survey"), task("lay", half_days=2, fixed=Fixed(crew="a", start=1)), task("other")],
        links=[link("survey", "lay")],
    )
    plan = greedy(held).by_task()
    assert (plan["survey"].start, plan["lay"].start, plan["other"].start) == (0, 1, 3)


def test_a_fixed_task_gives_way_to_what_it_would_leave_unplanned():
    held = problem(
        [task("survey", half_days=3), task("lay", fixed=Fixed(crew="a", start=2))],
        links=[link("survey", "lay")],
    )
    plan = greedy(held)
    assert left_out(plan) == ["lay"]
    assert plan.by_task()["survey"].start == 0


def test_of_two_fixed_tasks_in_one_place_one_is_unplanned():
    both = problem([task(name, fixed=Fixed(crew="a", start=4)) for name in "xy"])
    plan = greedy(both)
    assert left_out(plan) == ["y"]
    assert violations(both, plan) == []


def test_without_crews_only_what_needs_none_is_planned():
    none = problem([task("lay"), task("inspect", None)], crews=[])
    assert left_out(greedy(none)) == ["lay"]
    assert violations(none, greedy(none)) == []


def test_a_crew_that_never_works_does_nothing():
    idle = problem([task("lay")], crews=[crew(works=((False, False),) * 7)])
    assert left_out(greedy(idle)) == ["lay"]


def test_a_milestone_may_stand_at_the_very_end():
    end = problem([task("done", "lay", 0, not_before=28)], crews=[crew(works=WEEKDAYS)])
    (booking,) = greedy(end).bookings
    assert (booking.start, booking.crew, booking.slots) == (28, "a", ())
    assert violations(end, greedy(end)) == []


def test_a_due_date_in_the_past_only_makes_it_late():
    past = problem([task("lay")], jobs=[job("j", due_slot=-10, weight=3)])
    assert score(past, greedy(past)).late == 3 * 11
