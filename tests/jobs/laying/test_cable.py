"""One cable on one piece of floor: what could not be drawn out is not tried again."""

import numpy as np
from shapely import box

from jobs.laying.cable import _avoiding, _ground
from jobs.laying.courses import courses
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
