"""The next thing in a room."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from scheduling.nextthing import RoomSoFar, next_thing

NOW = datetime(2027, 3, 10, 7, 0, tzinfo=UTC)
LIKELY = NOW + timedelta(days=3)
PASSED = {"arrival": "pass", "laid": "pass", "covered": "pass"}
EMPTY = RoomSoFar(
    elements=1,
    outcomes={},
    missing={"arrival": 4, "laid": 4, "covered": 3, "handover": 7},
    fault_open=False,
    covered=False,
    layer_to_come=True,
    may_energize=False,
    heated=False,
    step_due=False,
    likely=LIKELY,
    last_temperature_at=None,
)
COVERED = replace(EMPTY, covered=True, layer_to_come=False, outcomes=PASSED)
FRESH = {"last_temperature_at": NOW - timedelta(hours=1)}


@pytest.mark.parametrize(
    ("room", "key", "stage"),
    [
        (replace(EMPTY, elements=0), "record-element", ""),
        (EMPTY, "measure", "arrival"),
        (replace(EMPTY, outcomes={"arrival": "pass"}), "measure", "laid"),
        (replace(EMPTY, outcomes={"arrival": "pass", "laid": "undecided"}), "measure", "laid"),
        (replace(EMPTY, outcomes=PASSED), "place", ""),
        (replace(EMPTY, outcomes=PASSED, layer_to_come=False), "wait", ""),
        (replace(COVERED, outcomes={"laid": "pass"}), "measure", "covered"),
        (COVERED, "thermometer", ""),
        (replace(COVERED, **FRESH), "wait", ""),
        (replace(COVERED, **FRESH, layer_to_come=True), "place", ""),
        (replace(COVERED, **FRESH, may_energize=True), "heat", ""),
        (replace(COVERED, heated=True), "measure", "handover"),
        (replace(COVERED, heated=True, step_due=True), "warm-up", ""),
        (replace(COVERED, heated=True, outcomes=PASSED | {"handover": "pass"}), "nothing", ""),
        (replace(COVERED, outcomes=PASSED | {"laid": "fail"}), "find-fault", ""),
        (replace(COVERED, fault_open=True), "open-fault", ""),
        (replace(EMPTY, fault_open=True), "open-fault", ""),
        (replace(EMPTY, fault_open=True, outcomes={"laid": "fail"}), "find-fault", ""),
    ],
)
def test_the_next_thing(room, key, stage):
    found = next_thing(room, NOW)
    assert (found.key, found.stage) == (key, stage)


def test_it_says_how_many_readings_and_until_when():
    assert next_thing(EMPTY, NOW).readings == 4
    assert next_thing(replace(COVERED, **FRESH), NOW).until == LIKELY


def test_a_temperature_is_asked_for_twice_a_day():
    half_a_day_ago = replace(COVERED, last_temperature_at=NOW - timedelta(hours=12, minutes=1))
    assert next_thing(half_a_day_ago, NOW).key == "thermometer"
