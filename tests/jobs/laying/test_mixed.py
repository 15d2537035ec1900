"""A mat and a cable share a floor: the mat where it fits, the cable on what it leaves."""

import pytest

from jobs.laying.cable import Effort
from jobs.laying.check import violations
from jobs.laying.connect import connect
from jobs.laying.judge import Judge
from jobs.laying.leads import ways
from jobs.laying.measures import measure
from jobs.laying.mixed import lay_pair, pairs
from jobs.laying.pose import carried_back, posed
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import cables, make_room, mats
from tests.jobs.laying.test_problem import bare_room

SHORT = [cable for cable in cables() if cable["wire_mm"] <= 20_000]


def test_a_pair_fills_a_room_by_the_rules_with_both_kinds():
    room = parse_room({**make_room(3, elements=mats() + SHORT), "may_use": 2})
    there, pose = posed(room)
    reach = ways(there, [], off=there.area.buffer(20), swings=True)
    pair = pairs(there)[0]
    (laid,) = lay_pair(there, pair, reach, Judge(there, pose, there.area), Effort(1e6))
    assert [wire.element.kind for wire in laid] == ["mat", "cable"]
    plan = carried_back(connect(there, laid), pose, room)
    assert violations(room, plan) == []
    assert measure(room, plan).covered_of_best > 0.95


def test_pairs_are_rated_by_what_they_could_warm_and_name_each_mat_once():
    found = pairs(parse_room(bare_room(elements=mats() + SHORT, may_use=2)))
    assert [pair.share for pair in found] == sorted((p.share for p in found), reverse=True)
    assert len({pair.mat.id for pair in found}) == len(found)
    assert 0.9 < found[0].share < 1


@pytest.mark.parametrize(
    "changed",
    [
        {"may_use": 1, "elements": mats() + SHORT},
        {"may_use": 2, "elements": mats()},
        {"may_use": 2, "elements": SHORT},
    ],
)
def test_without_two_elements_of_two_kinds_there_is_no_pair(changed):
    assert pairs(parse_room(bare_room(**changed))) == []
