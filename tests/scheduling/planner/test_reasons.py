"""Why something is late: the constraint that was put there is the one that is named."""

from scheduling.planner.reasons import why_late
from scheduling.planner.solve import solve

from .builder import crew, job, link, problem, task


def why(asked, name="j"):
    return why_late(asked, solve(asked, steps=500).plan, name)


def test_a_wait_for_mortar_is_named():
    curing = problem(
        [task("embed"), task("tile")],
        links=[link("embed", "tile", 48)],
        jobs=[job(due_slot=4)],
    )
    reason = why(curing)
    assert reason.because == ("tile has to wait 48 h behind embed, until 2027-03-03 pm",)
    assert reason.enough


def test_the_only_crew_that_can_is_away():
    away = problem(
        [task("tile", "tile")],
        crews=[crew("a"), crew("b", "tile", away=range(6))],
        jobs=[job(due_slot=4)],
    )
    reason = why(away)
    assert reason.because == (
        "crew b, the only one that can tile, is away from 2027-03-01 am until 2027-03-03 pm",
    )
    assert reason.enough


def test_a_delivery_that_comes_late_is_named():
    reason = why(problem([task("tile", not_before=6)], jobs=[job(due_slot=4)]))
    assert reason.because == ("tile may not start before 2027-03-04 am",)


def test_the_job_that_holds_the_crew_is_named():
    busy = problem(
        [task("first", half_days=4, job="first"), task("x", half_days=2)],
        jobs=[job("first", due_slot=4, weight=5), job("j", due_slot=4)],
    )
    reason = why(busy)
    assert reason.because == ("first holds crew a between 2027-03-01 am and 2027-03-02 pm",)
    assert reason.enough


def test_a_tool_that_is_out_is_named():
    tool = problem(
        [
            task("dry", None, 6, job="first", uses={"heater": 1}),
            task("x", None, 2, uses={"heater": 1}),
        ],
        jobs=[job("first", due_slot=6, weight=5), job("j", due_slot=4)],
        pools={"heater": 1},
    )
    assert why(tool).because == ("first holds a tool between 2027-03-01 am and 2027-03-03 pm",)


def test_two_constraints_that_are_both_needed_are_both_named():
    both = problem(
        [task("embed", not_before=4), task("tile")],
        links=[link("embed", "tile", 48)],
        jobs=[job(due_slot=2)],
    )
    reason = why(both)
    assert len(reason.because) == 2
    assert reason.enough


def test_work_that_is_too_long_by_itself_says_so():
    reason = why(problem([task("lay", half_days=6)], jobs=[job(due_slot=4)]))
    assert not reason.enough
    assert reason.because == (
        "its own work and waits take until 2027-03-03 pm even without anything else in the way",
    )


def test_an_unplanned_task_is_explained_too():
    short = problem([task("lay", half_days=30)], half_days=28)
    assert why(short).because[0] == "the plan ends after 28 half-days"


def test_a_crew_does_not_come_back_from_leave_when_another_job_leaves_it():
    """The other job's two half-days lie around the leave; the job in question wants both."""
    around = problem(
        [task("first", half_days=2, job="first"), task("x", half_days=2)],
        crews=[crew("a", away=[1, 2])],
        jobs=[job("first", due_slot=4, weight=5), job("j", due_slot=2)],
    )
    reason = why(around)
    # By hand: without the other job it ends at 4, without the leave at 4 too, without both at 2.
    assert sorted(said.split()[0] for said in reason.because) == ["crew", "first"]
    assert reason.enough
