"""Tasks that follow from a job: steps, durations, waits of the mortar."""

import pytest

from scheduling.cure import Arrhenius
from scheduling.planner.problem import Fixed
from scheduling.workload import (
    STEPS,
    Cure,
    RoomMade,
    Work,
    half_days,
    links_of,
    steps_made,
    tasks_of,
)

MORTAR = Cure(
    law=Arrhenius(activation_k=5000.0, reference_c=20.0),
    lowest_c=5.0,
    walk_after_hours=24.0,
    heat_after_hours=168.0,
)


def work(**changes):
    return Work(
        **{
            "job": "7",
            "release_slot": 0,
            "due_slot": 60,
            "weight": 1,
            "area_m2": 10.0,
            "rooms": 1,
            "cures": (MORTAR,),
            **changes,
        }
    )


def lags(of):
    return {(link.before, link.after): link.lag_hours for link in links_of(of)}


def test_a_new_job_has_every_step_in_order():
    tasks = tasks_of(work(), testers="insulation tester")
    assert [task.id for task in tasks] == [f"7 {step}" for step in STEPS]
    assert tasks[-1].uses == (("insulation tester", 1),)


@pytest.mark.parametrize(
    ("step", "area_m2", "rooms", "expected"),
    [("lay", 8.0, 1, 1), ("lay", 8.1, 1, 2), ("tile", 30.0, 2, 5), ("connect", 30.0, 4, 2)],
)
def test_the_floor_decides_how_long_a_step_takes(step, area_m2, rooms, expected):
    assert half_days(step, area_m2, rooms) == expected


def test_the_wait_is_that_of_the_slowest_material_at_a_cool_site():
    quick = Cure(law=MORTAR.law, lowest_c=5.0, walk_after_hours=3.0, heat_after_hours=24.0)
    found = lags(work(cures=(quick, MORTAR)))
    # At 15 °C an hour is worth exp(5000 (1/293.15 - 1/288.15)) = 0.7438 of one at 20 °C.
    assert found["7 embed", "7 tile"] == pytest.approx(24 / 0.7438, rel=1e-3)
    assert found["7 embed", "7 energize"] == pytest.approx(168 / 0.7438, rel=1e-3)


def test_a_warm_site_never_shortens_what_is_printed():
    assert MORTAR.elapsed(168.0, celsius=35.0) == 168.0


def test_a_site_too_cold_to_cure_waits_for_long_and_not_for_ever():
    assert MORTAR.elapsed(168.0, celsius=2.0) == 24.0 * 120


def test_nobody_goes_back_behind_a_step_that_is_done():
    done = work(done=frozenset({"lay"}))
    assert tasks_of(done, testers=None)[0].id == "7 embed"


def made(*placed, laid=False, covered=False, heated=False):
    return RoomMade(laid=laid, covered=covered, heated=heated, placed=frozenset(placed))


@pytest.mark.parametrize(
    ("rooms", "steps"),
    [
        ([made()], set()),
        ([made(laid=True)], {"lay"}),
        ([made(laid=True), made()], set()),  # the crew comes again for the second room
        ([made(laid=True), made(covered=True)], {"lay"}),
        ([made("adhesive", laid=True)], {"lay"}),  # below the cable
        ([made("adhesive", covered=True)], {"lay", "embed", "tile"}),
        ([made("adhesive", "grout", covered=True)], {"lay", "embed", "tile", "grout"}),
        ([made(heated=True)], {"energize"}),
        ([], set()),
    ],
)
def test_what_the_records_of_every_room_show_is_not_planned_again(rooms, steps):
    assert steps_made(rooms) == steps


def test_a_floor_that_was_covered_waits_only_for_the_rest():
    covered = work(done=frozenset({"embed"}), embedded_slots_ago=6)
    ready = {task.id: task.not_before for task in tasks_of(covered, testers=None)}
    assert ready["7 tile"] == 0  # 33 h are over after 3 slots
    assert ready["7 energize"] == 19 - 6  # 225.9 h are 19 slots


def test_what_the_office_pinned_is_fixed_with_its_own_length():
    place = Fixed(crew="Crew A", start=8)
    pinned = work(pinned={"lay": place}, booked_half_days={"lay": 3})
    lay = tasks_of(pinned, testers=None)[2]
    assert (lay.fixed, lay.half_days) == (place, 3)
