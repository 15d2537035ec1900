import pytest

from jobs.laying.problem import parse_room
from jobs.laying_room import COLD_LEAD_MM, CatalogueElement, NotReadyToLay, room_to_lay
from jobs.ordering import measures, package
from jobs.quantities import take_off
from jobs.survey import Facts

FIGURES = {
    "kind": "mat", "wire_mm": 62_000.0, "spacing_mm": 75.0, "spacing_least_mm": 60.0,
    "spacing_most_mm": 100.0, "watts": 744.0, "volts": 230.0, "min_bend_mm": 25.0, "ends": "one",
    "width_mm": 500.0, "length_mm": 9_300.0, "cold_lead_mm": 3_000.0,
}  # fmt: skip
OUTLINE = [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]
SWING = [[2000, 0], [2800, 0], [2800, 800]]
TUB = [[0, 1650], [1700, 1650], [1700, 2400], [0, 2400]]
MAT = CatalogueElement(id="m-1", name="M-31", figures=FIGURES)
CABLE = CatalogueElement(
    id="c-1",
    name="C-22",
    figures={**FIGURES, "kind": "cable", "min_bend_mm": 0, "width_mm": None},
)


def to_lay(**changed):
    return room_to_lay(**{
        "name": "Bathroom", "outline": OUTLINE, "joints": [], "doorways": [],
        "margins_mm": {"wall": 80},
        "keep_outs": [{"kind": "fixture", "outline": TUB, "margin_mm": 20}],
        "control_mm": [3000, 400], "max_w_per_m2": 160, "may_use": 1,
        "catalogue": [MAT, CABLE], "supply_volts": 230, **changed,
    })  # fmt: skip


def test_a_stored_room_reads_as_a_room_to_lay():
    room = parse_room(to_lay())
    assert [element.id for element in room.elements] == ["m-1", "c-1"]
    assert room.keep_outs[0].margin_mm == 20
    assert dict(room.margins_mm)["wall"] == 80
    assert room.element("m-1").width_mm == 500
    assert room.element("c-1").min_bend_mm > 0


def test_wall_box_and_bends_take_their_part_of_the_lead():
    assert to_lay()["cold_lead_mm"] == 3000 - 1200 - 203 - 100
    low = to_lay(control_height_mm=900)
    assert low["cold_lead_mm"] == 3000 - 900 - 203 - 100
    unprinted = CatalogueElement(id="x", name="x", figures={**FIGURES, "cold_lead_mm": None})
    assert to_lay(catalogue=[unprinted])["cold_lead_mm"] == COLD_LEAD_MM - 1200 - 203 - 100


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"control_mm": None}, "where the control sits"),
        ({"supply_volts": 120}, "no element for 120 V"),
        ({"catalogue": []}, "no element for 230 V"),
        ({"control_height_mm": 2700}, "wall and box take 3003 mm"),
        ({"outline": [[0, 0], [90_000, 0], [90_000, 9000]]}, "draw it as several rooms"),
    ],
)
def test_a_room_that_is_not_ready_says_what_is_missing(changed, says):
    with pytest.raises(NotReadyToLay, match=says):
        to_lay(**changed)


def test_an_element_for_240_volts_goes_on_230():
    other = CatalogueElement(id="x", name="x", figures={**FIGURES, "volts": 240.0})
    assert [one["id"] for one in to_lay(catalogue=[other])["elements"]] == ["x"]


PLAN = {
    "elements": [{"element": "m-1", "path": [], "lead": [[3000, 400], [2000, 400]]}],
    "sensor_route": [[3000, 400], [3000, 900]],
}


def measured(**changed):
    return measures(**{
        "outline": OUTLINE, "plan": PLAN, "control_height_mm": 1200,
        "facts": Facts(layers_mm=(("mortar", 8), ("mortar", 2), ("covering", 9))),
        "keep_outs": [
            {"kind": "fixture", "outline": TUB}, {"kind": "door_swing", "outline": SWING},
        ],
        "element_names": {"m-1": "M-31"}, "shortest_lead_mm": 3000, "controls": 0, "sensors": 2,
        **changed,
    })  # fmt: skip


def test_what_an_order_is_worked_out_from():
    found = measured()
    assert (found.floor_m2, found.bed_m2, found.perimeter_m) == (7.2, 5.925, 10.8)
    assert found.depth_mm == {"mortar": 10, "covering": 9}
    assert (found.lead_run_m, found.lead_m, found.leads) == (2.2, 3.0, 1)
    assert found.conduit_m == 1.7
    assert (found.controls, found.sensors, found.elements) == (1, 2, {"M-31": 1})


def test_without_a_plan_nothing_is_known_of_leads_and_tubes():
    found = measured(plan=None, shortest_lead_mm=None)
    assert (found.lead_run_m, found.conduit_m, found.elements) == (None, 0.0, {})


BAG = {"name": "bag", "covers": 5.0, "unit": "m2", "thickness_mm": 3.0, "waste_fraction": 0.1}


@pytest.mark.parametrize(
    ("kind", "bought", "basis", "holds"),
    [
        ("mortar", BAG, "volume", 15.0),
        ("membrane", {**BAG, "thickness_mm": 3}, "coverage", 5.0),
        ("primer", {**BAG, "thickness_mm": None}, "coverage", 5.0),
        ("tape", {"name": "roll", "covers": 20.0, "unit": "m"}, "length", 20.0),
        ("box", {"name": "piece", "covers": 1.0, "unit": "piece"}, "pieces", 1.0),
        ("element", None, "pieces", 1),
        ("sensor", None, "pieces", 1),
    ],
)
def test_a_material_is_reckoned_as_it_is_bought(kind, bought, basis, holds):
    found = package("x", kind, bought)
    assert (found.basis, found.holds) == (basis, holds)


def test_a_bed_twice_as_deep_takes_twice_as_much():
    (line,) = take_off(measured(), [package("Bed", "mortar", BAG)]).lines
    assert float(line.needed) == pytest.approx(59.25)  # 5.925 m² x 10 mm


@pytest.mark.parametrize(("kind", "bought"), [("mortar", None), ("piano", BAG)])
def test_what_is_not_bought_by_the_package_is_left_out(kind, bought):
    assert package("x", kind, bought) is None
