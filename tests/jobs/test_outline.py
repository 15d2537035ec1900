from cmath import phase
from math import cos, degrees, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from jobs.outline import (
    Outline,
    UnusableOutline,
    checked,
    from_walls,
    joined,
    l_shape,
    rectangle,
    unit_doubt,
)

SQUARE = [(0, 0), (3000, 0), (3000, 2400), (0, 2400)]
L_WALLS = [(3600, 90), (1500, 90), (1800, -90), (1500, 90), (1800, 90), (3000, 90)]
sides = st.floats(500, 12_000)


def test_an_outline_is_the_sequence_of_its_corners():
    outline = rectangle(3000, 2400)
    assert list(outline) == SQUARE
    assert (len(outline), outline[2], outline[-1]) == (4, (3000, 2400), (0, 2400))
    assert Polygon(outline).equals(outline.polygon)
    assert outline.size_mm == (3000, 2400)


def test_clockwise_is_turned_round_and_told():
    outline = checked(SQUARE[::-1])
    assert outline.polygon.exterior.is_ccw
    assert outline.notes == ("The points ran clockwise and were turned round.",)


def test_repeated_closing_and_collinear_points_are_left_out_and_told():
    outline = checked([(0, 0), (0, 0), (1500, 0), (3000, 0), (3000, 2400), (0, 2400), (0, 0)])
    assert sorted(outline) == sorted(map(tuple, SQUARE))
    assert outline.notes == (
        "Left out 1 repeated point.",
        "Left out 1 point in the middle of a straight wall.",
    )


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0), (2, 2), (2, 0), (0, 2)], "near 1 mm to the right, 1 mm up"),
        ([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)], "cross or touch"),
        ([(0, 0), (1000, 0), (2000, 0)], "on one line"),
        ([(0, 0), (1, 0)], "at least three"),
        ([(0, 0), (1, 0), (1, 0), (0, 0)], "at least three"),
        ([(0, 0), (float("nan"), 0), (1, 1)], "Point 2 is not finite"),
        ([(0, 0), (float("inf"), 0), (1, 1)], "Point 2 is not finite"),
        ([(0, 0), (1, 2, 3), (1, 1)], "Point 2 is not a pair"),
        ([(0, 0), "ab", (1, 1)], "Point 2 is not a pair"),
        ([(0, 0), 5, (1, 1)], "Point 2 is not a pair"),
    ],
)
def test_what_bounds_no_floor_is_refused_in_words(points, says):
    with pytest.raises(UnusableOutline) as refused:
        checked(points)
    assert says in refused.value.detail
    assert refused.value.pointer.startswith("#/outline")


def test_walls_of_an_l_give_its_corners():
    assert list(from_walls(L_WALLS)) == list(
        l_shape(3600, 3000, cut_width_mm=1800, cut_depth_mm=1500)
    )


def test_a_small_closing_error_is_spread_and_told():
    outline = from_walls([(3000, 90), (2400, 90), (3000, 90), (2366, 90)])
    (note,) = outline.notes
    assert note.startswith("The last wall misses the start by 34 mm; it was spread")
    width, depth = outline.size_mm
    assert width == pytest.approx(3000, abs=0.1)
    assert depth == pytest.approx(2383, abs=0.2)  # 17 mm on either side wall


def test_a_large_closing_error_is_refused_and_told():
    with pytest.raises(UnusableOutline, match="The last wall misses the start by 340 mm"):
        from_walls([(3000, 90), (2400, 90), (3000, 90), (2060, 90)])


def test_the_limit_of_spreading_can_be_set():
    walls = [(3000, 90), (2400, 90), (3000, 90), (2366, 90)]
    with pytest.raises(UnusableOutline, match="34 mm"):
        from_walls(walls, closing_limit_mm=33)
    assert from_walls(walls, closing_limit_mm=35).notes


@pytest.mark.parametrize(
    "walls",
    [
        [(3000, 90), (2400, 90), (3000, 90), (2400, 90)],
        [(3000, 90), (2400, 90), (3000, 90), (2400, 0)],  # the last turn left out
        [(3000, 0), (2400, 90), (3000, 90), (2400, 90)],  # turns at each wall's beginning
        [(3000, 90.4), (2400, 89.9), (3000, 90.1), (2400, 90.2)],  # turns measured
    ],
)
def test_turns_may_be_noted_as_people_do(walls):
    assert from_walls(walls).size_mm == pytest.approx((3000, 2400), abs=10)


def test_walls_to_the_right_are_turned_round():
    outline = from_walls([(3000, -90), (2400, -90), (3000, -90), (2400, -90)])
    assert outline.area_m2 == pytest.approx(7.2)
    assert outline.polygon.exterior.is_ccw


@pytest.mark.parametrize(
    ("walls", "says"),
    [
        ([], "at least three walls"),
        ([(3000, 90), (2400, 90)], "at least three walls"),
        ([(3000, 90), (0, 90), (3000, 90), (2400, 90)], "Wall 2 is 0 mm long"),
        ([(3000, 90), (-5, 90), (3000, 90), (2400, 90)], "Wall 2 is -5 mm long"),
        ([(3000, 90), (2400, 200), (3000, 90), (2400, 90)], "Wall 2 turns by 200"),
        ([(3000, 90), (2400, 90), (3000, 90)], "add up to 270"),
        ([(3000, 90), (2400, -90), (3000, 90), (2400, -90)], "add up to 0"),
        ([(3000, float("nan")), (2400, 90), (3000, 90)], "Point 1 is not finite"),
    ],
)
def test_walls_that_enclose_nothing_are_refused(walls, says):
    with pytest.raises(UnusableOutline, match=says):
        from_walls(walls)


@given(width=sides, depth=sides, miss=st.floats(-25, 25))
def test_spreading_closes_a_rectangle_and_keeps_it_square(width, depth, miss):
    outline = from_walls(
        [(width, 90), (depth, 90), (width, 90), (depth + miss, 90)], closing_limit_mm=30
    )
    across, deep = outline.size_mm
    assert outline.area_m2 * 1e6 == pytest.approx(across * deep)
    assert across == pytest.approx(width, abs=0.2)
    assert deep == pytest.approx(depth + miss / 2, abs=abs(miss) ** 2 / depth + 0.2)


@given(
    lengths=st.lists(st.floats(800, 5000), min_size=3, max_size=9),
    turn=st.floats(0, 360),
)
def test_a_traverse_of_measured_walls_comes_back_as_the_room(lengths, turn):
    """A convex room made of points on a circle, read off as lengths and turns."""
    share = [sum(lengths[: at + 1]) / sum(lengths) * 360 for at in range(len(lengths))]
    points = [(4000 * cos(radians(a + turn)), 4000 * sin(radians(a + turn))) for a in share]
    legs = [
        complex(*points[(at + 1) % len(points)]) - complex(*points[at]) for at in range(len(points))
    ]
    walls = []
    for at, leg in enumerate(legs):
        following = legs[(at + 1) % len(legs)] / leg
        walls.append((abs(leg), degrees(phase(following))))
    found = from_walls(walls)
    assert found.area_m2 == pytest.approx(Polygon(points).area / 1e6, rel=1e-3)


def test_an_l_shape_lacks_the_corner_that_was_said():
    for corner, missing in (
        ("upper right", (3600, 3000)), ("upper left", (0, 3000)),
        ("lower left", (0, 0)), ("lower right", (3600, 0)),
    ):  # fmt: skip
        outline = l_shape(3600, 3000, cut_width_mm=1800, cut_depth_mm=1500, corner=corner)
        assert outline.area_m2 == pytest.approx(8.1)
        assert missing not in outline
        assert len({(0, 0), (3600, 0), (3600, 3000), (0, 3000)} & set(outline)) == 3


@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf")])
def test_a_side_is_longer_than_nothing(bad):
    with pytest.raises(UnusableOutline):
        rectangle(bad, 2400)
    with pytest.raises(UnusableOutline):
        l_shape(3600, 3000, cut_width_mm=bad, cut_depth_mm=100)


def test_the_cut_corner_is_smaller_than_the_room():
    with pytest.raises(UnusableOutline, match="as wide as the room"):
        l_shape(3600, 3000, cut_width_mm=3600, cut_depth_mm=100)


def test_two_rooms_join_through_the_doorway():
    right = checked([(3100, 0), (5000, 0), (5000, 2400), (3100, 2400)])
    floor = joined(
        rectangle(3000, 2400), right, [(3000, 500), (3100, 500), (3100, 1400), (3000, 1400)]
    )
    assert floor.area_m2 == pytest.approx(7.2 + 4.56 + 0.09)
    assert floor.notes == ()


@pytest.mark.parametrize(
    ("neighbour_x", "threshold", "says"),
    [
        (3100, [(3000, 500), (3090, 500), (3090, 1400), (3000, 1400)], "does not reach both"),
        (3100, [(3000, -900), (3100, -900), (3100, -50), (3000, -50)], "does not reach both"),
        (2900, [(3000, 500), (3100, 500), (3100, 1400), (3000, 1400)], "over each other"),
        (3000, [(2000, 500), (2500, 500), (2500, 1400), (2000, 1400)], "does not reach both"),
    ],
)
def test_a_doorway_that_joins_nothing_is_refused(neighbour_x, threshold, says):
    right = checked([(neighbour_x, 0), (5000, 0), (5000, 2400), (neighbour_x, 2400)])
    with pytest.raises(UnusableOutline, match=says):
        joined(rectangle(3000, 2400), right, threshold)


@pytest.mark.parametrize(
    ("width", "depth", "asks"),
    [
        (118, 94, "Were inches meant? Then it is 2.39 m by 3.00 m."),
        (76_200, 60_960, "Was it taken as inches by mistake? Then it is 2.40 m by 3.00 m."),
        (300, 240, "Were centimetres meant? Then it is 2.40 m by 3.00 m."),
        (3, 2.4, "Were metres meant? Then it is 2.40 m by 3.00 m."),
        (900_000, 2, "Is that right?"),
    ],
)
def test_mixed_up_units_are_asked_about(width, depth, asks):
    assert asks in unit_doubt(rectangle(width, depth))


@given(width=st.floats(600, 15_000), depth=st.floats(600, 15_000))
def test_nobody_is_asked_about_a_usual_room(width, depth):
    assert unit_doubt(rectangle(width, depth)) is None


@given(width=st.floats(1500, 6000), depth=st.floats(1500, 6000))
def test_inches_taken_as_millimetres_are_always_asked_about(width, depth):
    assert unit_doubt(rectangle(width / 25.4, depth / 25.4)) is not None
    assert unit_doubt(rectangle(width * 25.4, depth * 25.4)) is not None


def test_an_outline_is_compared_by_value():
    assert rectangle(1, 2) == Outline(points=((0, 0), (1, 0), (1, 2), (0, 2)))
