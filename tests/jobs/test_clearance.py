from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Point

from jobs.clearance import UnusableQuestion, floor_record, may_fasten
from tests.jobs.floors import CABLE

OUTLINE = [(0, 0), (3000, 0), (3000, 2400), (0, 2400)]
LEAD = [(3000, 472), (2950, 100), (600, 100), CABLE[0]]
RECORD = floor_record(OUTLINE, cables=[CABLE], leads=[LEAD], tolerance_mm=30)
HOLE = {"depth_mm": 40, "drill_mm": 6}

spots = st.tuples(st.floats(-200, 3200), st.floats(-200, 2600))
answers = ["keep out", "only after locating on site", "no cable recorded"]


@given(spots)
def test_the_distance_is_true_and_the_answer_follows_it(spot):
    found = may_fasten(RECORD, spot, **HOLE)
    true = MultiLineString([CABLE, LEAD]).distance(Point(spot))
    assert found.distance_mm == pytest.approx(true, abs=1e-6)
    assert Point(found.nearest).distance(Point(spot)) == pytest.approx(true, abs=1e-6)
    if found.answer == "no cable recorded":
        assert found.within_mm <= true - found.reach_mm
        assert found.within_mm >= 100
    if true <= 30 + 4 + 3:
        assert found.answer == "keep out"


@given(spots, spots)
def test_a_line_is_as_near_as_its_nearest_point(one, other):
    found = may_fasten(RECORD, (one, other), **HOLE)
    if one != other:
        true = MultiLineString([CABLE, LEAD]).distance(LineString([one, other]))
        assert found.distance_mm == pytest.approx(true, abs=1e-6)
    for end in (one, other):
        at_end = may_fasten(RECORD, end, **HOLE)
        assert answers.index(found.answer) <= answers.index(at_end.answer)


def test_a_line_across_a_run_touches_it():
    assert may_fasten(RECORD, ((1000, 140), (1000, 160)), **HOLE).distance_mm == 0


@given(spots, st.floats(1, 300), st.floats(1, 60), st.floats(0, 200), st.floats(0, 100))
def test_whatever_is_less_sure_never_allows_more(spot, depth, drill, u, more):
    first = may_fasten(RECORD, spot, depth_mm=depth, drill_mm=drill, where_u_mm=u)
    coarser = floor_record(OUTLINE, cables=[CABLE], leads=[LEAD], tolerance_mm=30 + more)
    for worse in (
        may_fasten(RECORD, spot, depth_mm=depth + more, drill_mm=drill, where_u_mm=u),
        may_fasten(RECORD, spot, depth_mm=depth, drill_mm=drill + more, where_u_mm=u),
        may_fasten(RECORD, spot, depth_mm=depth, drill_mm=drill, where_u_mm=u + more),
        may_fasten(coarser, spot, depth_mm=depth, drill_mm=drill, where_u_mm=u),
    ):
        assert answers.index(worse.answer) <= answers.index(first.answer)


def test_the_three_answers_in_words():
    near = may_fasten(RECORD, (1500, 174), **HOLE)
    assert near.says == (
        "Keep out. The nearest cable is 24\N{NO-BREAK SPACE}mm away; "
        "the record is true to ±30\N{NO-BREAK SPACE}mm."
    )
    middling = may_fasten(RECORD, (1500, 1600), **HOLE)
    assert middling.answer == "only after locating on site"
    assert middling.says.startswith("Only after locating on site. The nearest cable is 100")
    far = may_fasten(RECORD, (1500, 1900), **HOLE)
    assert far.answer == "no cable recorded"
    assert far.says == "No cable recorded within 350\N{NO-BREAK SPACE}mm."
    assert far.within_mm == 350  # 400 away, less 30 + 4 + 3 + 3.5


def test_nobody_is_ever_told_just_yes():
    for spot in ((1500, 174), (1500, 1600), (1500, 1900), (-500, 0)):
        for language in ("en", "es"):
            found = may_fasten(RECORD, spot, language=language, **HOLE)
            words = set(found.says.lower().replace(".", "").split())
            assert not words & {"yes", "sí", "safe", "seguro", "ok"}
            assert found.caution


def test_a_cold_lead_counts_as_cable_and_is_named():
    found = may_fasten(RECORD, (1500, 80), **HOLE)
    assert found.answer == "keep out"
    assert "cold lead" in found.says
    spanish = may_fasten(RECORD, (1500, 80), language="es", **HOLE)
    assert "cable frío" in spanish.says


def test_distances_are_never_rounded_up():
    assert "24\N{NO-BREAK SPACE}mm" in may_fasten(RECORD, (1500, 174.9), **HOLE).says
    inches = may_fasten(RECORD, (1500, 174.9), system="imperial", **HOLE)
    assert "7/8″ away" in inches.says  # 24.9 mm are 0.98 in


def test_a_plan_is_no_record():
    planned = floor_record(OUTLINE, cables=[CABLE], tolerance_mm=100, basis="planned")
    assert may_fasten(planned, (1500, 174), **HOLE).answer == "keep out"
    far = may_fasten(planned, (1500, 2300), **HOLE)
    assert far.answer == "only after locating on site"
    assert "no record" in far.says


def test_outside_and_empty_floors_are_not_cleared():
    assert "outside the recorded floor" in may_fasten(RECORD, (5000, 5000), **HOLE).says
    reaching_out = may_fasten(RECORD, ((1500, 2000), (1500, 3000)), **HOLE)
    assert reaching_out.answer == "only after locating on site"
    empty = floor_record(OUTLINE, cables=[], tolerance_mm=30)
    found = may_fasten(empty, (1500, 1000), **HOLE)
    assert (found.answer, found.distance_mm) == ("only after locating on site", None)
    assert "Nothing is recorded" in found.says


def test_a_fingertip_is_not_a_tape_measure():
    near = {"depth_mm": 1, "drill_mm": 6}
    assert may_fasten(RECORD, (1500, 1545), **near).answer == "only after locating on site"
    touched = may_fasten(RECORD, (1500, 1545), where_u_mm=65, **near)
    assert touched.answer == "keep out"
    assert "65 mm: how well the asked place is known" in touched.because


def test_a_deep_hole_leans_and_depth_never_allows():
    spot = (1500, 1545)
    assert may_fasten(RECORD, spot, depth_mm=1, drill_mm=6).answer == "only after locating on site"
    assert may_fasten(RECORD, spot, depth_mm=150, drill_mm=6).answer == "keep out"


@pytest.mark.parametrize(
    "bad",
    [{"depth_mm": 0}, {"drill_mm": -6}, {"depth_mm": float("nan")}, {"where_u_mm": -1}],
)
def test_impossible_questions_are_refused(bad):
    with pytest.raises(UnusableQuestion):
        may_fasten(RECORD, (0, 0), **{**HOLE, **bad})


@pytest.mark.parametrize("where", [(1, 2, 3), ((1, 2),) * 3, (float("inf"), 0), (1,)])
def test_a_place_is_a_point_or_a_line(where):
    with pytest.raises(UnusableQuestion, match="point or for a line"):
        may_fasten(RECORD, where, **HOLE)


def test_a_record_has_a_tolerance():
    with pytest.raises(UnusableQuestion):
        floor_record(OUTLINE, cables=[CABLE], tolerance_mm=0)


@given(spots, st.floats(0, 360))
def test_turning_the_room_changes_no_answer(spot, degrees):
    c, s = cos(radians(degrees)), sin(radians(degrees))

    def turn(points):
        return [(x * c - y * s, x * s + y * c) for x, y in points]

    turned = floor_record(turn(OUTLINE), cables=[turn(CABLE)], leads=[turn(LEAD)], tolerance_mm=30)
    (moved,) = turn([spot])
    found = may_fasten(turned, moved, **HOLE)
    assert found.distance_mm == pytest.approx(
        may_fasten(RECORD, spot, **HOLE).distance_mm, abs=1e-6
    )
