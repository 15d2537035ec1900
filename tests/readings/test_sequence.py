"""A check as a sequence of steps."""

from uuid import uuid4

import pytest

from readings.assess import ElementFacts, RoomFacts, SensorFacts
from readings.element import Tag
from readings.sequence import next_step, steps
from readings.sets import Wanted
from readings.thermistor import Beta

MAT, PROBE = uuid4(), uuid4()
TAG = Tag(ohms=98.0, below=0.05, above=0.1, celsius=20.0, alpha_per_k=0.0)
ROOM = RoomFacts(
    supply_volts=230.0,
    elements={MAT: ElementFacts(label="M1", tag=TAG, volts=230.0, watts=540.0)},
    sensors={PROBE: SensorFacts(label="S1", curve=Beta(ref_ohms=10e3, ref_c=25.0, beta_k=3950))},
)


def kinds(stage, taken=()):
    return [(step.kind, step.lead) for step in steps(stage, ROOM, taken)]


def test_one_measures_the_core_then_each_lead_then_the_sensor():
    assert kinds("laid") == [
        ("element", ""),
        ("lead_to_ground", "A"),
        ("lead_to_ground", "B"),
        ("sensor", ""),
    ]


def test_volts_are_read_with_the_amperes_and_are_no_step():
    assert [kind for kind, _ in kinds("handover")][-2:] == ["sensor", "load"]


def test_a_current_of_any_element_is_the_current():
    taken = [(Wanted(kind="load", label="M1"), "pass")]
    assert steps("handover", ROOM, taken)[-1].outcome == "pass"


def test_each_step_knows_what_it_measures():
    first, *_, last = steps("laid", ROOM, [])
    assert (first.element, first.sensor) == (MAT, None)
    assert (last.element, last.sensor) == (None, PROBE)


def test_the_latest_reading_counts():
    core = Wanted(kind="element", label="M1")
    found = steps("laid", ROOM, [(core, "undecided"), (core, "pass")])
    assert found[0].outcome == "pass"


def test_a_test_at_voltage_stands_for_the_looks_at_the_leads():
    tested = [(Wanted(kind="insulation", label="M1"), "pass")]
    assert [step.outcome for step in steps("laid", ROOM, tested)] == [None, "pass", "pass", None]


@pytest.mark.parametrize(
    ("outcomes", "after", "number"),
    [
        ([None, None, None, None], 0, 1),
        (["pass", None, None, None], 1, 2),
        (["pass", "pass", "pass", None], 2, 4),
        ([None, "pass", "pass", "pass"], 4, 1),  # what was left out comes back
        (["undecided", "pass", "pass", "pass"], 4, 1),
        (["undecided", "pass", None, "pass"], 0, 3),  # not measured comes before not decided
    ],
)
def test_the_next_step(outcomes, after, number):
    wanted = [
        Wanted(kind="element", label="M1"),
        Wanted(kind="lead_to_ground", label="M1", lead="A"),
        Wanted(kind="lead_to_ground", label="M1", lead="B"),
        Wanted(kind="sensor", label="S1"),
    ]
    taken = [(one, outcome) for one, outcome in zip(wanted, outcomes, strict=True) if outcome]
    assert next_step(steps("laid", ROOM, taken), after=after).number == number


def test_nothing_is_left_when_all_passed():
    wanted = [
        Wanted(kind="element", label="M1"),
        Wanted(kind="insulation", label="M1"),
        Wanted(kind="sensor", label="S1"),
    ]
    assert next_step(steps("laid", ROOM, [(one, "pass") for one in wanted])) is None
