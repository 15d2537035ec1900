"""Mats are laid by the rules in rooms of every kind, and reach nearly all that they could."""

import math
from itertools import pairwise

import pytest

from jobs.laying.check import violations
from jobs.laying.lay import NothingToLay, lay
from jobs.laying.mat import lay_mats
from jobs.laying.mat_attempt import shared_out
from jobs.laying.measures import measure
from jobs.laying.pose import posed
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import make_room, mats, turned
from tests.jobs.laying.test_problem import bare_room


def laid(data):
    room = parse_room(data)
    return room, lay(room)


def mats_laid(data):
    """Paths of the way to lay the mats of a room that warms most."""
    wires, _ = lay_mats(*posed(parse_room(data)))[0]
    return [wire.path.tolist() for wire in wires]


def wire_of(plan):
    return [sum(math.dist(a, b) for a, b in pairwise(one.path)) for one in plan.elements]


@pytest.mark.parametrize(
    "shape", ["rectangle", "ell", "tee", "you", "slanted", "bay", "corridor", "tiny"]
)
def test_every_kind_of_room_is_laid_by_the_rules_and_nearly_full(shape):
    data = {**make_room(41, shape=shape, elements=mats()), "may_use": 1}
    room, plan = laid(data)
    assert violations(room, plan) == []
    assert measure(room, plan).covered_of_best > 0.9


@pytest.mark.parametrize("shape", ["ell", "you", "slanted", "corridor"])
def test_a_mat_spliced_at_both_ends_is_laid_as_a_loop_with_two_leads(shape):
    single = [{**entry, "ends": "both"} for entry in mats()]
    data = {**make_room(41, shape=shape, elements=single), "may_use": 1}
    room, plan = laid(data)
    assert violations(room, plan) == []
    (mat,) = plan.elements
    assert math.dist(mat.lead_end[-1], mat.end) < 1
    assert math.dist(mat.lead_end[0], room.control) < 1
    assert measure(room, plan).covered_of_best > 0.9


def test_one_mat_warms_both_sides_of_an_opening_of_400_mm():
    outline = [
        [0, 0], [2000, 0], [2000, 600], [2150, 600], [2150, 0], [3900, 0], [3900, 2200],
        [2150, 2200], [2150, 1000], [2000, 1000], [2000, 2600], [0, 2600],
    ]  # fmt: skip
    room, plan = laid(bare_room(outline=outline, control=[800, 0], elements=mats()))
    assert violations(room, plan) == []
    assert len(plan.elements) == 1
    xs = [x for x, _ in plan.elements[0].path]
    assert min(xs) < 300 and max(xs) > 3600  # noqa: PT018
    assert measure(room, plan).covered_of_best > 0.95


def test_the_whole_wire_is_laid_and_more_than_half_of_it_on_mesh():
    room, plan = laid(bare_room(elements=mats()))
    (mat,) = plan.elements
    wire = room.element(mat.element).wire_mm
    assert wire_of(plan)[0] == pytest.approx(wire, rel=0.005)
    assert sum(b - a for a, b in mat.loose_from_mm) < wire / 2
    assert mat.mesh


def test_two_mats_share_a_floor_that_is_too_large_for_one():
    outline = [[0, 0], [5200, 0], [5200, 4000], [0, 4000]]
    room, plan = laid(bare_room(outline=outline, control=[2600, 0], elements=mats(), may_use=2))
    assert violations(room, plan) == []
    assert len(plan.elements) == 2
    assert measure(room, plan).covered_of_best > 0.9


def test_parts_are_shared_out_to_the_places_that_they_fill_best():
    assert shared_out([12, 10, 10], [21, 13]) == [1, 0, 0]
    assert shared_out([12, 10], [21, 9]) is None
    assert shared_out([], [5]) == []


def test_three_mats_find_their_places_in_a_hall():
    room, plan = laid(make_room(141, elements=mats()))
    assert len(plan.elements) == 3
    assert violations(room, plan) == []
    assert measure(room, plan).covered_of_best > 0.9


def test_the_same_room_is_laid_the_same_way_twice():
    data = make_room(43, shape="ell", elements=mats())
    assert mats_laid(data) == mats_laid(data)


@pytest.mark.parametrize("shape", ["ell", "slanted"])
def test_turning_or_mirroring_a_room_does_not_change_how_well_it_is_laid(shape):
    data = {**make_room(44, shape=shape, elements=mats()), "may_use": 1}
    room, plan = laid(data)
    base = measure(room, plan).covered_of_best
    for other in (turned(data, math.radians(34)), turned(data, 0.0, mirrored=True)):
        room, plan = laid(other)
        assert measure(room, plan).covered_of_best == pytest.approx(base, abs=0.01)


def test_a_room_smaller_than_the_smallest_mat_gets_no_plan_but_a_reason():
    small = bare_room(outline=[[0, 0], [700, 0], [700, 900], [0, 900]], control=[350, 0])
    with pytest.raises(NothingToLay, match="smallest element"):
        laid({**small, "elements": mats()})


def test_mats_that_are_too_hot_everywhere_are_refused_for_that_reason():
    hot = [{**entry, "watts": round(entry["watts"] * 1.1)} for entry in mats()]
    with pytest.raises(NothingToLay, match=r"about 16. W/m²"):
        laid(bare_room(elements=hot))


def test_without_mats_in_the_catalogue_nothing_is_tried():
    assert lay_mats(*posed(parse_room(bare_room()))) == []


def test_a_lead_too_short_for_any_start_lays_nothing():
    far = bare_room(elements=mats(), cold_lead_mm=60)
    assert lay_mats(*posed(parse_room(far))) == []
