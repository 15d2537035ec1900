from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.quantities import (
    Package,
    RoomMeasures,
    UnusableQuantity,
    cable_length_m,
    density_w_per_m2,
    packages,
    take_off,
    trowel_package,
)

ROOM = RoomMeasures(
    floor_m2=7.2, bed_m2=6.1, perimeter_m=10.8, depth_mm={"mortar": 8, "leveller": 4},
    seams_m=6, lead_run_m=4.2, lead_m=3, leads=2, conduit_m=2.6, elements={"M-31": 1},
)  # fmt: skip
areas = st.floats(0, 2000)
coverages = st.floats(0.05, 200)
wastes = st.floats(0, 1)


@given(areas, coverages, wastes)
def test_packages_are_never_short_and_never_one_too_many(area, coverage, waste):
    number = packages(area, coverage, waste)
    need = area * (1 + waste)
    assert number * coverage >= need * (1 - 1e-9) - 1e-9
    assert (number - 1) * coverage < need or number == 0


@given(st.integers(1, 500), st.integers(1, 2000), st.sampled_from([1.0, 0.1, 0.01, 0.09290304]))
def test_an_exact_number_of_packages_is_that_number(number, hundredths, unit):
    coverage = hundredths / 100 * unit
    assert packages(number * coverage, coverage, 0) == number


@given(areas, areas, coverages, wastes)
def test_more_floor_never_takes_fewer_packages(area, more, coverage, waste):
    assert packages(area + more, coverage, waste) >= packages(area, coverage, waste)


def test_waste_comes_before_rounding():
    assert packages(10, 5, 0) == 2
    assert packages(10, 5, 0.05) == 3
    assert packages(9.5, 5, 0.05) == 2  # 9.975 m²


@pytest.mark.parametrize(
    "bad",
    [(-1, 5, 0), (1, 0, 0), (1, -5, 0), (1, 5, -0.1), (1, 5, 10), (float("nan"), 5, 0),
     (1, float("inf"), 0)],
)  # fmt: skip
def test_nonsense_is_refused(bad):
    with pytest.raises(UnusableQuantity):
        packages(*bad)


def test_ten_as_waste_is_told_to_be_a_fraction():
    with pytest.raises(UnusableQuantity, match=r"0\.1 means 10 %"):
        packages(1, 5, 10)


@pytest.mark.parametrize(
    ("material", "needed", "count", "said"),
    [
        (Package(name="Mortar", use="mortar", basis="mass", holds=25, kg_per_m2_mm=1.5,
                 package="bag", waste_fraction=0.1), "73.2", 4,
         "6.1 m² to cover, 8 mm deep, 1.5 kg per m² and mm: 73.2 kg; 10 % waste makes 80.52 kg; "
         "at 25 kg per bag that is 3.221, rounded up to 4."),
        (Package(name="Leveller", use="leveller", basis="volume", holds=14, package="bag"),
         "28.8", 3, "7.2 m² of floor, 4 mm deep: 28.8 l; "
         "at 14 l per bag that is 2.057, rounded up to 3."),
        (Package(name="Primer", use="primer", basis="coverage", holds=30, coats=2, package="can"),
         "14.4", 1, "7.2 m² of floor in 2 coats: 14.4 m²; "
         "at 30 m² per can that is 0.48, rounded up to 1."),
        (Package(name="Board", use="board", basis="coverage", holds=0.72, package="board"),
         "6.1", 9, "6.1 m² to cover; at 0.72 m² per board that is 8.472, rounded up to 9."),
        (Package(name="Tape", use="tape", basis="length", holds=10, package="roll"), "16.8", 2,
         "10.8 m along the walls and 6 m of seams: 16.8 m; "
         "at 10 m per roll that is 1.68, rounded up to 2."),
        (Package(name="Tube", use="conduit", basis="length", holds=2, package="length"), "2.6", 2,
         "2.6 m of tube; at 2 m per length that is 1.3, rounded up to 2."),
        (Package(name="Lead", use="lead", basis="length", holds=3, package="coil"), "2.806", 1,
         "2 × (4.403 m to the control, 203 mm of it in the box, less the 3 m of lead): 2.806 m; "
         "at 3 m per coil that is 0.935, rounded up to 1."),
        (Package(name="Box", use="box", basis="pieces", holds=1, package="piece"), "3", 3,
         "1 for controls, 0 for relays, 2 for longer leads: 3; bought one by one: order 3."),
        (Package(name="M-31", use="element", basis="pieces", holds=1, package="piece"), "1", 1,
         "1 in the laying plan; bought one by one: order 1."),
        (Package(name="Sensor", use="sensor", basis="pieces", holds=1, package="piece"), "1", 1,
         "1 in this floor, a spare only if it is recorded as a sensor; "
         "bought one by one: order 1."),
        (Package(name="Boxes", use="box", basis="pieces", holds=10, package="carton",
                 waste_fraction=0.1), "3", 1,
         "1 for controls, 0 for relays, 2 for longer leads: 3; 10 % waste makes 3.3; "
         "at 10 per carton that is 0.33, rounded up to 1."),
        (Package(name="Short rolls", use="tape", basis="length", holds=8.4, package="roll"),
         "16.8", 2, "10.8 m along the walls and 6 m of seams: 16.8 m; "
         "at 8.4 m per roll that is exactly 2."),
    ],
    ids=lambda value: value.name if isinstance(value, Package) else "",
)  # fmt: skip
def test_a_line_shows_its_whole_sum(material, needed, count, said):
    (line,) = take_off(ROOM, [material]).lines
    assert line.needed == Decimal(needed)
    assert line.packages == count
    assert line.because == said
    assert line.left_over == count * line.holds - line.needed * (1 + line.waste_fraction)
    assert line.left_over >= 0


def test_what_is_not_needed_has_no_line():
    other = Package(name="M-60", use="element", basis="pieces", holds=1)
    long_lead = RoomMeasures(floor_m2=1, bed_m2=1, perimeter_m=4, lead_run_m=1, lead_m=3)
    lead = Package(name="Lead", use="lead", basis="length", holds=3)
    assert take_off(ROOM, [other]).lines == ()
    assert take_off(long_lead, [lead]).lines == ()


def test_what_cannot_be_counted_is_said():
    room = RoomMeasures(floor_m2=1, bed_m2=1, perimeter_m=4)
    found = take_off(
        room,
        [
            Package(name="Bed 8", use="mortar", basis="volume", holds=14),
            Package(name="Lead", use="lead", basis="length", holds=3),
        ],
    )
    assert found.lines == ()
    assert found.not_counted == (
        "Bed 8: the depth of the mortar is not known.",
        "Lead: the way to the control or the length of the lead is not known.",
    )


@pytest.mark.parametrize(
    "material",
    [
        Package(name="x", use="mortar", basis="mass", holds=25),
        Package(name="x", use="mortar", basis="length", holds=25),
        Package(name="x", use="tape", basis="pieces", holds=25),
        Package(name="x", use="tape", basis="length", holds=0),
        Package(name="x", use="tape", basis="length", holds=5, waste_fraction=-0.1),
        Package(name="x", use="tape", basis="length", holds=5, waste_fraction=10),
    ],
)
def test_a_material_that_cannot_be_reckoned_so_is_refused(material):
    with pytest.raises(UnusableQuantity):
        take_off(ROOM, [material])


def test_an_unknown_trowel_is_refused():
    with pytest.raises(UnusableQuantity, match="No coverage is known for 1 x 1 in"):
        trowel_package("1 x 1 in", 25, name="x")


@given(st.floats(0, 200), st.floats(20, 300), st.floats(1, 30))
def test_spacing_length_and_density_agree(area, spacing, w_per_m):
    power = cable_length_m(area, spacing) * w_per_m
    assert power == pytest.approx(density_w_per_m2(w_per_m, spacing) * area)
