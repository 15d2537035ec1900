import math

import pytest

from readings.arrival import Item, judge_contents, judge_damage, judge_voltage, same_voltage


@pytest.mark.parametrize(
    ("label", "supply", "outcome", "watts"),
    [
        (230, 230, "pass", None),
        (240, 230, "pass", None),
        (230, 240, "pass", None),
        (120, 240, "fail", "4000 W"),
        (208, 240, "fail", "1331 W"),
        (240, 208, "undecided", "751 W"),
        (240, 120, "undecided", "250 W"),
    ],
)
def test_too_many_volts_are_refused_too_few_are_asked_about(label, supply, outcome, watts):
    """Power goes with the square of the volts (RT-5)."""
    found = judge_voltage(label_volts=label, label_watts=1000, supply_volts=supply)
    assert found.outcome == outcome
    if watts:
        assert watts in found.because
    assert ("Do not connect it" in found.next_step) == (outcome == "fail")


@pytest.mark.parametrize("wrong", [0, -230, math.nan, True, None])
def test_a_voltage_that_is_none_is_refused(wrong):
    with pytest.raises(ValueError, match=r"."):
        same_voltage(wrong, 230)
    with pytest.raises(ValueError, match=r"."):
        same_voltage(230, wrong)


ORDER = [Item(name="Mat 2 m2", serial="A1"), Item(name="Probe"), Item(name="Probe")]


def test_the_order_is_there_whatever_the_spelling():
    came = [Item(name="probe "), Item(name="MAT 2 M2", serial="A1"), Item(name="Probe")]
    assert judge_contents(ordered=ORDER, found=came).outcome == "pass"


@pytest.mark.parametrize(
    ("came", "told"),
    [
        ([ORDER[0], ORDER[1]], "1 × Probe missing"),
        ([*ORDER, Item(name="Tape")], "1 × Tape too many"),
        ([Item(name="Mat 2 m2", serial="B7"), *ORDER[1:]], "serial A1 (Mat 2 m2) was not found"),
        ([*ORDER, ORDER[0]], "serial A1 was read twice"),
    ],
)
def test_what_differs_is_told(came, told):
    found = judge_contents(ordered=ORDER, found=came)
    assert found.outcome == "fail"
    assert told in found.because


def test_damage_is_for_the_office():
    assert judge_damage(["", " "]).outcome == "pass"
    found = judge_damage(["cut sheath", "wet carton"])
    assert found.outcome == "fail"
    assert "cut sheath and wet carton" in found.because
    assert "Do not lay it" in found.next_step
