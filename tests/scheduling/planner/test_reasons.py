"""Why something is late: the constraint that was put there is the one that is named."""

from scheduling.planner.names import Names
from scheduling.planner.reasons import why_late
from scheduling.planner.solve import solve

from .builder import crew, job, link, problem, task


def why(asked, name="j", **said):
    return why_late(asked, solve(asked, steps=500).plan, name, **said)


def test_a_wait_for_mortar_is_named():
    curing = problem(
        [task("embed"), task("tile")],
        links=[link("embed", "tile", 48)],
        jobs=[job(due_slot=4)],
    )
    reason = why(curing)
    assert reason.because == ("tile has to wait 48 h behind embed, until Wed 2027-03-03 pm",)
    assert reason.enough


def test_the_only_crew_that_can_is_away():
    away = problem(
        [task("tile", "tile")],
        crews=[crew("a"), crew("b", "tile", away=range(6))],
        jobs=[job(due_slot=4)],
    )
    reason = why(away)
    assert reason.because == (
        "b, the only one that can tile, is away from Mon 2027-03-01 am until Wed 2027-03-03 pm",
    )
    assert reason.enough


def test_the_only_crew_is_named_for_what_nobody_else_can():
    """The other crew can do half of the job, and is no help."""
    away = problem(
        [task("survey"), task("tile", "tile")],
        crews=[crew("a"), crew("b", "lay tile", away=range(1, 6))],
        links=[link("survey", "tile")],
        jobs=[job(due_slot=4)],
    )
    assert why(away).because == (
        "b, the only one that can tile, is away from Mon 2027-03-01 pm until Wed 2027-03-03 pm",
    )


def test_things_are_called_as_asked():
    named = Names(
        task=lambda name: f"the {name} here",
        job=lambda name: f"job no. {name}",
        can=lambda skill: f"do the {skill}ing",
        waits=lambda link, until: f"{link.before} hardens until {until}",
    )
    curing = problem(
        [task("embed", not_before=4), task("tile")],
        links=[link("embed", "tile", 48)],
        jobs=[job(due_slot=2)],
    )
    assert sorted(why(curing, names=named).because) == [
        "embed hardens until Fri 2027-03-05 pm",
        "the embed here may not start before Wed 2027-03-03 am",
    ]
    busy = problem(
        [task("first", half_days=4, job="first"), task("x", "tile", half_days=2)],
        crews=[crew("a", "lay tile"), crew("b", "tile", away=range(6))],
        jobs=[job("first", due_slot=4, weight=5), job("j", due_slot=4)],
    )
    assert why(busy, names=named).because[0].startswith("job no. first holds a between")
    alone = problem([task("x", "tile")], crews=[crew("b", "tile", away=range(6))])
    assert why(alone, names=named).because[0].startswith("b, the only one that can do the tileing")


def test_a_delivery_that_comes_late_is_named():
    reason = why(problem([task("tile", not_before=6)], jobs=[job(due_slot=4)]))
    assert reason.because == ("tile may not start before Thu 2027-03-04 am",)


def test_the_job_that_holds_the_crew_is_named():
    busy = problem(
        [task("first", half_days=4, job="first"), task("x", half_days=2)],
        jobs=[job("first", due_slot=4, weight=5), job("j", due_slot=4)],
    )
    reason = why(busy)
    assert reason.because == ("first holds a between Mon 2027-03-01 am and Tue 2027-03-02 pm",)
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
    assert why(tool).because == (
        "first holds heater between Mon 2027-03-01 am and Wed 2027-03-03 pm",
    )


def test_two_constraints_that_are_both_needed_are_both_named():
    both = problem(
        [task("embed", not_before=4), task("tile")],
        links=[link("embed", "tile", 48)],
        jobs=[job(due_slot=2)],
    )
    reason = why(both)
    assert len(reason.because) == 2
    assert reason.enough


def test_a_wait_that_only_counts_once_the_crew_is_back_is_named_too():
    masked = problem(
        [task("embed"), task("tile", "tile")],
        crews=[crew("a"), crew("b", "tile", away=range(8))],
        links=[link("embed", "tile", 48)],
        jobs=[job(due_slot=4)],
    )
    reason = why(masked)
    # By hand: with both it ends at 9, without the leave at 6, without the wait still at 9.
    assert [said.split()[0] for said in reason.because] == ["b,", "tile"]
    assert reason.enough


def test_work_that_is_too_long_by_itself_says_so():
    reason = why(problem([task("lay", half_days=6)], jobs=[job(due_slot=4)]))
    assert not reason.enough
    assert reason.because == (
        "its own work and waits take until Wed 2027-03-03 pm even without anything else in the way",
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
    assert sorted(said.split()[0] for said in reason.because) == ["a,", "first"]
    assert reason.enough
