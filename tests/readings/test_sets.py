import pytest

from readings import sets
from readings.sets import Wanted, missing, needed, out_of_order


def words(wanted):
    return [one.words for one in wanted]


def test_a_stage_needs_each_element_each_lead_and_each_sensor():
    assert words(needed("laid", ["mat", "cable"], ["probe", "spare"])) == [
        "mat, core to core",
        "mat, lead to ground, lead A",
        "mat, lead to ground, lead B",
        "cable, core to core",
        "cable, lead to ground, lead A",
        "cable, lead to ground, lead B",
        "probe, floor sensor",
        "spare, floor sensor",
    ]


def test_the_handover_needs_insulation_volts_and_amperes_too():
    extra = set(needed("handover", ["mat"], [])) - set(needed("laid", ["mat"], []))
    assert {one.kind for one in extra} == {"insulation", "supply", "load"}


def test_what_was_read_is_no_longer_missing():
    wanted = needed("laid", ["mat"], ["probe"])
    assert missing(wanted, wanted) == []
    assert missing(wanted, wanted[:2]) == wanted[2:]


def test_insulation_at_voltage_stands_for_first_looks_never_the_other_way_round():
    wanted = needed("handover", ["mat"], [])
    tested = Wanted(kind="insulation", label="mat")
    assert {one.kind for one in missing(wanted, [tested])} == {"element", "supply", "load"}
    looks = [one for one in wanted if one.kind == "lead_to_ground"]
    assert tested in missing(wanted, looks)


def test_what_was_read_together_covers_all_elements():
    wanted = needed("laid", ["mat", "cable"], [])
    left = missing(wanted, [Wanted(kind="element", label="")])
    assert {one.kind for one in left} == {"lead_to_ground"}
    left = missing(wanted, [Wanted(kind="insulation", label="")])
    assert {one.kind for one in left} == {"element"}


def test_stages_come_in_their_order():
    assert out_of_order("covered", ["arrival"]) == "laid"
    assert out_of_order("covered", ["laid", "arrival"]) is None
    assert out_of_order("arrival", []) is None
    for ask in (lambda: out_of_order("soon", []), lambda: needed("soon", [], [])):
        with pytest.raises(sets.UnknownStage, match="arrival, laid"):
            ask()
