"""Wire drawn out over a lattice: its length, what is on mesh, and how hot the floor gets."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from jobs.laying.check import _power as power_faults
from jobs.laying.check_wire import overbent
from jobs.laying.judge import Judge
from jobs.laying.mat_lattice import lattice_over
from jobs.laying.mat_path import lay_out, rounded_path
from jobs.laying.mat_strips import Strip, run_through
from jobs.laying.measures import covered
from jobs.laying.plan import rounded
from jobs.laying.pose import Pose
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import mats
from tests.jobs.laying.test_problem import bare_room

FLOOR = box(0, 0, 1000, 2000)
XS = np.arange(-50, 1100, 75.0)
YS = np.arange(-50, 2100, 75.0)


def floor_and_mat(wire_mm):
    room = parse_room(bare_room(elements=mats()))
    mat = next(entry for entry in room.elements if entry.wire_mm >= wire_mm)
    return lattice_over(FLOOR, XS, YS), mat


def laid(passes=15, tail=0, floor=FLOOR):
    lattice, mat = floor_and_mat(6000)
    strip = Strip(1, 7, 1, passes)
    nodes = run_through(strip, from_left=True, from_low=True, rows=lattice.rows)
    nodes += [nodes[-1] + step for step in range(1, tail + 1)]
    mesh_floor = floor.buffer(25)
    shapely.prepare(mesh_floor)
    return lay_out(lattice, nodes, [strip], mat, mesh_floor), mat


def test_corners_are_arcs_of_half_a_pitch_that_no_vertex_bends_sharply():
    lattice, _ = floor_and_mat(6000)
    nodes = run_through(Strip(1, 7, 1, 3), from_left=True, from_low=True, rows=lattice.rows)
    path = rounded(rounded_path(lattice, nodes, 37.5)[0])
    heading = np.unwrap(np.arctan2(*np.diff(path, axis=0).T[::-1]))
    assert np.degrees(np.abs(np.diff(heading))).max() < 22.5
    turn = path[np.abs(path[:, 0] - 475).argmin()]
    assert turn[1] == pytest.approx(25 + 37.5, abs=4)
    assert LineString(path).length == pytest.approx(
        3 * 450 - 4 * 37.5 + 2 * np.pi * 37.5, rel=0.003
    )


def test_the_wire_is_cut_off_where_it_is_used_up():
    found, mat = laid(passes=15)
    assert LineString(found.path).length == pytest.approx(mat.wire_mm, abs=0.1)


def test_too_short_a_way_is_no_way_to_lay_an_element():
    assert laid(passes=12)[0] is None


def test_mesh_and_loose_wire_share_the_wire_between_them():
    found, mat = laid(passes=12, tail=9)
    assert len(found.mesh) == 1
    strip = Polygon(found.mesh[0])
    width, length = sorted((strip.bounds[2] - strip.bounds[0], strip.bounds[3] - strip.bounds[1]))
    assert width == 500
    on_mesh = mat.wire_mm - sum(b - a for a, b in found.loose)
    passes = length / 75
    assert (passes - 2.05) * mat.pass_mm <= on_mesh <= (passes + 0.05) * mat.pass_mm


def test_an_end_pass_is_peeled_off_where_mesh_would_reach_too_far_out():
    low = laid(floor=FLOOR)[0].mesh[0]
    assert min(y for _, y in low) == pytest.approx(25 - 37.5)
    peeled = laid(floor=box(0, 20, 1000, 2000))[0].mesh[0]
    assert min(y for _, y in peeled) == pytest.approx(100 - 37.5)


def serpentine(step):
    rows = np.arange(130, 2880, step)
    points = []
    for number, y in enumerate(rows):
        points += [(110, y), (2290, y)] if number % 2 == 0 else [(2290, y), (110, y)]
    return np.array(points, dtype=float)


def test_the_judge_finds_the_covered_share_nearly():
    room = parse_room(bare_room(elements=mats()))
    path = serpentine(100.0)
    mat = room.elements[-1]
    exact = covered(room.area, [LineString(path)], [39.5]).area / room.area.area
    assert Judge(room, Pose(0.0, False), room.area).measure(
        [path], [mat], 75
    ).covered == pytest.approx(exact, abs=0.015)


@pytest.mark.parametrize(("step", "hot"), [(75.0, False), (54.0, True)])
def test_the_judge_and_the_checker_agree_on_squares_that_get_too_much(step, hot):
    room = parse_room(bare_room(elements=mats()))
    path = serpentine(step)
    mat = room.elements[-1]
    watts = 11.4 * LineString(path).length / 1000
    fed = mat.__class__(**{**{k: getattr(mat, k) for k in mat.__slots__}, "watts": watts,
                           "wire_mm": LineString(path).length})  # fmt: skip
    faults = list(power_faults(room, [fed], [LineString(path)]))
    sampled = Judge(room, Pose(0.0, False), room.area).measure([path], [fed], 75)
    assert bool(sampled.hot) == hot == any("square" in fault for fault in faults)
    assert (sampled.mean > 1) == any("over the warm floor" in fault for fault in faults)


def test_corners_off_the_mesh_are_sharper_where_the_wire_needs_it():
    lattice, mat = floor_and_mat(6000)
    strip = Strip(1, 7, 1, 3)
    nodes = run_through(strip, from_left=True, from_low=True, rows=lattice.rows)
    for row in range(4, 15):  # loose wire, turning on every second column
        columns = range(7, 0, -1) if row % 2 == 0 else range(1, 8)
        nodes += [column * lattice.rows + row for column in columns]
    round_mm = LineString(rounded_path(lattice, nodes, mat.spacing_mm / 2)[0]).length
    longer = replace(mat, wire_mm=round_mm / 0.99)
    found = lay_out(lattice, nodes, [strip], longer, FLOOR.buffer(25))
    assert LineString(found.path).length > 0.9955 * longer.wire_mm > round_mm
    assert overbent(rounded(found.path), mat.min_bend_mm) is None
    on_strip = found.path[found.path[:, 1] < 2 * 75]
    assert on_strip == pytest.approx(rounded_path(lattice, nodes, 37.5)[0][: len(on_strip)])
