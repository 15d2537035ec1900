"""What a room's cable is like, what that forbids, and which visits meet it."""

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.exposure import (
    ACTIVITIES,
    FORBIDS,
    Covering,
    PlannedVisit,
    conflicts,
    exposure_at,
    windows,
)

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
MONDAY = datetime(2027, 3, 1, 8, tzinfo=UTC)
NOW = MONDAY + 3 * DAY
LAID_AT = MONDAY + DAY
BED = Covering(
    placed_at=MONDAY + 2 * DAY,
    walkable_likely_at=MONDAY + 4 * DAY,
    walkable_latest_at=MONDAY + 6 * DAY,
)


def room(
    *coverings,
    laid_at=LAID_AT,
    laying_planned=False,
    heat_likely_at=MONDAY + 10 * DAY,
    heat_latest_at=MONDAY + 14 * DAY,
    now=NOW,
):
    return windows(
        laid_at=laid_at,
        laying_planned=laying_planned,
        coverings=coverings,
        heat_likely_at=heat_likely_at,
        heat_latest_at=heat_latest_at,
        now=now,
    )


def states(made):
    return [(window.state, window.likely) for window in made]


def visit(starts_at, *activities, hours=4, rooms=("bath",)):
    return PlannedVisit(
        id="plumber",
        rooms=rooms,
        starts_at=starts_at,
        ends_at=starts_at + hours * HOUR,
        activities=activities,
    )


def met(*visits, made, not_before=NOW):
    return conflicts(visits, {"bath": made}, not_before=not_before)


def test_from_nothing_over_bare_and_wet_to_embedded():
    assert states(room(BED)) == [
        ("none", False), ("bare", False), ("wet", True), ("embedded", True), ("embedded", True),
    ]  # fmt: skip
    assert [window.starts_at for window in room(BED)] == [
        None, LAID_AT, BED.placed_at, BED.walkable_likely_at, MONDAY + 10 * DAY,
    ]  # fmt: skip


def test_a_room_without_cable_is_none_for_good():
    (window,) = room(laid_at=None)
    assert (window.state, window.starts_at, window.ends_at) == ("none", None, None)


def test_a_bare_cable_that_nobody_covers_stays_bare():
    bare = room()[-1]
    assert (bare.state, bare.ends_at, bare.over_at) == ("bare", None, None)


def test_planned_laying_is_likely():
    made = room(laid_at=NOW + DAY, laying_planned=True)
    assert states(made) == [("none", True), ("bare", True)]


def test_a_layer_under_the_cable_makes_nothing_wet():
    under = replace(BED, placed_at=MONDAY)
    assert [window.state for window in room(under)] == ["none", "bare"]


def test_a_second_layer_makes_the_floor_wet_again():
    grout = Covering(
        placed_at=MONDAY + 5 * DAY,
        walkable_likely_at=MONDAY + 6 * DAY,
        walkable_latest_at=MONDAY + 7 * DAY,
    )
    made = room(BED, grout)
    assert [window.state for window in made] == [
        "none", "bare", "wet", "embedded", "wet", "embedded", "embedded",
    ]  # fmt: skip


def test_a_layer_that_never_bears_walking_stays_wet():
    frozen = replace(BED, walkable_likely_at=None, walkable_latest_at=None)
    assert room(frozen)[-1].state == "wet"
    assert room(frozen)[-1].ends_at is None


def test_no_heat_until_its_date_then_only_no_fastening():
    cold, warm = room(BED)[-2:]
    assert "switching-on" in cold.forbids
    assert "switching-on" not in warm.forbids
    assert "drilling" in warm.forbids
    assert "walking" not in cold.forbids


@pytest.mark.parametrize("activity", ["cleaning-joints", "fastening", "cutting", "drilling"])
def test_what_goes_into_the_floor_is_forbidden_for_ever(activity):
    for state in ("bare", "wet", "embedded"):
        assert activity in FORBIDS[state]


def test_exposure_now_goes_by_the_likely_ends():
    made = room(BED)
    assert exposure_at(made, MONDAY).state == "none"
    assert exposure_at(made, LAID_AT).state == "bare"
    assert exposure_at(made, BED.walkable_likely_at).state == "embedded"


@given(
    days=st.lists(st.integers(0, 20), max_size=4),
    walk=st.integers(1, 5),
    more=st.integers(0, 5),
    laid=st.integers(0, 20),
)
def test_windows_follow_one_another_without_gap(days, walk, more, laid):
    coverings = [
        Covering(
            placed_at=MONDAY + day * DAY,
            walkable_likely_at=MONDAY + (day + walk) * DAY,
            walkable_latest_at=MONDAY + (day + walk + more) * DAY,
        )
        for day in sorted(set(days))
    ]
    made = room(*coverings, laid_at=MONDAY + laid * DAY)
    assert made[0].starts_at is None
    assert made[-1].ends_at is None
    for before, after in pairwise(made):
        assert before.ends_at == after.starts_at
        assert before.over_at is None or before.over_at >= before.ends_at


def test_a_visit_into_the_bare_window_is_told_with_rule_and_better_time():
    bare = room(now=MONDAY + DAY)
    (conflict,) = met(
        visit(LAID_AT + 5 * HOUR, "walking", "carrying"), made=bare, not_before=MONDAY
    )
    assert conflict.window.state == "bare"
    assert conflict.forbidden == ("walking", "carrying")
    assert "Keep off" in conflict.because
    assert conflict.nearest_start_at == LAID_AT - 4 * HOUR


def test_the_nearest_time_is_after_the_latest_plausible_end_if_before_is_past():
    (bare_and, wet) = met(visit(BED.placed_at - HOUR, "walking"), made=room(BED))
    assert (bare_and.window.state, wet.window.state) == ("bare", "wet")
    assert wet.nearest_start_at == BED.walkable_latest_at


def test_a_likely_end_is_not_trusted():
    soon = visit(BED.walkable_likely_at + HOUR, "walking")
    assert [conflict.window.state for conflict in met(soon, made=room(BED))] == ["wet"]


def test_no_better_time_for_drilling_into_a_laid_floor():
    (conflict, *_) = met(visit(NOW + 20 * DAY, "drilling"), made=room(BED))
    assert conflict.nearest_start_at is None


def test_what_is_not_forbidden_is_no_conflict():
    assert met(visit(NOW + 20 * DAY, "walking", "heating-room"), made=room(BED)) == []
    assert met(visit(MONDAY - DAY, "drilling"), made=room(BED)) == []


def test_a_visit_that_ends_as_the_window_begins_does_not_meet_it():
    assert met(visit(LAID_AT - 4 * HOUR, "walking"), made=room(BED)) == []


def test_a_visit_to_several_rooms_is_free_only_when_all_are():
    hall = room(laid_at=None)
    both = visit(NOW, "walking", rooms=("bath", "hall"))
    found = conflicts([both], {"bath": room(BED), "hall": hall}, not_before=NOW)
    assert [conflict.room for conflict in found] == ["bath"]


def test_a_visit_in_another_zone_across_a_clock_change_is_the_same_instant():
    eastern = datetime.fromisoformat("2027-03-02T08:00:00-05:00")
    assert met(visit(eastern, "walking"), made=room(BED), not_before=MONDAY)


def test_a_thousand_visits_against_five_hundred_rooms_take_under_a_second():
    made = {str(number): room(BED) for number in range(500)}
    visits = [
        visit(MONDAY + number * HOUR, *ACTIVITIES, rooms=(str(number % 500),))
        for number in range(1000)
    ]
    start = time.process_time()
    conflicts(visits, made, not_before=NOW)
    assert time.process_time() - start < 1
