"""The checker is tested by breaking a good plan one way each."""

from dataclasses import replace

import pytest

from scheduling.planner.check import violations
from scheduling.planner.problem import Booking, Fixed, Plan, Unplanned

from .builder import crew, link, problem, task

FRIDAY_PM, MONDAY_AM = 9, 14

PROBLEM = problem(
    [
        task("survey", "survey"),
        task("dry", "lay", 2, uses={"heater": 1}),
        task("tile", "tile", 2, not_before=16),
        task("visit", None, 1, fixed=Fixed(crew=None, start=3)),
        task("done", "tile", 0),
    ],
    crews=[crew("a", "lay survey"), crew("b", "tile", away=[18])],
    links=[link("survey", "dry"), link("dry", "tile", 24)],
    pools={"heater": 1},
)
PLAN = Plan(
    bookings=(
        Booking(task="survey", crew="a", start=2, slots=(2,)),
        Booking(task="dry", crew="a", start=FRIDAY_PM, slots=(FRIDAY_PM, MONDAY_AM)),
        Booking(task="tile", crew="b", start=17, slots=(17, 19)),
        Booking(task="visit", crew=None, start=3, slots=(3,)),
        Booking(task="done", crew="b", start=28, slots=()),
    )
)


def changed(name, **change):
    return replace(
        PLAN,
        bookings=tuple(
            replace(booking, **change) if booking.task == name else booking
            for booking in PLAN.bookings
        ),
    )


def without(name):
    return tuple(booking for booking in PLAN.bookings if booking.task != name)


def test_a_good_plan_has_no_violations():
    assert violations(PROBLEM, PLAN) == []


def test_a_plan_may_leave_out_the_end_of_a_chain():
    plan = Plan(bookings=without("tile"), unplanned=(Unplanned(task="tile", because=("why",)),))
    assert violations(PROBLEM, plan) == []


BROKEN = {
    "task missing": (Plan(bookings=without("visit")), "visit is in the plan 0 times"),
    "task twice": (Plan(bookings=PLAN.bookings + PLAN.bookings[:1]), "survey is in the plan 2"),
    "booked and unplanned": (
        replace(PLAN, unplanned=(Unplanned(task="tile", because=()),)),
        "tile is in the plan 2 times",
    ),
    "unknown task": (
        replace(PLAN, unplanned=(Unplanned(task="paint", because=()),)),
        "paint is in the plan but not",
    ),
    "too early": (
        changed("tile", start=15, slots=(15, 16)),
        "tile starts on 2027-03-08 pm, before",
    ),
    "before the plan": (changed("survey", start=-2, slots=(-2,)), "survey leaves the 28"),
    "behind the plan": (changed("done", start=29), "done leaves the 28"),
    "not as fixed": (changed("visit", start=4, slots=(4,)), "visit is not booked as it is fixed"),
    "crew for nothing": (changed("visit", crew="a"), "visit needs no crew and has a"),
    "no crew": (changed("survey", crew=None), "survey needs a crew"),
    "unknown crew": (changed("survey", crew="z"), "survey needs a crew; “z” is none"),
    "cannot": (changed("survey", crew="b"), "survey is booked on b, which cannot survey"),
    "milestone without its skill": (changed("done", crew="a"), "booked on a, which cannot tile"),
    "too short": (changed("tile", slots=(17,)), "tile takes 2 half-days and has 1"),
    "too long": (changed("survey", slots=(2, 3)), "survey takes 1 half-days and has 2"),
    "milestone with slots": (changed("done", start=20, slots=(20,)), "done takes 0"),
    "start is not the first slot": (changed("dry", start=8), "dry does not start with its first"),
    "on a weekend": (changed("dry", slots=(9, 10)), "dry from 2027-03-05 pm on is not"),
    "while away": (changed("tile", slots=(17, 18)), "tile from 2027-03-09 pm on is not"),
    "skips a working slot": (changed("tile", slots=(17, 20)), "tile from 2027-03-09 pm on is not"),
    "slots out of order": (changed("tile", start=19, slots=(19, 17)), "is not on consecutive"),
    "crew twice": (changed("survey", start=9, slots=(9,)), "a has survey and dry at once"),
    "link": (
        changed("survey", start=15, slots=(15,)),
        "dry starts on 2027-03-05 pm, less than 0 h",
    ),
    "lag": (
        changed("tile", start=16, slots=(16, 17)),
        "tile starts on 2027-03-09 am, less than 24",
    ),
    "after an unplanned one": (
        Plan(bookings=without("dry"), unplanned=(Unplanned(task="dry", because=()),)),
        "tile is booked, but dry, which comes first, is not",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_each_broken_rule_is_named(name):
    plan, sentence = BROKEN[name]
    found = violations(PROBLEM, plan)
    assert any(sentence in violation for violation in found), found


def test_a_pool_is_held_over_the_pause():
    both = problem(
        [task("dry", "lay", 2, uses={"heater": 1}), task("warm", None, 2, uses={"heater": 1})],
        pools={"heater": 1},
    )
    dry = Booking(task="dry", crew="a", start=FRIDAY_PM, slots=(FRIDAY_PM, MONDAY_AM))
    sunday = Booking(task="warm", crew=None, start=12, slots=(12, 13))
    monday = Booking(task="warm", crew=None, start=15, slots=(15, 16))
    assert violations(both, Plan(bookings=(dry, sunday))) == [
        "2 of 1 heater are out on 2027-03-07 am."
    ]
    assert violations(both, Plan(bookings=(dry, monday))) == []


def test_a_long_booking_hides_no_overlap_behind_a_short_one():
    three = problem([task("long", half_days=6), task("one"), task("two")])
    plan = Plan(
        bookings=(
            Booking(task="long", crew="a", start=0, slots=tuple(range(6))),
            Booking(task="one", crew="a", start=1, slots=(1,)),
            Booking(task="two", crew="a", start=4, slots=(4,)),
        )
    )
    assert len(violations(three, plan)) == 2
