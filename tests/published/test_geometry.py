"""Areas and distances against published values (GE); the source stands beside each row."""

from math import cos, hypot, pi

import pytest
from shapely import Point, Polygon

from jobs.area import grown_polygon, heatable
from jobs.clearance import floor_record, may_fasten
from jobs.outline import checked, from_walls, l_shape, rectangle
from jobs.quantities import cable_length_m, density_w_per_m2

ROOM = rectangle(3000, 2400)
L_ROOM = l_shape(3600, 3000, cut_width_mm=1800, cut_depth_mm=1500)
TRIANGLE = [(0, 0), (4000, 0), (0, 3000)]


def warm_m2(outline, keep_outs=(), *, wall, keep_out=0):
    area = heatable(outline, keep_outs, wall_margin_mm=wall, keep_out_margin_mm=keep_out)
    return area.area_m2


def test_GE_1_shoelace():
    """Shoelace, textbook example (from memory), shapely 2.2."""
    points = [(1, 6), (3, 1), (7, 2), (4, 4), (8, 5)]
    for way in (points, points[::-1]):
        assert warm_m2(way, wall=0) * 1e6 == pytest.approx(16.5, abs=1e-12)
        assert checked(way).polygon.exterior.is_ccw


def test_GE_2_inset_and_outset_of_a_rectangle():
    """A - P r + 4 r²; outset A + P r + pi r² (Steiner), mitre A + P r + 4 r²; shapely 2.2."""
    assert warm_m2(ROOM, wall=50) == pytest.approx(6.670, abs=1e-6)
    assert grown_polygon(ROOM, 50).area / 1e6 == pytest.approx(7.747854, abs=1e-6)
    assert ROOM.polygon.buffer(50, join_style="mitre").area / 1e6 == pytest.approx(7.750, abs=1e-6)


@pytest.mark.parametrize(
    ("margin_mm", "round_m2", "mitre_m2"),
    [(50, 7.450537, 7.450), (100, 6.822146, 6.820)],
    ids="GE-3-{}".format,
)
def test_GE_3_the_one_inner_corner_comes_out_round(margin_mm, round_m2, mitre_m2):
    """A - P r + 5 r² - (pi/4 or 1) r²; shapely."""
    assert warm_m2(L_ROOM, wall=margin_mm) == pytest.approx(round_m2, abs=1e-6)
    sharp = L_ROOM.polygon.buffer(-margin_mm, join_style="mitre").area / 1e6
    assert sharp == pytest.approx(mitre_m2, abs=1e-6)


@pytest.mark.parametrize(
    ("left", "low", "round_m2", "mitre_m2"),
    [(1000, 900, 6.048584, 6.040), (0, 0, 6.259646, 6.2575)],
    ids=["GE-4-inside", "GE-4-corner"],
)
def test_GE_4_keep_out_inside_and_in_the_corner(left, low, round_m2, mitre_m2):
    """6.67 - (0.35 + 0.24 + pi 0.01), 6.67 - 0.9 x 0.7 and so on; shapely."""
    keep_out = [(left + x, low + y) for x, y in rectangle(700, 500)]
    found = warm_m2(ROOM, [keep_out], wall=50, keep_out=100)
    assert found == pytest.approx(round_m2, abs=2e-6)
    sharp = Polygon(keep_out).buffer(100, join_style="mitre")
    inset = ROOM.polygon.buffer(-50)
    assert inset.difference(sharp).area / 1e6 == pytest.approx(mitre_m2, abs=2e-6)


def test_GE_5_triangle():
    """A (1 - r/rho)²; shapely."""
    assert warm_m2(TRIANGLE, wall=500) == pytest.approx(1.5, abs=1e-9)
    assert warm_m2(TRIANGLE, wall=1000) == pytest.approx(0.0, abs=1e-9)


def test_GE_6_an_arc_by_chords_is_too_small_and_ours_is_not():
    """shapely 2.2: 16 segments a quarter, chord 0.0012 r inside; grow r by 1/cos(pi/64)."""
    assert Point(0, 0).buffer(1, quad_segs=16).area == pytest.approx(3.136548, abs=1e-6)
    margin_mm, segments = 100, 16
    column = rectangle(200, 200)
    ours = grown_polygon(column, margin_mm, quad_segs=segments)
    true = column.polygon.buffer(margin_mm, quad_segs=2000)
    assert ours.buffer(1e-6).contains(true)
    assert not column.polygon.buffer(margin_mm, quad_segs=segments).contains(true)
    farthest = max(column.polygon.distance(Point(point)) for point in ours.exterior.coords)
    assert farthest <= margin_mm / cos(pi / (4 * segments)) + 1e-6


def test_GE_7_point_to_segment():
    """abs(4x2 - 3x1)/5; shapely."""
    outline = [(-9, -9), (9, -9), (9, 9), (-9, 9)]
    record = floor_record(outline, cables=[[(0, 0), (4, 3)]], tolerance_mm=1)
    found = may_fasten(record, (1, 2), depth_mm=1, drill_mm=1).distance_mm
    assert found == pytest.approx(1.0, abs=1e-12)


def test_GE_8_cable_for_an_area_and_its_density():
    """L = A/s, q = w/s."""
    assert cable_length_m(6.67, 75) == pytest.approx(88.93, abs=0.01)
    assert density_w_per_m2(12, 75) == pytest.approx(160.0, abs=0.01)


def test_walls_of_a_tape_close_to_the_same_triangle():
    """Turns of the 3-4-5 triangle: 180 minus its angles, acos(4/5) and acos(3/5)."""
    outline = from_walls([(4000, 143.1301), (5000, 126.8699), (3000, 90)])
    assert outline.area_m2 == pytest.approx(6.0, abs=1e-3)
    assert hypot(*outline[1]) == pytest.approx(4000, abs=0.5)
