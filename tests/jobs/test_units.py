from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.units import (
    UnreadableLength,
    fahrenheit,
    fahrenheit_difference,
    feet_inches,
    grouped,
    in_units,
    length_mm,
    shown_area,
    shown_dimension,
    shown_length,
    square_feet,
    square_metres,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1200", 1200), ("1200 mm", 1200), ("120 cm", 1200), ("1.2 m", 1200), ("1,2 m", 1200),
        ("5' 3 1/2\"", 1612.9), ("5′ 3½″", 1612.9), ("5 ft 3-1/2", 1612.9),
        ("5'-3 1/2\"", 1612.9), ("63 1/2 in", 1612.9), ("63.5 in", 1612.9), ("5 FT 3.5 IN", 1612.9),
        ("3/8\"", 9.525), ("½ in", 12.7), ("5'", 1524), ("10'6", 3200.4),
        ("5 pies 3 pulgadas", 1600.2),
    ],
)  # fmt: skip
def test_lengths_are_read_as_people_write_them(text, mm):
    assert length_mm(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["", "  ", "abc", "-5", "1.2.3", "1 200", "1,200.5", "5 3", "5 ft 3 m", "13/2/4", "5' 3 1/0\"",
     "1.5 1/2 in", "5' 3\" 2", "3\" 5'", "1e3", "٣ m x", "5''' "],
)  # fmt: skip
def test_what_is_not_one_length_is_refused(text):
    with pytest.raises(UnreadableLength) as refused:
        length_mm(text, pointer="#/walls/2")
    assert refused.value.pointer == "#/walls/2"


def test_the_unit_of_a_bare_number_can_be_chosen():
    assert length_mm("3 1/2", unit="in") == pytest.approx(88.9)
    assert length_mm("3,5", unit="m") == 3500


@given(st.integers(0, 16 * 12 * 200))
def test_feet_and_inches_come_back_exactly(sixteenths):
    mm = float(Fraction(sixteenths, 16) * Fraction("25.4"))
    assert length_mm(feet_inches(mm)) == pytest.approx(mm, abs=1e-9)


@given(st.floats(0, 50_000))
def test_shown_feet_and_inches_are_within_half_a_sixteenth(mm):
    assert length_mm(feet_inches(mm)) == pytest.approx(mm, abs=25.4 / 32 + 1e-6)


@pytest.mark.parametrize(
    ("mm", "shown"),
    [(0, "0″"), (12.7, "1/2″"), (1524, "5′"), (1612.9, "5′ 3 1/2″"), (304.7, "1′"),
     (-1612.9, "−5′ 3 1/2″"), (-0.1, "0″"), (1528.7625, "5′ 3/16″")],
)  # fmt: skip
def test_feet_and_inches_as_shown(mm, shown):
    assert feet_inches(mm).replace("\N{NO-BREAK SPACE}", " ") == shown


def test_numbers_keep_together():
    assert grouped(1650) == "1\N{NO-BREAK SPACE}650"
    assert grouped(-40.4) == "−40"
    assert grouped(-0.4) == "0"
    assert shown_length(1650) == "1\N{NO-BREAK SPACE}650\N{NO-BREAK SPACE}mm"
    assert shown_dimension(3004.9) == "3.00\N{NO-BREAK SPACE}m"
    assert shown_dimension(3048, "imperial") == "10′"
    assert shown_area(6.67) == "6.67\N{NO-BREAK SPACE}m²"
    assert shown_area(6.67, "imperial") == "71.8\N{NO-BREAK SPACE}ft²"


@pytest.mark.parametrize(
    ("said", "there"),
    [
        ("Within 50 mm of a wall.", "Within 1 15/16″ of a wall."),
        ("from 12 to 25.4 mm", "from 1/2″ to 1″"),
        ("1\N{NO-BREAK SPACE}524 mm of 3.05 m", "5′ of 10′ 1/16″"),
        ("6.67 m² stay cold at −5 °C", "71.8 ft² stay cold at 23 °F"),
        ("160 W/m², 2.5 mm², 0.15 m²K/W, 4 K", "160 W/m², 2.5 mm², 0.15 m²K/W, 4 K"),
    ],
)
def test_a_sentence_in_the_units_of_the_place(said, there):
    assert in_units(said, "imperial").replace("\N{NO-BREAK SPACE}", " ") == there
    assert in_units(said, "metric") == said


@given(st.floats(0, 1e6))
def test_square_feet_come_back(m2):
    assert square_metres(square_feet(m2)) == pytest.approx(m2)


def test_a_difference_is_no_temperature():
    assert fahrenheit(29) == pytest.approx(84.2)
    assert fahrenheit_difference(9) == pytest.approx(16.2)
