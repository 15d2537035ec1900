"""Rooms are laid by the rules, and well: nothing that the independent check rejects."""

import math

import pytest

from jobs.laying.check import violations
from jobs.laying.lay import NothingToLay, alternatives, lay
from jobs.laying.measures import measure
from jobs.laying.plan import dump_plan, parse_plan
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import SHAPES, cables, hot_cables, make_room, mats, turned
from tests.jobs.laying.test_problem import bare_room


def laid(data):
    room = parse_room(data)
    plan = lay(room)
    return room, plan


@pytest.mark.parametrize("shape", [s for s in SHAPES if s not in ("hall", "bottleneck")])
def test_every_kind_of_room_is_laid_by_the_rules_and_nearly_full(shape):
    room, plan = laid({**make_room(900, shape=shape, elements=cables()), "may_use": 1})
    assert violations(room, plan) == []
    assert measure(room, plan).covered_of_best > 0.96


@pytest.mark.parametrize("seed", [3, 4])
def test_single_core_comes_back_to_the_control(seed):
    room, plan = laid(make_room(seed, elements=cables("both")))
    assert violations(room, plan) == []
    (only,) = plan.elements
    assert only.lead[0] == only.lead_end[0] == pytest.approx(room.control, abs=0.1)
    assert measure(room, plan).covered_of_best > 0.96


@pytest.mark.parametrize("seed", [1012, 1017])
def test_single_core_fills_both_sides_of_a_passage_one_wire_wide(seed):
    room, plan = laid(make_room(seed, shape="bottleneck", elements=cables("both")))
    assert violations(room, plan) == []
    assert measure(room, plan).covered_of_best > 0.96


def test_two_fields_that_no_wire_can_join_get_an_element_each():
    outline = [
        [0, 0], [1900, 0], [1900, 900], [2050, 900], [2050, 0], [3700, 0], [3700, 2400],
        [2050, 2400], [2050, 1080], [1900, 1080], [1900, 2400], [0, 2400],
    ]  # fmt: skip
    room, plan = laid(bare_room(outline=outline, control=[1500, 0], cold_lead_mm=4000, may_use=2))
    assert violations(room, plan) == []
    assert len(plan.elements) == 2
    assert measure(room, plan).covered_of_best > 0.96


def test_a_floor_whose_cut_by_a_square_touches_itself_is_laid():
    data = turned(make_room(115, elements=mats()), 0.0, mirrored=True)
    assert violations(*laid(data)) == []


def test_a_square_whose_floor_clipping_would_drop_is_not_called_too_hot():
    data = make_room(16, elements=mats("both", width_mm=600, pitch_mm=80))
    room, plan = laid(data)
    assert measure(room, plan).covered_of_best > 0.97


def test_cable_is_led_off_a_wall_where_a_square_would_get_too_hot():
    room, plan = laid(make_room(25, elements=hot_cables()))
    assert measure(room, plan).covered_of_best > 0.93


def test_a_plan_written_and_read_is_the_same_and_still_by_the_rules():
    room, plan = laid(bare_room())
    again = parse_plan(dump_plan(plan))
    assert again.elements == plan.elements
    assert violations(room, dump_plan(plan)) == []


def test_the_same_room_is_laid_the_same_way_twice():
    assert laid(make_room(5))[1] == laid(make_room(5))[1]


@pytest.mark.parametrize("seed", [2, 6])
def test_turning_or_mirroring_a_room_does_not_change_how_well_it_is_laid(seed):
    data = make_room(seed)
    room, plan = laid(data)
    base = measure(room, plan).covered_of_best
    for other in (turned(data, math.radians(34)), turned(data, 0.0, mirrored=True)):
        room, plan = laid(other)
        assert measure(room, plan).covered_of_best == pytest.approx(base, abs=0.01)


def test_the_alternatives_differ_in_their_elements_and_the_first_warms_most():
    room = parse_room(bare_room())
    plans = alternatives(room)
    assert 2 <= len(plans) <= 3
    assert len({plan.elements[0].element for plan in plans}) == len(plans)
    assert plans[0].covered_m2 == max(plan.covered_m2 for plan in plans)
    assert all(violations(room, plan) == [] for plan in plans)


def test_a_search_that_is_stopped_keeps_the_plan_that_it_has():
    told = []
    plans = alternatives(parse_room(bare_room()), better=told.append, stopped=lambda: True)
    assert plans == told != []


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"outline": [[0, 0], [700, 0], [700, 700], [0, 700]], "control": [350, 0]}, "smallest"),
        ({"outline": [[0, 0], [190, 0], [190, 900], [0, 900]], "control": [90, 0]}, "margins"),
        ({"cold_lead_mm": 20}, "lead"),
    ],
)
def test_a_room_in_which_nothing_can_lie_says_why(changed, says):
    with pytest.raises(NothingToLay, match=says):
        lay(parse_room(bare_room(**changed)))
