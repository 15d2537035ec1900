"""Where a task could stand, and why not elsewhere."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.planner.check import violations
from scheduling.planner.greedy import greedy
from scheduling.planner.names import Names
from scheduling.planner.places import Standing, why_moved
from scheduling.planner.problem import Booking, Plan

from .builder import crew, link, problem, task
from .generate import workload

FRIDAY_PM, SATURDAY_AM, MONDAY_AM = 9, 10, 14

ASKED = problem(
    [
        task("embed", "lay"),
        task("tile", "tile", 2, not_before=3, uses={"saw": 1}),
        task("grout", "tile"),
        task("other", "tile", job="k", uses={"saw": 1}),
        task("visit", None, 1, job="k"),
    ],
    crews=[crew("a", "lay tile"), crew("b", "tile", away=[16])],
    links=[link("embed", "tile", 24), link("tile", "grout", 24)],
    pools={"saw": 1},
)
PLAN = Plan(
    bookings=(
        Booking(task="embed", crew="a", start=2, slots=(2,)),
        Booking(task="tile", crew="b", start=5, slots=(5, 6)),
        Booking(task="grout", crew="b", start=17, slots=(17,)),
        Booking(task="other", crew="a", start=8, slots=(8,)),
        Booking(task="visit", crew=None, start=0, slots=(0,)),
    )
)
STANDING = Standing(ASKED, PLAN)


def test_the_plan_itself_holds():
    assert violations(ASKED, PLAN) == []
    for booking in PLAN.bookings:
        assert STANDING.against(booking.task, booking.crew, booking.start) == ()


@pytest.mark.parametrize(
    ("name", "who", "start", "because"),
    [
        ("tile", "b", SATURDAY_AM, "b does not work on Sat 2027-03-06 am"),
        ("grout", "b", 16, "b does not work on Tue 2027-03-09 am"),
        ("embed", "b", 2, "b cannot lay"),
        ("embed", "z", 2, "there is no crew z"),
        ("embed", None, 2, "embed needs a crew"),
        ("visit", "a", 2, "visit needs no crew"),
        ("tile", "b", 2, "tile may not start before Tue 2027-03-02 pm"),
        ("tile", "b", 4, "embed comes first, and lets it start on Wed 2027-03-03 pm"),
        ("tile", "b", 15, "grout is booked on Tue 2027-03-09 pm, and this has to end before "),
        ("tile", "a", 7, "a has other on Fri 2027-03-05 am"),
        ("tile", "b", 7, "every saw is out on Fri 2027-03-05 am"),
        ("tile", "b", 23, "the plan ends after 28 half-days"),
    ],
)
def test_what_is_against_a_place_is_said(name, who, start, because):
    assert any(because in said for said in STANDING.against(name, who, start))


def test_the_nearest_places_are_before_and_after_on_each_crew():
    near = STANDING.nearest("tile", "b", 8)
    # By hand: from slot 5 on; b at 5-6 or 6-7, then its saw is out on 8, so from 9; a 5-6, 6-7, 9.
    assert [(place.crew, place.start) for place in near] == [
        ("b", FRIDAY_PM),
        ("b", 6),
        ("a", FRIDAY_PM),
        ("a", 6),
    ]
    assert near[0].slots == (FRIDAY_PM, MONDAY_AM)


def test_tasks_are_called_as_asked():
    standing = Standing(ASKED, PLAN, names=Names(task=lambda name: f"the {name}"))
    assert standing.against("tile", "b", 4)[0].startswith("the embed comes first")


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.data())
def test_a_place_that_is_offered_makes_a_plan_without_violations(data):
    asked = workload("small", seed=data.draw(st.integers(1, 3)))
    plan = greedy(asked)
    booking = data.draw(st.sampled_from([each for each in plan.bookings if each.slots]))
    if next(each.fixed for each in asked.tasks if each.id == booking.task):
        return
    start = data.draw(st.integers(0, 239))
    standing = Standing(asked, plan)
    crews = [None, *[each.id for each in asked.crews]]
    near = standing.nearest(booking.task, data.draw(st.sampled_from(crews)), start)
    assert near
    for place in near:
        assert standing.against(booking.task, place.crew, place.start) == ()
        there = replace(booking, crew=place.crew, start=place.start, slots=place.slots)
        others = [each for each in plan.bookings if each.task != booking.task]
        assert violations(asked, Plan(bookings=(*others, there))) == []


def test_what_moved_says_what_took_its_place():
    ill = problem(
        [task("one"), task("two", job="k")],
        crews=[crew("a", away=[0]), crew("b")],
        previous=Plan(
            bookings=(
                Booking(task="one", crew="a", start=0, slots=(0,)),
                Booking(task="two", crew="b", start=0, slots=(0,)),
            )
        ),
    )
    plan = Plan(
        bookings=(
            Booking(task="one", crew="b", start=0, slots=(0,)),
            Booking(task="two", crew="b", start=1, slots=(1,)),
        )
    )
    assert why_moved(ill, plan) == {
        "one": ("a does not work on Mon 2027-03-01 am",),
        "two": ("b has one on Mon 2027-03-01 am",),
    }


def test_a_task_that_gave_way_though_it_could_have_stayed_says_so():
    before = Plan(bookings=(Booking(task="one", crew="a", start=1, slots=(1,)),))
    now = Plan(bookings=(Booking(task="one", crew="a", start=0, slots=(0,)),))
    assert why_moved(problem([task("one")], previous=before), now) == {
        "one": ("its old place is free, but this one makes less late",)
    }
