"""The mesh's rules, on a mat of eight passes drawn by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, box

from jobs.laying.check_mesh import mesh_faults, on_mesh
from jobs.laying.plan import LaidElement
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import cables, mats
from tests.jobs.laying.test_problem import bare_room

PITCH, WIDTH, PASSES = 75.0, 500.0, 8
AREA = box(0, 0, 3000, 3000)


def mat_of(passes):
    data = {**mats()[0], "length_mm": passes * PITCH, "wire_mm": 1.0}
    return parse_room(bare_room(elements=[data])).elements[0]


def passes_from(x, y, count, *, pitch=PITCH):
    """Passes along x, one pitch apart in y, with half-turns; half a pitch from the strip's ends."""
    left, right = x + 25 + pitch / 2, x + WIDTH - 25 - pitch / 2
    points = []
    for row in range(count):
        at = y + pitch / 2 + row * pitch
        rightwards = row % 2 == 0
        points += [(left, at), (right, at)] if rightwards else [(right, at), (left, at)]
        if row < count - 1:
            centre, sign = (right, 1) if rightwards else (left, -1)
            points += [
                (centre + sign * pitch / 2 * math.cos(a), at + pitch / 2 + pitch / 2 * math.sin(a))
                for a in np.radians(np.arange(-80, 90, 10))
            ]
    return tuple(points)


def rectangle(x, y, width, length):
    return ((x, y), (x + width, y), (x + width, y + length), (x, y + length))


def laid(path=None, *, mesh=None, loose=()):
    path = path or passes_from(500, 500, PASSES)
    return LaidElement(
        element="m",
        path=path,
        mesh=(rectangle(500, 500, WIDTH, PASSES * PITCH),) if mesh is None else mesh,
        loose_from_mm=loose,
        splice=path[0],
        end=path[-1],
        lead=(),
    )


def faults(element, *, entry=None, area=AREA):
    return list(mesh_faults(area, [entry or mat_of(PASSES)], ["M"], [element]))


def test_a_mat_laid_whole_is_sound():
    assert faults(laid()) == []


def test_a_strip_may_reach_25_mm_over_the_area_and_no_more():
    assert faults(laid(), area=box(525, 500, 3000, 3000)) == []
    assert "over the heatable area" in faults(laid(), area=box(530, 500, 3000, 3000))[0]


@pytest.mark.parametrize(
    ("element", "says"),
    [
        (laid(mesh=(rectangle(500, 500, WIDTH - 20, PASSES * PITCH),)), "no rectangle"),
        (laid(mesh=(((500, 500), (1000, 500), (1100, 1100), (600, 1100)),)), "no rectangle"),
        (laid(mesh=(rectangle(500, 500, WIDTH, PASSES * PITCH + 300),)), "together"),
        (laid(mesh=(rectangle(500, 560, WIDTH, PASSES * PITCH),)), "leaves it"),
        (laid(mesh=()), "0 strips and 1"),
        (laid(passes_from(500, 500, PASSES - 3)), "which has 8.0 passes"),
        (laid(passes_from(500, 500, PASSES, pitch=70)), "one pitch apart"),
    ],
    ids=["narrow", "askew", "longer than the mat", "moved", "no strip", "too few", "pitch"],
)
def test_a_spoilt_mat_is_found_out(element, says):
    assert any(says in sentence for sentence in faults(element)), faults(element)


def test_two_strips_may_touch_but_not_overlap():
    first = (*passes_from(500, 500, 3), (985.0, 687.5))
    second = ((1115.0, 537.5), *passes_from(1100, 500, 3))
    link = LineString(first).length
    strips = (rectangle(500, 500, WIDTH, 225), rectangle(1100, 500, WIDTH, 225))
    path = first + second
    on_second = LineString(path).length - LineString(second).length
    apart = laid(path, mesh=strips, loose=((link, on_second),))
    assert faults(apart) == []
    over = replace(apart, mesh=(strips[0], rectangle(990, 500, WIDTH, 225)))
    assert any("overlap" in sentence for sentence in faults(over))


def test_loose_wire_keeps_off_the_mesh_and_is_less_than_half():
    path = passes_from(500, 500, PASSES)
    length = LineString(path).length
    half = laid(
        path, mesh=(rectangle(500, 500, WIDTH, PASSES * PITCH),), loose=((0, 0.6 * length),)
    )
    assert any("off the mesh" in sentence for sentence in faults(half))
    assert any("lies on strip" in sentence for sentence in faults(half))


def test_a_cable_has_no_mesh():
    cable = parse_room(bare_room(elements=cables())).elements[0]
    assert "no mesh" in faults(laid(), entry=cable)[0]


def test_what_the_loose_stretches_leave_is_on_mesh():
    assert on_mesh([], 100) == [(0.0, 100)]
    assert on_mesh([(0, 10), (40, 60)], 100) == [(10, 40), (60, 100)]
    assert on_mesh([(0, 100)], 100) == []
