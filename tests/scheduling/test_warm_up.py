"""The stepped first heating: never above a limit, one step after the other."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.warmup import (
    GENTLE,
    SCREED,
    ImplausibleWarmUp,
    Profile,
    calendar_entries,
    first_heating_days,
    floor_limit_c,
    floor_minus_room_k,
    heat_output_w_m2,
    highest_floor,
    stop_because,
    warm_up,
)

OSLO = ZoneInfo("Europe/Oslo")
START = datetime(2027, 3, 10, 8, tzinfo=OSLO)


def steps(highest_c, *, profile=GENTLE, counting="elapsed"):
    return warm_up(
        starts_at=START, zone=OSLO, profile=profile, highest_c=highest_c, counting=counting
    )


def test_start_rise_and_hold():
    assert [step.floor_c for step in steps(29)] == [18, 21, 24, 27, 29]
    assert steps(29)[0].starts_at == START
    assert steps(29)[-1].ends_at == START + timedelta(days=6)


def test_a_limit_below_the_start_is_kept_from_the_start():
    assert [step.floor_c for step in steps(16)] == [16, 16]


@given(
    highest_c=st.floats(10, 40),
    first_c=st.floats(10, 30),
    step_k=st.none() | st.floats(0.5, 10),
    counting=st.sampled_from(["elapsed", "calendar"]),
)
def test_steps_follow_one_another_and_never_exceed_the_limit(highest_c, first_c, step_k, counting):
    profile = Profile(first_c=first_c, first_days=1, step_k=step_k, hold_days=2, source="test")
    made = steps(highest_c, profile=profile, counting=counting)
    assert max(step.floor_c for step in made) == highest_c
    assert [step.number for step in made] == list(range(1, len(made) + 1))
    for before, after in pairwise(made):
        assert before.ends_at == after.starts_at
        assert before.floor_c <= after.floor_c


@pytest.mark.parametrize(
    ("covering", "printed", "limit_c", "words"),
    [
        ("tile", (), 29, "occupied"),
        ("wood", (), 27, "wood"),
        ("seagrass", (), 27, "seagrass"),
        ("tile", [("mat", 26.0)], 26, "mat"),
    ],
)
def test_the_lowest_limit_rules_and_says_which_it_is(covering, printed, limit_c, words):
    limit = highest_floor(zone="occupied", room_c=20, covering=covering, printed_c=printed)
    assert limit.celsius == limit_c
    assert words in limit.because


def test_a_reading_can_stop_it():
    step = steps(29)[1]
    assert stop_because(step, floor_c=21.5, highest_c=29) is None
    assert "control" in stop_because(step, floor_c=24.1, highest_c=29)
    assert "limit" in stop_because(step, floor_c=29.5, highest_c=29)
    assert "failed" in stop_because(step, floor_c=21, highest_c=29, evidence_failed=True)


@pytest.mark.parametrize(
    ("likely", "told", "title"),
    [
        (True, {}, "Bath: floor at 18 °C, likely"),
        (False, {"system": "imperial"}, "Bath: floor at 64 °F"),
        (False, {"language": "es"}, "Bath: piso a 18 °C"),
    ],
)
def test_its_steps_are_entries_of_a_calendar(likely, told, title):
    limit = highest_floor(zone="occupied", room_c=20, covering="wood")
    made = steps(limit.celsius)
    entries = calendar_entries(made, room="Bath", limit=limit, likely=likely, **told)
    assert entries[0].title == title
    assert [(each.starts_at, each.ends_at) for each in entries] == [
        (step.starts_at, step.ends_at) for step in made
    ]
    assert len({each.key for each in entries}) == len(made)
    assert ("electrician" in entries[0].text) or ("electricista" in entries[0].text)


@given(excess_k=st.floats(0, 60))
def test_output_and_its_inverse(excess_k):
    assert floor_minus_room_k(heat_output_w_m2(excess_k)) == pytest.approx(excess_k, abs=1e-9)


@pytest.mark.parametrize(
    "nonsense",
    [
        lambda: heat_output_w_m2(-1),
        lambda: heat_output_w_m2(float("nan")),
        lambda: floor_minus_room_k(-1),
        lambda: floor_minus_room_k(1e9),
        lambda: floor_limit_c("garden", 20),
        lambda: floor_limit_c("bathroom", 200),
        lambda: first_heating_days("grout"),
        lambda: steps(float("nan")),
        lambda: warm_up(
            starts_at=START.replace(tzinfo=None), zone=OSLO, profile=SCREED, highest_c=29
        ),
    ],
)
def test_nonsense_is_refused_with_a_reason(nonsense):
    with pytest.raises(ValueError, match=r"\w") as refused:
        nonsense()
    assert isinstance(refused.value, ImplausibleWarmUp)


def test_it_is_counted_in_real_hours_across_a_clock_change():
    spring = datetime(2027, 3, 27, 8, tzinfo=OSLO)
    made = warm_up(starts_at=spring, zone=OSLO, profile=SCREED, highest_c=29)
    length = made[-1].ends_at.astimezone(UTC) - spring.astimezone(UTC)
    assert length == timedelta(days=7)
