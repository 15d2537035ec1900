"""One cable on one piece of floor: a place where it kept no rule is not tried again."""

import numpy as np
import pytest
from shapely import box

from jobs.laying.cable import Effort, _avoiding, _edgemost, _ground, _straight_steps, lay_cable
from jobs.laying.courses import courses
from jobs.laying.field import field
from jobs.laying.judge import Judge
from jobs.laying.leads import ways
from jobs.laying.pose import Pose
from jobs.laying.problem import parse_room
from tests.jobs.laying.test_problem import bare_room


def test_no_wire_is_laid_where_it_could_not_keep_the_rules():
    element = next(e for e in parse_room(bare_room()).elements if e.kind == "cable")
    side = (element.wire_mm * 80) ** 0.5
    ground = _ground(box(0, 0, side, side), 0.0, 80.0, element)
    fault = np.array([side / 2, side / 2])
    before = courses({0.0: ground}, element, 80.0, 160.0)
    after = courses({0.0: _avoiding(ground, [fault], element.gap_mm)}, element, 80.0, 160.0)
    assert min(np.hypot(*(before[0].nodes - fault).T)) < element.gap_mm
    assert after
    for course in after:
        assert min(np.hypot(*(course.nodes - fault).T)) > element.gap_mm - 12


def test_nothing_is_drawn_out_when_no_effort_is_left():
    room = parse_room(bare_room())
    element = next(e for e in room.elements if e.kind == "cable")
    side = (element.wire_mm * 80) ** 0.5
    reach = ways(room, [], off=room.area.buffer(20), swings=True)
    judge = Judge(room, Pose(0.0, mirrored=False), room.area)
    x, y, *_ = room.area.bounds

    def laid(effort):
        piece = box(x, y, x + side, y + side)
        ways_to_lay = lay_cable(
            piece, element, 80.0, reach=reach, lead_mm=3000.0, judge=judge, effort=effort
        )
        return next(ways_to_lay, None)

    assert laid(Effort(0.0)) is None
    effort = Effort(0.0, reserve_mm=1e6)
    assert laid(effort) is not None
    assert effort.left_mm < -element.wire_mm


def test_wire_in_a_square_that_is_too_hot_is_blamed_where_it_is_nearest_to_the_edge():
    floor = field(box(0, 0, 1000, 1000))
    path = np.stack([np.full(18, 500.0), np.arange(50.0, 950.0, 50.0)], axis=1)
    pose = Pose(0.0, mirrored=False)
    assert _edgemost(path, [], pose, path, floor) == []
    (place,) = _edgemost(path, [(400.0, 0.0), (400.0, 0.1)], pose, path, floor)
    assert place.tolist() == [500.0, 50.0]


@pytest.mark.parametrize(("pitch_mm", "steps"), [(60, 3), (110, 2), (165, 1), (900, 1)])
def test_the_stiff_splice_lies_on_one_step_at_least(pitch_mm, steps):
    assert _straight_steps(pitch_mm) == steps
