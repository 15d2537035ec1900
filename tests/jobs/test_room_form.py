"""Rooms as people type them, in millimetres or in feet and inches, and back again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs import room_form
from jobs.outline import UnusableOutline
from jobs.room_form import OnWall, UnreadableRow
from jobs.units import length_mm, typed_length

FOOT, INCH = 304.8, 25.4


@pytest.mark.parametrize(
    ("line", "system", "wall"),
    [
        ("3000 left", "metric", (3000, 90)),
        ("3000", "metric", (3000, 90)),
        ("3 m right", "metric", (3000, -90)),
        ("3000 45", "metric", (3000, 45)),
        ("3000, -30,5°", "metric", (3000, -30.5)),
        ("3000 derecha", "metric", (3000, -90)),
        ("9' 10\" left", "imperial", (9 * FOOT + 10 * INCH, 90)),
        ("9' 10 1/2\"", "imperial", (9 * FOOT + 10.5 * INCH, 90)),
        ("9' 10", "imperial", (9 * FOOT + 10 * INCH, 90)),  # inches, not degrees
        ("9' 10\" 45°", "imperial", (9 * FOOT + 10 * INCH, 45)),
        ("118 1/2 r", "imperial", (118.5 * INCH, -90)),
    ],
)
def test_a_wall_is_read_as_the_tape_says_it(line, system, wall):
    assert room_form.tape(line, system=system) == [pytest.approx(wall)]


@pytest.mark.parametrize(
    ("line", "system", "corner"),
    [
        ("3000, 2400", "metric", (3000, 2400)),
        ("3000,2400", "metric", (3000, 2400)),
        ("3000 2400", "metric", (3000, 2400)),
        ("-12.5, 0", "metric", (-12.5, 0)),
        ("3,5 m; 2,4 m", "metric", (3500, 2400)),
        ("9' 10\", 7' 10 1/2\"", "imperial", (9 * FOOT + 10 * INCH, 7 * FOOT + 10.5 * INCH)),
        ("9'10\",7'", "imperial", (9 * FOOT + 10 * INCH, 7 * FOOT)),
        ("118, 94 1/2", "imperial", (118 * INCH, 94.5 * INCH)),
        ("0, -3 1/4", "imperial", (0, -3.25 * INCH)),
    ],
)
def test_a_corner_is_read_in_either_system(line, system, corner):
    assert room_form.corners(line, system=system) == [pytest.approx(corner)]


@pytest.mark.parametrize("line", ["3000", "0, 0, 0", "a, b", "3000;", "1/0, 2"])
def test_what_is_no_corner_is_told_with_its_line(line):
    with pytest.raises(UnreadableRow, match="Line 2 is no corner"):
        room_form.corners(f"0, 0\n{line}", system="metric")


@given(
    outline=st.sampled_from(
        [
            [(0, 0), (3000, 0), (3000, 2400), (0, 2400)],
            [(0, 0), (3000, 0), (3000, 1200), (1500, 1200), (1500, 2400), (0, 2400)],
            [(0, 0), (3000, 0), (3500, 2000), (0, 2400)],
            [(100, 50), (3000, 0), (3000, 2400)],
            [(0, 0), (118 * INCH, 0), (118 * INCH, 94.5 * INCH), (0, 94.5 * INCH)],
        ]
    ),
    system=st.sampled_from(["metric", "imperial"]),
)
def test_a_form_gives_the_room_again_that_it_was_filled_from(outline, system):
    fields = room_form.typed(outline, system=system)
    sides = {
        name: length_mm(fields[name], unit=room_form.PLAIN_UNIT[system])
        for name in ("width", "depth")
        if name in fields
    }
    again = room_form.read({**fields, **sides}, system=system)
    for was, now in zip(outline, again, strict=True):
        assert now == pytest.approx(was, abs=0.02)


@given(mm=st.floats(-20_000, 20_000), system=st.sampled_from(["metric", "imperial"]))
def test_a_typed_length_reads_as_the_same(mm, system):
    text = typed_length(mm, system)
    read = room_form.signed_length_mm(text, unit=room_form.PLAIN_UNIT[system])
    assert read == pytest.approx(mm, abs=0.01)


def test_walls_may_be_typed_instead_of_the_corners_they_were_kept_as():
    corners = [(0, 0), (3000, 0), (3500, 2000), (0, 2400)]
    walls = room_form.typed(corners, system="metric")["walls"]
    again = room_form.read({"way": "walls", "walls": walls}, system="metric")
    for was, now in zip(corners, again, strict=True):
        assert now == pytest.approx(was, abs=2)


def test_an_l_by_its_sides():
    given_sides = {"way": "l", "width": 3000.0, "depth": 2400.0, "cut_width": 1000.0}
    with pytest.raises(UnreadableRow, match="missing"):
        room_form.read(given_sides, system="metric")
    sides = given_sides | {"cut_depth": 600.0, "cut_corner": "lower left"}
    assert room_form.read(sides, system="metric").area_m2 == pytest.approx(3 * 2.4 - 0.6)
    with pytest.raises(UnusableOutline, match="as wide as the room"):
        room_form.read(sides | {"cut_width": 3000.0}, system="metric")


def test_a_place_on_a_wall_and_back():
    square = [(0, 0), (3000, 0), (3000, 2400), (0, 2400)]
    place = OnWall(wall=2, from_mm=900, width_mm=800)
    ends = room_form.ends_of(square, place, "#/door_wall")
    assert ends == ((3000, 900), (3000, 1700))
    assert room_form.on_wall(square, ends[::-1]) == place
    assert room_form.openings("2: 900, 800", system="metric") == [place]
    typed = room_form.typed_openings(square, [ends], system="imperial")
    assert room_form.openings(typed, system="imperial") == [place]


def test_a_shape_that_is_no_rectangle_moves_as_a_whole():
    kept = [(100, 100), (300, 100), (200, 400)]
    moved = room_form.keep_out_outline({"right": 150, "up": 90, "corners": kept})
    assert moved == [(150, 90), (350, 90), (250, 390)]
