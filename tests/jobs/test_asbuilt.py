from math import hypot

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.asbuilt import (
    UNPROVEN_TOLERANCE_MM,
    MovedPart,
    MovedRun,
    UnusableChange,
    as_planned,
    changed,
    differences,
    on_floor,
    photo_scale,
    read_plan,
    write_plan,
)
from jobs.wire import point_at, runs, wire
from tests.jobs.floors import CABLE, meander

WIRE = wire(CABLE)
PLAN = as_planned([WIRE], sensor=(1500, 487), control=(3000, 472))
PHOTO = np.array([[2.1, 0.3, 100], [-0.1, 1.8, 50], [1e-4, 2e-4, 1]])
PIXELS = [(12, 30), (980, 44), (950, 760), (40, 720), (500, 400), (300, 600), (700, 200)]


def moved(*changes, tolerance_mm=30):
    return changed(PLAN, changes, tolerance_mm=tolerance_mm)


def test_a_plan_that_nobody_measured_is_true_to_a_hand():
    assert PLAN.tolerance_mm == UNPROVEN_TOLERANCE_MM
    assert differences(PLAN, PLAN) == ()


@given(st.integers(1, 19), st.tuples(st.floats(-30, 30), st.floats(-30, 30)))
def test_chainage_survives_a_moved_run(number, by):
    laid = moved(MovedRun(element=0, number=number, by_mm=by)).wires[0]
    assert laid.chainage_mm == WIRE.chainage_mm
    for run in runs(WIRE):
        middle = (run.from_mm + run.to_mm) / 2
        was, now = point_at(WIRE, middle), point_at(laid, middle)
        shift = (now[0] - was[0], now[1] - was[1])
        assert shift == pytest.approx(by if run.number == number else (0, 0), abs=1e-6)


def test_the_turns_beside_a_moved_run_stay_joined():
    laid = moved(MovedRun(element=0, number=3, by_mm=(0, 12))).wires[0]
    steps = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in
             zip(laid.points, laid.points[1:], strict=False)]  # fmt: skip
    before = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in
              zip(WIRE.points, WIRE.points[1:], strict=False)]  # fmt: skip
    assert max(abs(a - b) for a, b in zip(steps, before, strict=True)) < 12


def test_the_first_run_takes_the_splice_along_and_the_last_the_end():
    first = moved(MovedRun(element=0, number=1, by_mm=(0, -20))).wires[0]
    assert first.points[0] == (600, 130)
    last = moved(MovedRun(element=0, number=19, by_mm=(0, 20))).wires[0]
    assert last.points[-1] == (CABLE[-1][0], CABLE[-1][1] + 20)


def test_what_leads_into_the_first_run_moves_with_it():
    bent = wire([(500, 90), (500, 150), (2000, 150), (2000, 240), (500, 240), (500, 300)])
    plan = as_planned([bent], sensor=None, control=None)
    first = changed(plan, [MovedRun(element=0, number=1, by_mm=(0, -20))], tolerance_mm=30)
    assert first.wires[0].points[:3] == ((500, 70), (500, 130), (2000, 130))
    last = changed(plan, [MovedRun(element=0, number=2, by_mm=(0, 20))], tolerance_mm=30)
    assert last.wires[0].points[3:] == ((2000, 260), (500, 260), (500, 320))


def test_differences_are_listed_farthest_first():
    laid = moved(
        MovedRun(element=0, number=3, by_mm=(0, 12)),
        MovedPart(kind="sensor", at=(1500, 530)),
        MovedPart(kind="control", at=(3000, 471)),
        MovedPart(kind="joint", at=(1600, 600)),
    )
    assert [found.says for found in differences(PLAN, laid)] == [
        "Sensor lies 43 mm from the plan.",
        "Run 3 lies 12 mm from the plan.",
        "A joint lies 15.20 m from the splice; the plan has none there.",
    ]


def test_a_drawing_that_would_stretch_the_wire_is_asked_about():
    laid = moved(MovedPart(kind="end", at=(600, 3000)))
    (says,) = [one.says for one in differences(PLAN, laid) if one.what == "wire"]
    assert says == (
        "Drawn like this, the wire is 0.75 m shorter than the wire there is. "
        "Is another run moved too?"
    )


def test_two_elements_are_named():
    two = as_planned([WIRE, wire(meander(100, 500, 150, 900, 75))], sensor=None, control=None)
    laid = changed(two, [MovedRun(element=1, number=2, by_mm=(0, 15))], tolerance_mm=30)
    assert [one.says for one in differences(two, laid)] == [
        "Element 2, run 2 lies 15 mm from the plan."
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (MovedRun(element=0, number=20, by_mm=(0, 5)), "no run 20; this wire has 19"),
        (MovedRun(element=0, number=0, by_mm=(0, 5)), "no run 0"),
        (MovedRun(element=1, number=1, by_mm=(0, 5)), "no such element"),
        (MovedPart(kind="joint", at=(1600, 700)), "Move the run first"),
        (MovedPart(kind="sensor", at=(float("nan"), 0)), "two finite numbers"),
    ],
)
def test_a_change_that_the_plan_cannot_take_is_refused(change, says):
    with pytest.raises(UnusableChange, match=says) as refused:
        changed(PLAN, [MovedPart(kind="end", at=CABLE[-1]), change], tolerance_mm=20)
    assert refused.value.pointer.startswith("#/changes/1/")


@pytest.mark.parametrize("bad", [0, 5, -30, float("nan")])
def test_no_record_is_truer_than_its_cable(bad):
    with pytest.raises(UnusableChange, match="truer"):
        moved(tolerance_mm=bad)


def stored_plan():
    return {
        "elements": [
            {
                "element": "C-45", "path": [list(point) for point in CABLE], "mesh": [],
                "splice": list(CABLE[0]), "end": list(CABLE[-1]),
                "lead": [[3000, 472], [2950, 100], [600, 100], list(CABLE[0])],
            }
        ],
        "sensor": [1500, 487],
        "sensor_route": [[3000, 472], [2900, 487], [1500, 487]],
        "because": ["kept"],
    }  # fmt: skip


def test_a_stored_plan_comes_back_as_it_was_laid():
    plan = stored_plan()
    planned = read_plan(plan, control=(3000, 472), tolerance_mm=100)
    laid = changed(
        planned,
        [
            MovedRun(element=0, number=1, by_mm=(0, 10)),
            MovedPart(kind="sensor", at=(1500, 530)),
            MovedPart(kind="joint", at=(1600, 600)),
        ],
        tolerance_mm=30,
    )
    written = write_plan(plan, laid)
    again = read_plan(written, control=(3000, 472), tolerance_mm=30)
    assert differences(laid, again) == ()
    assert again.wires[0].length_mm == pytest.approx(planned.wires[0].length_mm, abs=0.01)
    assert again.joints == (((1600, 600),),)
    assert written["because"] == ["kept"]
    assert plan == stored_plan()  # the plan itself is as it was


def test_leads_and_tube_follow_their_ends():
    plan = stored_plan()
    laid = changed(
        read_plan(plan, control=(3000, 472), tolerance_mm=100),
        [
            MovedPart(kind="control", at=(3000, 700)),
            MovedPart(kind="splice", at=(620, 150)),
            MovedPart(kind="sensor", at=(1500, 530)),
        ],
        tolerance_mm=30,
    )
    written = write_plan(plan, laid)
    element = written["elements"][0]
    assert element["lead"] == [[3000, 700], [2950, 100], [600, 100], [620, 150]]
    assert element["splice"] == element["path"][0] == [620, 150]
    assert written["sensor_route"] == [[3000, 700], [2900, 487], [1500, 530]]


def test_a_photo_with_exact_points_is_mapped_exactly():
    scale = photo_scale([(pixel, on_floor(PHOTO, pixel)) for pixel in PIXELS])
    assert scale.matrix == pytest.approx(PHOTO, abs=1e-9)
    assert scale.residual_mm == pytest.approx(0, abs=1e-6)
    assert scale.tolerance_mm == 10
    assert on_floor(scale.matrix, (321, 123)) == pytest.approx(on_floor(PHOTO, (321, 123)))


def test_four_points_leave_nothing_to_check_by():
    scale = photo_scale([(pixel, on_floor(PHOTO, pixel)) for pixel in PIXELS[:4]])
    assert (scale.residual_mm, scale.tolerance_mm) == (None, UNPROVEN_TOLERANCE_MM)
    assert "mark a fifth" in scale.because


def test_the_tolerance_of_a_photo_covers_what_its_points_miss_by():
    """400 photos whose points are 8 mm off: 19 of 20 other places lie within the tolerance."""
    chance = np.random.default_rng(7)
    inside = []
    for _ in range(400):
        pairs = [
            (pixel, tuple(np.array(on_floor(PHOTO, pixel)) + chance.normal(0, 8, 2)))
            for pixel in PIXELS
        ]
        scale = photo_scale(pairs)
        spot = (chance.uniform(100, 900), chance.uniform(100, 700))
        (ax, ay), (bx, by) = on_floor(scale.matrix, spot), on_floor(PHOTO, spot)
        inside.append(hypot(ax - bx, ay - by) <= scale.tolerance_mm)
    assert np.mean(inside) >= 0.95


@pytest.mark.parametrize(
    ("pairs", "says"),
    [
        ([((0, 0), (0, 0))] * 3, "at least 4"),
        ([((i, i), (i, 2 * i)) for i in range(6)], "on one line"),
        ([((0, 0), (0, 0))] * 5, "one point"),
        ([((0, float("nan")), (0, 0)), *[((i, i * i), (i, i)) for i in range(4)]], "finite"),
    ],
)
def test_scale_points_that_say_nothing_are_refused(pairs, says):
    with pytest.raises(UnusableChange, match=says):
        photo_scale(pairs)
