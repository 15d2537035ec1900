"""Why a task has no place: what stands against it is said, of the plan as it is."""

import pytest

from scheduling.planner.check import violations
from scheduling.planner.greedy import greedy
from scheduling.planner.names import Names
from scheduling.planner.problem import Fixed
from scheduling.planner.unplanned import with_reasons

from .builder import crew, link, problem, task


def reasons(asked, **said):
    plan = with_reasons(asked, greedy(asked), **said)
    assert violations(asked, plan) == []
    return {unplanned.task: unplanned.because for unplanned in plan.unplanned}


@pytest.mark.parametrize(
    ("wrong", "because"),
    [
        (task("x", "weld"), "no crew can weld"),
        (task("x", uses={"heater": 2}), "it needs 2 heater and there are 1"),
        (task("x", fixed=Fixed(crew="a", start=10)), "a does not work on Sat 2027-03-06 am"),
        (task("x", fixed=Fixed(crew="b", start=0)), "it is fixed on Mon 2027-03-01 am, and b can"),
        (task("x", fixed=Fixed(crew=None, start=0)), "x needs a crew"),
        (task("x", None, fixed=Fixed(crew="a", start=0)), "x needs no crew"),
        (task("x", not_before=4, fixed=Fixed(crew="a", start=2)), "x may not start before Wed"),
        (task("x", fixed=Fixed(crew="a", start=-2)), "a does not work on Sun 2027-02-28 am"),
        (task("x", half_days=21), "nothing free is left within the 28 half-days"),
        (task("x", not_before=99), "nothing free is left within the 28 half-days"),
    ],
)
def test_what_cannot_be_is_unplanned_with_its_reason(wrong, because):
    asked = problem(
        [wrong, task("behind")],
        crews=[crew("a"), crew("b", "tile")],
        links=[link("x", "behind")],
        pools={"heater": 1},
    )
    said = reasons(asked)
    assert because in said["x"][0]
    assert said["behind"] == ("it comes after x, which has no place",)


def test_a_fixed_task_that_gave_way_says_to_what():
    held = problem(
        [task("survey", half_days=3), task("lay", fixed=Fixed(crew="a", start=2))],
        links=[link("survey", "lay")],
    )
    assert reasons(held)["lay"] == (
        "it is fixed on Tue 2027-03-02 am, and survey comes first, and lets it start on "
        "Tue 2027-03-02 pm",
        "it is fixed on Tue 2027-03-02 am, and a has survey on Tue 2027-03-02 am",
    )


def test_of_two_fixed_in_one_place_the_one_left_out_names_the_other():
    both = problem([task(name, fixed=Fixed(crew="a", start=4)) for name in "xy"])
    assert reasons(both) == {
        "y": ("it is fixed on Wed 2027-03-03 am, and a has x on Wed 2027-03-03 am",)
    }


def test_tasks_and_skills_are_called_as_asked():
    asked = problem([task("x", "weld"), task("behind")], links=[link("x", "behind")])
    named = Names(task=lambda name: f"the {name}", can=lambda skill: f"do what {skill}ers do")
    assert reasons(asked, names=named) == {
        "x": ("no crew can do what welders do",),
        "behind": ("it comes after the x, which has no place",),
    }
