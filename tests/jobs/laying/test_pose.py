"""A room is laid in one pose, however it was measured in, and the plan is carried back."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from jobs.laying.check import violations
from jobs.laying.lay import lay
from jobs.laying.pose import main_directions, posed
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import SHAPES, make_room, mats, turned
from tests.jobs.laying.test_problem import bare_room


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    seed=st.integers(0, 500),
    shape=st.sampled_from(sorted(SHAPES)),
    degrees=st.floats(0, 360),
    mirrored=st.booleans(),
)
def test_a_turned_or_mirrored_room_has_the_same_pose(seed, shape, degrees, mirrored):
    data = make_room(seed, shape=shape)
    base, _ = posed(parse_room(data))
    other, _ = posed(parse_room(turned(data, math.radians(degrees), mirrored=mirrored)))
    assert np.allclose(other.outline, base.outline, atol=0.11)
    assert np.allclose(other.control, base.control, atol=0.11)
    for one, two in zip(other.keep_outs, base.keep_outs, strict=True):
        assert np.allclose(one.outline, two.outline, atol=0.11)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(seed=st.integers(0, 500), shape=st.sampled_from(sorted(SHAPES)))
def test_what_is_carried_into_the_pose_comes_back_to_its_place(seed, shape):
    room = parse_room(make_room(seed, shape=shape))
    there, pose = posed(room)
    assert np.allclose(pose.back(pose.into(room.outline)), room.outline, atol=1e-6)
    back = Polygon(pose.back(np.asarray(there.outline)))
    assert back.symmetric_difference(room.floor).area < 0.1 * room.floor.length
    assert Polygon(there.outline).exterior.is_ccw
    assert min(x for x, _ in there.outline) == min(y for _, y in there.outline) == 0


def test_a_corner_more_in_the_list_does_not_turn_a_room():
    outline = [[0, 0], [3000, 0], [3000, 2000], [0, 2000]]
    base, _ = posed(parse_room(bare_room(outline=outline, control=[800, 0])))
    begun_elsewhere = [*outline[2:], *outline[:2]]
    other, _ = posed(parse_room(bare_room(outline=begun_elsewhere, control=[800, 0])))
    assert other == base


@pytest.mark.parametrize("degrees", [34, 90, 211])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_room_in_quarter_inches_has_the_very_same_pose(degrees, mirrored):
    quarter = 6.35
    outline = [(0, 0), (401, 0), (401, 263), (221, 263), (221, 397), (0, 397)]
    data = bare_room(
        outline=[(x * quarter, y * quarter) for x, y in outline], control=[31 * quarter, 0]
    )
    base, _ = posed(parse_room(data))
    other, _ = posed(parse_room(turned(data, math.radians(degrees), mirrored=mirrored)))
    assert (other.outline, other.control) == (base.outline, base.control)


def test_a_room_of_equal_walls_offers_all_their_directions():
    triangle = [(0.0, 0.0), (3000.0, 0.0), (1500.0, 1500 * math.sqrt(3))]
    assert len(main_directions(triangle)) == 3
    assert main_directions([(0, 0), (4000, 0), (4000, 2000), (0, 2000)]) == [0.0]


@pytest.mark.parametrize("shape", ["rectangle", "triangle"])
def test_a_plan_is_by_the_rules_in_the_room_as_it_was_measured(shape):
    data = make_room(51, shape=shape, elements=mats())
    for other in (turned(data, math.radians(34)), turned(data, math.radians(200), mirrored=True)):
        room = parse_room(other)
        plan = lay(room)
        assert violations(room, plan) == []
        assert math.dist(plan.elements[0].lead[0], room.control) < 0.0072
        assert math.dist(plan.sensor_route[0], room.control) < 0.0072
