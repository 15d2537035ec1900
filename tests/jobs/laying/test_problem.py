"""A room as it comes in: what is read, what is refused, and the floor that is left to heat."""

import math

import pytest

from jobs.laying.problem import UnusableRoom, parse_room
from tests.jobs.laying.rooms import cables, mats


def bare_room(**changed):
    return {
        "name": "bath", "outline": [[0, 0], [2400, 0], [2400, 3000], [0, 3000]],
        "keep_outs": [], "joints": [], "margins_mm": {"wall": 100}, "control": [1200, 0],
        "cold_lead_mm": 3000, "max_w_per_m2": 160, "may_use": 1, "elements": cables(), **changed,
    }  # fmt: skip


def test_the_area_is_the_floor_less_the_margin():
    assert parse_room(bare_room()).area.area == pytest.approx(2200 * 2800)


def test_a_corner_that_looks_into_the_room_is_rounded_outside_the_true_arc():
    tub = {"kind": "fixture", "outline": [[0, 2000], [1000, 2000], [1000, 3000], [0, 3000]]}
    area = parse_room(bare_room(keep_outs=[tub])).area
    taken = 2200 * 2800 - area.area
    exact = 950 * 950 - (1 - math.pi / 4) * 50**2
    assert exact <= taken <= exact + 10


def test_a_joint_cuts_the_area_in_two():
    area = parse_room(bare_room(joints=[[[0, 1500], [2400, 1500]]])).area
    assert len(area.geoms) == 2
    assert area.area == pytest.approx(2200 * 2700)


def test_the_least_gap_is_fifty_or_the_least_of_the_range():
    room = parse_room(bare_room(elements=cables() + mats()))
    gaps = {entry.kind: entry.gap_mm for entry in room.elements}
    assert gaps == {"cable": 60, "mat": 50}


def test_a_pass_of_a_mat_is_a_run_and_its_half_turn():
    mat = parse_room(bare_room(elements=mats())).elements[0]
    assert mat.pass_mm == pytest.approx(500 - 50 - 75 + math.pi * 37.5)


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"outline": [[0, 0], [1, 1]]}, "#/outline"),
        ({"outline": [[0, 0], [2000, 2000], [2000, 0], [0, 2000]]}, "#/outline"),
        ({"control": [1200]}, "#/control"),
        ({"control": [1200, math.nan]}, "#/control"),
        ({"cold_lead_mm": 0}, "#/cold_lead_mm"),
        ({"may_use": 0}, "#/may_use"),
        ({"keep_outs": [{"kind": "pond", "outline": [[0, 0], [9, 0], [9, 9]]}]},
         "#/keep_outs/0/kind"),
        ({"elements": [{"id": "x", "kind": "foil"}]}, "#/elements/0"),
        ({"elements": [{**cables()[0], "wire_mm": -1}]}, "#/elements/0/wire_mm"),
        ({"elements": [{**cables()[0], "spacing_range_mm": [110, 60]}]},
         "#/elements/0/spacing_range_mm"),
        ({"outline": None}, "#/outline"),
        ({"keep_outs": 5}, "#/keep_outs"),
        ({"keep_outs": [{"kind": [], "outline": [[0, 0], [9, 0], [9, 9]]}]}, "#/keep_outs/0/kind"),
        ({"keep_outs": [{"kind": "vent", "outline": None}]}, "#/keep_outs/0/outline"),
        ({"keep_outs": [{"kind": "vent", "outline": [[0, 0], [9, 0], [9, 9]], "margin_mm": -1}]},
         "#/keep_outs/0/margin_mm"),
        ({"joints": None}, "#/joints"),
        ({"doorways": True}, "#/doorways"),
        ({"elements": 5}, "#/elements"),
        ({"elements": []}, "#/elements"),
        ({"margins_mm": {"wall": -5}}, "#/margins_mm/wall"),
    ],
)  # fmt: skip
def test_what_cannot_be_laid_from_is_refused_with_its_place(changed, pointer):
    with pytest.raises(UnusableRoom) as refused:
        parse_room(bare_room(**changed))
    assert refused.value.pointer.startswith(pointer)


def test_a_missing_part_is_named():
    room = bare_room()
    del room["control"]
    with pytest.raises(UnusableRoom, match="control"):
        parse_room(room)
