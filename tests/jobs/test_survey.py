from dataclasses import fields

import pytest

from jobs.survey import Facts, UnusableSurvey, build_up_mm, lead_way_mm, read_facts, survey

KNOWN = {
    "substrate": "concrete", "substrate_sound": True, "substrate_dry": True,
    "unevenness_mm_per_2m": 2, "covering": "tile",
    "layers_mm": [["mortar", 10], ["adhesive", 4], ["covering", 9]],
    "door_gap_mm": 30, "door_can_be_cut": False, "neighbour_mm": 20, "splice_mm": 9,
    "recess_possible": False, "supply_volts": 230, "supply_free_a": 10, "load_a": 3.2,
    "control_open": True, "control_behind_door": False, "control_in_cabinet": False,
    "control_height_mm": 1200, "box_cm3": 300, "conduits": 2, "lead_mm": 3000,
    "lead_way_mm": 2500,
    "supplied_by": {"element": "contractor", "control": "electrician", "mortar": "contractor",
                    "covering": "customer", "electrical work": "electrician"},
}  # fmt: skip


def state_of(key, **changed):
    items = {item.key: item for item in survey(read_facts({**KNOWN, **changed})).items}
    return items[key].state, items[key].says


def test_with_everything_known_the_order_may_be_made():
    found = survey(read_facts(KNOWN))
    assert [item for item in found.items if item.state != "known"] == []
    assert found.may_order
    assert found.says == "Everything is known; the order may be made."


def test_with_nothing_known_everything_is_asked():
    found = survey(Facts())
    assert {item.state for item in found.items} == {"missing"}
    assert not found.may_order
    assert found.says.startswith(f"Not yet: 0 to solve, {len(found.items)} to find out")


@pytest.mark.parametrize("fact", sorted(set(KNOWN) - {"door_can_be_cut", "recess_possible"}))
def test_no_fact_may_be_missing(fact):
    less = {name: value for name, value in KNOWN.items() if name != fact}
    assert not survey(read_facts(less)).may_order


def test_the_sample_names_every_fact():
    assert set(KNOWN) == {one.name for one in fields(Facts)}


def test_heights_are_added_up_and_held_against_the_door():
    assert build_up_mm(read_facts(KNOWN)) == 23
    assert state_of("build-up") == ("known", "23 mm: mortar 10 mm + adhesive 4 mm + covering 9 mm")
    assert state_of("door")[1] == "30 mm under it less 23 mm of floor leaves 7 mm"
    state, says = state_of("door", door_gap_mm=20)
    assert (state, says[-44:]) == ("problem", "mm. Cut 8 mm off the door, or build up less.")
    assert state_of("door", door_gap_mm=20, door_can_be_cut=True)[0] == "known"


@pytest.mark.parametrize(("gap", "state"), [(28, "known"), (27.9, "problem")])
def test_five_millimetres_stay_under_a_door(gap, state):
    assert state_of("door", door_gap_mm=gap)[0] == state


@pytest.mark.parametrize(
    ("neighbour", "state", "says"),
    [(17, "known", "6 mm above"), (16, "problem", "7 mm above"), (30, "problem", "7 mm below")],
)
def test_a_step_to_the_neighbouring_floor_is_told(neighbour, state, says):
    found = state_of("step", neighbour_mm=neighbour)
    assert found[0] == state
    assert says in found[1]


def test_the_splice_gets_a_recess_where_the_bed_is_too_thin():
    thick = {"splice_mm": 14}
    assert state_of("splice")[1].endswith("no recess needed")
    state, says = state_of("splice", **thick)
    assert state == "problem"
    assert "Splice 14 mm + cover 3 mm in a bed of 14 mm: a recess of 3 mm" in says
    assert state_of("splice", recess_possible=True, **thick)[0] == "known"


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"substrate_sound": False}, "substrate-sound"),
        ({"substrate_dry": False}, "substrate-dry"),
        ({"unevenness_mm_per_2m": 3.5}, "flatness"),
        ({"load_a": 10.1}, "supply"),
        ({"control_open": False}, "control-open"),
        ({"control_behind_door": True}, "control-door"),
        ({"control_in_cabinet": True}, "control-cabinet"),
        ({"control_height_mm": 300}, "control-height"),
        ({"box_cm3": 200}, "box"),
        ({"conduits": 1}, "conduits"),
        ({"lead_mm": 2400}, "lead"),
    ],
)
def test_each_problem_stops_the_order(changed, key):
    found = survey(read_facts({**KNOWN, **changed}))
    assert [item.key for item in found.items if item.state == "problem"] == [key]
    assert not found.may_order


def test_a_planned_leveller_answers_for_an_uneven_floor():
    layers = [["leveller", 5], *KNOWN["layers_mm"]]
    changed = {"unevenness_mm_per_2m": 8, "layers_mm": layers, "door_gap_mm": 40,
               "neighbour_mm": 25}  # fmt: skip
    assert survey(read_facts({**KNOWN, **changed})).may_order


def test_the_way_of_a_lead_has_the_wall_and_eight_inches_in_the_box():
    route = ((3000, 500), (2600, 500), (2600, 200))
    assert lead_way_mm(route, control_height_mm=1200) == 700 + 1200 + 203 + 100


@pytest.mark.parametrize(
    ("bad", "pointer"),
    [
        ({"colour": "blue"}, "#/colour"),
        ({"substrate": "snow"}, "#/substrate"),
        ({"box_cm3": -1}, "#/box_cm3"),
        ({"layers_mm": [["mortar", 0]]}, "#/layers_mm/0"),
        ({"supplied_by": {"control": "nobody"}}, "#/supplied_by/control"),
        ({"supplied_by": {"piano": "customer"}}, "#/supplied_by/piano"),
    ],
)
def test_facts_that_cannot_be_are_refused(bad, pointer):
    with pytest.raises(UnusableSurvey) as refused:
        read_facts(bad)
    assert refused.value.pointer == pointer
