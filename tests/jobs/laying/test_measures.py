"""What a plan warms, against worked examples."""

import math
from random import Random

import numpy as np
import pytest
from shapely import LineString, affinity, box

from jobs.laying.measures import best_area, could_warm, covered, half_turns, spacings
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import cables, mats
from tests.jobs.laying.test_problem import bare_room


def catalogue(*entries):
    return parse_room(bare_room(elements=list(entries))).elements


def cable(metres, watts_per_m=10):
    return {
        **cables()[0],
        "id": f"c{metres}",
        "wire_mm": metres * 1000,
        "watts": metres * watts_per_m,
    }


def test_the_spacing_is_that_of_an_even_spread_within_the_range():
    (wire,) = catalogue(cable(50))
    assert spacings([wire], 4e6) == [80]
    assert spacings([wire], 2e6) == [60]
    assert spacings([wire], 9e6) == [110]


def test_cable_shares_what_the_mats_leave():
    mat, wire = catalogue(mats()[1], cable(50))
    taken = mat.wire_mm * 75
    assert spacings([mat, wire], taken + 4.5e6) == [75, pytest.approx(90)]


def test_a_straight_wire_covers_its_length_times_twice_the_reach_and_a_round_end():
    warm = covered(box(0, 0, 2000, 1000), [LineString([(500, 500), (1500, 500)])], [50])
    assert warm.area == pytest.approx(1000 * 100 + math.pi * 50**2, rel=1e-3)


def test_best_takes_the_cable_that_fills_and_not_the_one_that_is_too_tight():
    some = catalogue(cable(40), cable(50), cable(70))
    # 70 m on 4.2 m2 would be 167 W/m2, over 160; 40 m reach 4.4 m2 at 110 mm, so all of it
    assert best_area(some, 4.2e6, 1, 160) == 4.2e6
    assert could_warm([some[2]], 4.2e6, 160) == 0
    assert best_area(some[:1], 5e6, 1, 160) == pytest.approx(40_000 * 110)


def test_two_elements_may_warm_what_one_cannot():
    some = catalogue(cable(40))
    assert best_area(some, 8e6, 1, 160) == pytest.approx(4.4e6)
    assert best_area(some, 8e6, 2, 160) == 8e6


def test_a_mat_larger_than_the_floor_warms_nothing():
    (mat,) = catalogue(mats()[3])
    assert could_warm([mat], mat.wire_mm * 75 - 1, 160) == 0
    assert could_warm([mat], mat.wire_mm * 75, 160) == pytest.approx(mat.wire_mm * 75)


def test_half_turns_are_counted():
    path = []
    for row in range(4):
        run = [(0, row * 80), (1000, row * 80)]
        path += run if row % 2 == 0 else run[::-1]
    arcs = []
    for row in range(3):
        right = row % 2 == 0
        x = 1000 if right else 0
        arcs.append(
            [
                (x + (40 if right else -40) * math.cos(a), row * 80 + 40 + 40 * math.sin(a))
                for a in [math.radians(d) for d in range(-75, 90, 15)]
            ]
        )
    points = [*path[:2], *arcs[0], *path[2:4], *arcs[1], *path[4:6], *arcs[2], *path[6:8]]
    assert half_turns(points) == 3


def test_no_meander_is_too_winding_to_be_measured():
    """Buffers of passes that just touch come out crossing themselves at one angle in twenty."""
    pitch, width, passes = 75, 1948, 12
    points = []
    for row in range(passes):
        way = 1 if row % 2 == 0 else -1
        start, end = (0, width)[::way]
        points += [(start, row * pitch), (end, row * pitch)]
        points += [
            (
                end + way * pitch / 2 * math.sin(math.pi * part / 16),
                row * pitch + pitch / 2 * (1 - math.cos(math.pi * part / 16)),
            )
            for part in range(1, 16)
            if row < passes - 1
        ]
    for number in range(150):
        angle = Random(number).uniform(0, 2 * math.pi)
        c, s = math.cos(angle), math.sin(angle)
        meander = LineString(np.array(points) @ [[c, s], [-s, c]])
        floor = affinity.rotate(
            box(-20, -20, width + 20, 845), angle, origin=(0, 0), use_radians=True
        )
        warm = covered(floor, [meander], [pitch / 2])
        assert warm.is_valid
        assert warm.area == pytest.approx(passes * pitch * width, rel=0.03)
