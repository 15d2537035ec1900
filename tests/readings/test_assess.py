from datetime import date
from uuid import UUID

import pytest

from readings.arrival import Item
from readings.assess import (
    Delivery,
    ElementFacts,
    Meter,
    RangeNotFit,
    ReadingUnclear,
    RoomFacts,
    SensorFacts,
    Sent,
    assess,
)
from readings.element import Tag
from readings.instruments import Range
from readings.sensor import TYPE_II_10K
from readings.sets import Wanted

MAT, PROBE = UUID(int=1), UUID(int=2)
TAG = Tag(ohms=98.0, below=0.05, above=0.1)
ROOM = RoomFacts(
    supply_volts=230.0,
    elements={MAT: ElementFacts(label="mat", tag=TAG, volts=230.0, watts=540.0)},
    sensors={PROBE: SensorFacts(label="probe", curve=TYPE_II_10K)},
)
OHMS = Meter(name="200 Ω", quantity="ohms", range=Range(200, 0.1, 0.5, 2))
KILOHMS = Meter(name="20 kΩ", quantity="ohms", range=Range(20_000, 10, 0.5, 2))
MEGOHMS = Meter(name="500 V", quantity="megohms", range=Range(500, 0.1, 3, 3), test_volts=500)
VOLTS = Meter(name="600 V", quantity="volts", range=Range(600, 0.1, 0.5, 2))
AMPS = Meter(name="10 A", quantity="amps", range=Range(10, 0.01, 1, 3))

SOUND = [
    Sent(kind="element", meter=OHMS, value=98.2, at_c=20),
    Sent(kind="lead_to_ground", meter=OHMS, value=None, lead="A"),
    Sent(kind="lead_to_ground", meter=OHMS, value=None, lead="B"),
    Sent(kind="sensor", meter=KILOHMS, value=12_490, at_c=20),
]


def assessed(sent, stage="laid", room=ROOM, **more):
    return assess(stage, sent, room, taken_on=date(2027, 3, 1), **more)


def test_a_sound_set_passes():
    found = assessed(SOUND)
    assert (found.outcome, found.missing, found.next_steps) == ("pass", (), ())


@pytest.mark.parametrize("without", range(4))
def test_a_set_with_a_gap_is_undecided(without):
    found = assessed(SOUND[:without] + SOUND[without + 1 :])
    assert (found.outcome, len(found.missing)) == ("undecided", 1)
    assert found.missing[0] in found.next_steps[-1]


@pytest.mark.parametrize(
    ("at", "wrong"),
    [
        (0, Sent(kind="element", meter=OHMS, value=52.0, at_c=20)),
        (0, Sent(kind="element", meter=OHMS, value=None, at_c=20)),
        (1, Sent(kind="lead_to_ground", meter=OHMS, value=12.0, lead="A")),
        (3, Sent(kind="sensor", meter=KILOHMS, value=3, at_c=20)),
    ],
    ids=lambda part: getattr(part, "kind", part),
)
def test_one_bad_reading_fails_the_set(at, wrong):
    found = assessed([*SOUND[:at], wrong, *SOUND[at + 1 :]])
    assert found.outcome == "fail"
    assert any("Do not cover. Do not switch on." in step for step in found.next_steps)


def test_a_later_reading_counts_and_an_earlier_visit_fills_a_gap():
    element = Wanted(kind="element", label="mat")
    leads = [(Wanted(kind="lead_to_ground", label="mat", lead=x), "pass") for x in "AB"]
    earlier = {element: "fail", **dict(leads), Wanted(kind="sensor", label="probe"): "pass"}
    assert assessed([], earlier=earlier).outcome == "fail"
    assert assessed(SOUND[:1], earlier=earlier).outcome == "pass"


def test_a_failed_reading_of_an_earlier_visit_is_not_forgotten():
    earlier = {Wanted(kind="sensor", label="probe"): "fail"}
    assert assessed(SOUND[:3], earlier=earlier).outcome == "fail"


def test_nothing_at_all_proves_nothing():
    empty = RoomFacts(supply_volts=230.0, elements={}, sensors={})
    assert assessed([], room=empty).outcome == "undecided"


def test_a_current_needs_its_volts():
    load = Sent(kind="load", meter=AMPS, value=2.34)
    alone = assessed([load], "handover").judged[0].verdict
    assert alone.outcome == "undecided"
    assert "without the volts" in alone.because
    both = assessed([Sent(kind="supply", meter=VOLTS, value=229.8), load], "handover")
    assert [one.verdict.outcome for one in both.judged] == ["pass", "pass"]


def test_insulation_is_judged_by_the_supply():
    low = Sent(kind="insulation", meter=MEGOHMS, value=0.6)
    assert assessed([low]).judged[0].verdict.outcome == "fail"
    safe = RoomFacts(supply_volts=24.0, elements=ROOM.elements, sensors={})
    assert assessed([low], room=safe).judged[0].verdict.outcome == "undecided"


def test_a_sensor_tells_the_temperature_around_it():
    judged = assessed(SOUND).judged[3]
    assert judged.implied_c == pytest.approx(20.0, abs=0.05)
    assert judged.sensor == PROBE


def test_damage_fails_the_arrival():
    delivery = Delivery(found=(Item(name="mat"),), ordered=(Item(name="mat"),), damage=("cut",))
    found = assessed(SOUND, "arrival", delivery=delivery)
    assert found.outcome == "fail"
    assert [one.outcome for one in found.findings] == ["pass", "pass", "fail"]


@pytest.mark.parametrize(
    ("sent", "error", "pointer"),
    [
        (Sent(kind="element", meter=MEGOHMS, value=98), RangeNotFit, "#/readings/4/range"),
        (Sent(kind="insulation", meter=OHMS, value=98), RangeNotFit, "#/readings/4/range"),
        (Sent(kind="supply", meter=VOLTS, value=700), RangeNotFit, "#/readings/4/value"),
        (
            Sent(kind="element", meter=OHMS, value=98, element=UUID(int=9)),
            ReadingUnclear,
            "#/readings/4/element",
        ),
        (
            Sent(kind="sensor", meter=OHMS, value=98, sensor=UUID(int=9)),
            ReadingUnclear,
            "#/readings/4/sensor",
        ),
        (Sent(kind="element", meter=OHMS, value=-1), ValueError, "#/readings/4/reading_ohms"),
    ],
    ids=lambda part: getattr(part, "kind", ""),
)
def test_what_is_unclear_is_refused_with_its_place(sent, error, pointer):
    with pytest.raises(error) as refused:
        assessed([*SOUND, sent])
    assert refused.value.pointer == pointer
