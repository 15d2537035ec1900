"""Quantities and units against published values (QT); the source stands beside each row."""

from decimal import Decimal
from fractions import Fraction

import pytest

from jobs.quantities import (
    Package,
    RoomMeasures,
    packages,
    take_off,
    trowel_package,
)
from jobs.units import (
    KG_PER_LB,
    M2_PER_FT2,
    M_PER_MILE,
    ML_PER_IN3,
    MM_PER_FOOT,
    square_feet,
    square_metres,
)

FT2 = 0.09290304


def test_QT_1_bags_for_200_square_feet():
    """Engineer Fix, "How many bags of thinset do I need for 200 square feet" (prints 3.07)."""
    assert packages(200 * FT2, 65 * FT2, 0) == 4
    bag = Package(name="Tile mortar", use="adhesive", basis="coverage", holds=65 * FT2)
    room = RoomMeasures(floor_m2=200 * FT2, bed_m2=200 * FT2, perimeter_m=18)
    (line,) = take_off(room, [bag]).lines
    assert round(line.exact, 3) == Decimal("3.077")
    assert line.packages == 4


@pytest.mark.parametrize(
    ("notch", "low_ft2", "high_ft2"),
    [("1/4 x 1/4 in", 80, 100), ("1/4 x 3/8 in", 60, 80), ("1/2 x 1/2 in", 40, 50)],
    ids="QT-2-{}".format,
)
def test_QT_2_a_bag_behind_a_notched_trowel_counts_at_its_low_end(notch, low_ft2, high_ft2):
    """Engineer Fix, "How much thinset do I need per square foot"; the bag's own print rules."""
    bag = trowel_package(notch, 22.6796185, name="Tile mortar")
    assert square_feet(bag.holds) == pytest.approx(low_ft2)
    assert square_feet(bag.holds) < high_ft2


def test_QT_3_exactly_two_bags_are_two():
    """Arithmetic: no float ceiling to 3."""
    assert packages(160 * FT2, 80 * FT2, 0) == 2
    assert packages(square_metres(160), square_metres(80), 0) == 2


@pytest.mark.parametrize(
    ("factor", "expected"),
    [
        (M2_PER_FT2, "0.09290304"),
        (MM_PER_FOOT / 1000, "0.3048"),
        (50 * KG_PER_LB, "22.6796185"),
        (ML_PER_IN3, "16.387064"),
        (M_PER_MILE, "1609.344"),
    ],
    ids=["QT-4-ft2", "QT-4-ft", "QT-4-50lb", "QT-4-in3", "QT-4-mile"],
)
def test_QT_4_conversions_are_exact(factor, expected):
    """NIST SP 811 appendix B (factors from memory), pint 0.26."""
    assert factor == Fraction(expected)
