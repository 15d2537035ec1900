from math import cos, pi, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon, box, unary_union
from shapely.affinity import rotate, scale

from jobs.area import KeepOut, UnusableMargin, grown_line, heatable, margin_mm, reaches
from jobs.outline import UnusableOutline, checked, l_shape, rectangle

ROOM = rectangle(3000, 2400)
TUB = [(0, 1650), (1700, 1650), (1700, 2400), (0, 2400)]
margins = st.just(0.0) | st.floats(0.01, 400)


@st.composite
def rooms(draw):
    """Rectilinear, slanted, with a bay, or with a 50 mm bottleneck between two fields."""
    kind = draw(st.sampled_from(["rectangle", "L", "slant", "bay", "bottleneck"]))
    wide, deep = draw(st.floats(1500, 6000)), draw(st.floats(1500, 5000))
    third, half = wide / 3, deep / 2
    match kind:
        case "rectangle":
            points = [(0, 0), (wide, 0), (wide, deep), (0, deep)]
        case "L":
            points = [(0, 0), (wide, 0), (wide, half), (third, half), (third, deep), (0, deep)]
        case "slant":
            points = [(0, 0), (wide, 0), (wide - third, deep), (0, deep - 300)]
        case "bay":
            points = [
                (0, 0), (wide, 0), (wide, deep), (2 * third, deep), (1.8 * third, deep + 500),
                (1.2 * third, deep + 500), (third, deep), (0, deep),
            ]  # fmt: skip
        case "bottleneck":
            points = [
                (0, 0), (wide, 0), (wide, deep), (third + 50, deep), (third + 50, deep + 400),
                (wide, deep + 400), (wide, 2 * deep), (0, 2 * deep), (0, deep + 400),
                (third, deep + 400), (third, deep), (0, deep),
            ]  # fmt: skip
    return checked(points)


@st.composite
def keep_outs(draw):
    x, y = draw(st.floats(-500, 5000)), draw(st.floats(-500, 5000))
    wide, deep = draw(st.floats(50, 2000)), draw(st.floats(50, 2000))
    turned = rotate(box(x, y, x + wide, y + deep), draw(st.floats(0, 90)))
    return list(turned.exterior.coords)


@given(rooms(), st.lists(keep_outs(), max_size=4), margins, margins)
def test_heat_and_reasons_add_up_to_the_floor(room, shapes, wall, keep_out):
    area = heatable(room, shapes, wall_margin_mm=wall, keep_out_margin_mm=keep_out)
    parts = area.area_m2 + sum(part.area_m2 for part in area.excluded)
    assert parts == pytest.approx(area.floor_m2, abs=1e-6)
    assert area.floor_m2 == pytest.approx(room.area_m2)


@given(rooms(), st.lists(keep_outs(), max_size=3), margins, margins)
def test_no_margin_is_ever_too_small(room, shapes, wall, keep_out):
    area = heatable(room, shapes, wall_margin_mm=wall, keep_out_margin_mm=keep_out, quad_segs=8)
    if area.area_m2 == 0:
        return
    assert area.polygon.distance(room.polygon.exterior) >= wall - 1e-6
    for shape in shapes:
        assert area.polygon.distance(Polygon(shape)) >= keep_out - 1e-6


@given(rooms(), st.lists(keep_outs(), max_size=3), margins)
def test_nothing_that_is_far_enough_is_left_out(room, shapes, margin):
    """Shapely's own buffer, with many chords, as the reference."""
    area = heatable(room, shapes, wall_margin_mm=margin, keep_out_margin_mm=margin)
    near = unary_union(
        [room.polygon.exterior.buffer(margin, quad_segs=256)]
        + [Polygon(shape).buffer(margin, quad_segs=256) for shape in shapes]
    )
    reference = room.polygon.difference(near).area / 1e6 if margin else area.area_m2
    assert area.area_m2 == pytest.approx(reference, abs=2e-5)


@given(rooms(), st.lists(keep_outs(), max_size=2), margins, st.floats(0, 360))
def test_turning_or_mirroring_a_room_changes_nothing(room, shapes, margin, degrees):
    both = {"wall_margin_mm": margin, "keep_out_margin_mm": margin}
    straight = heatable(room, shapes, **both).area_m2

    def turned(ring):
        return list(rotate(Polygon(ring), degrees, origin=(0, 0)).exterior.coords)

    def mirrored(ring):
        return list(scale(Polygon(ring), -1, 1, origin=(0, 0)).exterior.coords)

    for way in (turned, mirrored):
        moved = heatable(way(room), [way(shape) for shape in shapes], **both).area_m2
        assert moved == pytest.approx(straight, abs=1e-5)


@given(rooms(), keep_outs(), margins, margins)
def test_more_margin_never_warms_more(room, shape, wall, more):
    small = heatable(room, [shape], wall_margin_mm=wall, keep_out_margin_mm=wall)
    large = heatable(room, [shape], wall_margin_mm=wall + more, keep_out_margin_mm=wall + more)
    assert large.area_m2 <= small.area_m2 + 1e-9


def test_each_excluded_place_has_its_first_reason():
    area = heatable(
        ROOM,
        [KeepOut(outline=TUB, kind="fixture")],
        wall_margin_mm=50,
        keep_out_margin_mm=100,
    )
    under, beside, wall = area.excluded
    assert (under.kind, under.keep_out) == ("fixture", 0)
    assert under.because == "Keep-out 1 (fixture): no heat under it."
    assert under.area_m2 == pytest.approx(1.7 * 0.75)
    assert beside.because == "Within 100 mm of keep-out 1 (fixture)."
    assert (wall.kind, wall.keep_out) == ("wall", None)
    assert wall.because == "Within 50 mm of a wall."


def test_keep_outs_may_have_margins_of_their_own():
    toilet = [(2400, 1700), (3000, 1700), (3000, 2100), (2400, 2100)]
    area = heatable(
        ROOM,
        [KeepOut(outline=TUB, margin_mm=0), KeepOut(outline=toilet, kind="toilet", margin_mm=150)],
        wall_margin_mm=0,
        keep_out_margin_mm=500,
    )
    assert area.polygon.distance(Polygon(TUB)) == pytest.approx(0)
    assert area.polygon.distance(Polygon(toilet)) == pytest.approx(150, abs=0.01)


def test_overlapping_keep_outs_are_subtracted_once():
    half = [(0, 0), (1500, 0), (1500, 2400), (0, 2400)]
    most = [(1000, 0), (2000, 0), (2000, 2400), (1000, 2400)]
    area = heatable(ROOM, [half, most], wall_margin_mm=0, keep_out_margin_mm=0)
    assert area.area_m2 == pytest.approx(2.4)


def test_an_expansion_joint_divides_the_floor():
    joint = [(1500, 0), (1500, 2400)]
    area = heatable(
        ROOM, joints=[joint], wall_margin_mm=100, keep_out_margin_mm=0, joint_margin_mm=50
    )
    assert [piece.area / 1e6 for piece in area.pieces] == pytest.approx([1.35 * 2.2] * 2)
    assert {part.kind for part in area.excluded} == {"joint", "wall"}


def test_a_bent_joint_keeps_its_margin_round_its_corner():
    bent = [(1000, 0), (1500, 1200), (1000, 2400)]
    assert grown_line(bent, 80, quad_segs=4).buffer(1e-6).contains(Point(1500, 1200).buffer(80))


def test_floor_counts_up_to_an_open_doorway_but_not_to_its_jambs():
    doorway = ((1000, 0), (1900, 0))
    area = heatable(ROOM, wall_margin_mm=100, keep_out_margin_mm=0, doorways=[doorway])
    assert area.polygon.covers(Point(1450, 0))
    coarse = heatable(
        ROOM, wall_margin_mm=100, keep_out_margin_mm=0, doorways=[doorway], quad_segs=4
    )
    for jamb in doorway:
        assert coarse.polygon.distance(Point(jamb)) >= 100 - 1e-6
    closed = heatable(ROOM, wall_margin_mm=100, keep_out_margin_mm=0)
    gained = area.area_m2 - closed.area_m2
    assert gained == pytest.approx(0.9 * 0.1 - pi / 2 * 0.01, abs=1e-3)


def test_a_doorway_in_the_middle_of_the_floor_is_none():
    with pytest.raises(UnusableMargin, match="in a wall"):
        heatable(
            ROOM, wall_margin_mm=100, keep_out_margin_mm=0, doorways=[((900, 900), (1800, 900))]
        )


def test_margins_that_leave_nothing_leave_nothing():
    area = heatable(ROOM, wall_margin_mm=1200, keep_out_margin_mm=0)
    assert (area.area_m2, area.pieces) == (0, ())
    assert sum(part.area_m2 for part in area.excluded) == pytest.approx(7.2)


def test_an_area_of_nothing_says_what_to_check():
    square = [(0, 0), (2000, 0), (2000, 2000), (0, 2000)]
    area = heatable(square, wall_margin_mm=1000, keep_out_margin_mm=50)
    assert area.notes == ("Margins and keep-outs leave no heatable floor: check their figures.",)
    assert heatable(square, wall_margin_mm=900, keep_out_margin_mm=50).notes == ()


def test_a_keep_out_through_the_wall_counts_inside_and_is_told():
    area = heatable(
        ROOM,
        [[(2500, 0), (3500, 0), (3500, 1000), (2500, 1000)]],
        wall_margin_mm=0,
        keep_out_margin_mm=0,
    )
    assert area.area_m2 == pytest.approx(6.7)
    assert area.notes == ("Keep-out 1 (other) reaches 0.50 m² beyond the walls.",)


def test_a_keep_out_outside_is_told():
    area = heatable(
        ROOM, [[(5000, 0), (6000, 0), (6000, 500)]], wall_margin_mm=0, keep_out_margin_mm=0
    )
    assert area.area_m2 == pytest.approx(7.2)
    assert area.notes == ("Keep-out 1 (other) lies outside the room.",)


@pytest.mark.parametrize("bad", [-1, float("nan"), float("inf")])
@pytest.mark.parametrize("which", ["wall_margin_mm", "keep_out_margin_mm", "joint_margin_mm"])
def test_a_margin_is_a_distance(which, bad):
    given_margins = {"wall_margin_mm": 100, "keep_out_margin_mm": 100, which: bad}
    with pytest.raises(UnusableMargin, match="distance of 0 mm or more"):
        heatable(ROOM, **given_margins)


def test_a_crossed_keep_out_is_refused_with_its_place():
    crossed = [(0, 0), (1000, 1000), (1000, 0), (0, 1000)]
    with pytest.raises(UnusableOutline) as refused:
        heatable(ROOM, [TUB, crossed], wall_margin_mm=50, keep_out_margin_mm=50)
    assert refused.value.pointer == "#/keep_outs/1/outline"


def test_the_sheet_rules_over_common_practice():
    assert margin_mm("toilet") == 100
    assert margin_mm("toilet", sheet_mm={"toilet": 180}) == 180
    assert margin_mm("drain", sheet_mm={"toilet": 180}) == 100
    with pytest.raises(UnusableMargin, match="no margin for “piano”"):
        margin_mm("piano")


def fields_with_a_passage(passage_mm):
    left, right = 1500 - passage_mm / 2, 1500 + passage_mm / 2
    return heatable(
        [
            (0, 0), (3000, 0), (3000, 2000), (right, 2000), (right, 2600), (3000, 2600),
            (3000, 4000), (0, 4000), (0, 2600), (left, 2600), (left, 2000), (0, 2000),
        ],
        wall_margin_mm=100,
        keep_out_margin_mm=0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("passage_mm", "kinds"),
    [
        (800, {"mat"}),
        (400, {"mat", "loose wire"}),
        (260, {"mat", "single run"}),
        (190, {"mat", "apart"}),
    ],
)
def test_what_no_mat_can_reach_is_told_apart_from_what_is_narrow(passage_mm, kinds):
    area = fields_with_a_passage(passage_mm)
    parts = reaches(area, mat_width_mm=500, spacing_mm=75)
    assert kinds <= {part.reach for part in parts} <= kinds | {"loose wire"}
    assert sum(part.area_m2 for part in parts) == pytest.approx(area.area_m2, rel=0.005)


def test_a_mat_that_is_just_as_wide_fits():
    area = heatable(rectangle(700, 3000), wall_margin_mm=100, keep_out_margin_mm=0)
    assert {part.reach for part in reaches(area, mat_width_mm=500, spacing_mm=75)} == {"mat"}
    assert {part.reach for part in reaches(area, mat_width_mm=502, spacing_mm=75)} == {"loose wire"}


def test_a_slanted_corridor_is_as_wide_as_a_straight_one():
    corridor = rotate(Polygon(rectangle(700, 3000)), 34, origin=(0, 0))
    area = heatable(list(corridor.exterior.coords), wall_margin_mm=100, keep_out_margin_mm=0)
    parts = reaches(area, mat_width_mm=490, spacing_mm=75)
    assert {part.reach for part in parts} == {"mat"}


def test_an_inner_corner_is_round_like_an_arc():
    room = l_shape(3600, 3000, cut_width_mm=1800, cut_depth_mm=1500)
    area = heatable(room, wall_margin_mm=100, keep_out_margin_mm=0)
    on_arc = Point(1800 - 100 * cos(radians(45)), 1500 - 100 * sin(radians(45)))
    assert area.polygon.exterior.distance(on_arc) < 0.01
