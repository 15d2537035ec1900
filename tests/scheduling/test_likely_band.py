"""The likely band is honest: in simulated houses it holds at its stated rate."""

from datetime import timedelta

import numpy as np
import pytest

from scheduling.band import SHARE, likely_band
from scheduling.cure import Arrhenius, Eurocode2, NurseSaul
from scheduling.floor import room_course
from scheduling.forecast import Promise
from scheduling.moisture import Drying
from scheduling.progress import progress
from tests.scheduling.floors import PLACED_AT, facts, layer, steady

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LAWS = [Arrhenius(), Eurocode2(), NurseSaul(0, 20)]
HOUSES = 120
LONG_DAYS = 60


def house(rng):
    """Hourly temperatures of an invented house: slow weather, a daily swing, a noisy logger.

    How strongly days hang together, how far they step and how much the sun does is drawn anew for
    each, wider than what the band assumes.
    """
    pull, step_k = rng.uniform(0.5, 0.95), rng.uniform(0.4, 2.2)
    mean_c, swing_k = rng.uniform(8, 18), rng.uniform(0.5, 5)
    days = [mean_c + rng.normal() * step_k / np.sqrt(1 - pull**2)]
    for _ in range(LONG_DAYS + 1):
        days.append(mean_c + pull * (days[-1] - mean_c) + step_k * rng.normal())
    hours = np.arange(LONG_DAYS * 24 + 1)
    level = np.interp(hours, 24 * np.arange(len(days)), days)
    sun = swing_k * np.sin((hours - 9) / 24 * 2 * np.pi)
    return np.clip(level + sun + rng.normal(0, 0.3, len(hours)), 1, 40)


def outcome(rng):
    """Whether the date of one house fell before, inside or after its band; None: no such date."""
    celsius = house(rng)
    placed_h = int(rng.integers(0, 8)) * 24
    now_h = placed_h + int(rng.integers(24, 144))
    placed = layer(placed_at=PLACED_AT + placed_h * HOUR, law=LAWS[rng.integers(3)])
    readings = [(PLACED_AT + hour * HOUR, float(c)) for hour, c in enumerate(celsius)]
    then = facts(placed, readings=readings[: now_h + 1], now=PLACED_AT + now_h * HOUR, assume_c=5)
    later = facts(placed, readings=readings, now=PLACED_AT + LONG_DAYS * DAY, assume_c=5)
    band = likely_band(then, placed)
    ready = progress(placed, room_course(later), later).ready
    if band is None or ready is None:
        return None
    if ready < band.from_at:
        return "early"
    return "late" if band.to_at is not None and ready > band.to_at else "inside"


def test_it_holds_at_its_stated_rate():
    rng = np.random.default_rng(2027)
    outcomes = [found for _ in range(HOUSES) if (found := outcome(rng))]
    assert len(outcomes) > 0.85 * HOUSES
    share = outcomes.count("inside") / len(outcomes)
    three_sigma = 3 * np.sqrt(SHARE * (1 - SHARE) / len(outcomes))
    assert SHARE - three_sigma <= share <= SHARE + three_sigma + 0.05
    assert abs(outcomes.count("early") - outcomes.count("late")) / len(outcomes) < 0.12


def band(readings, *, hours=96, **told):
    placed = layer()
    return likely_band(
        facts(placed, readings=readings, now=PLACED_AT + hours * HOUR, **told), placed
    )


def test_the_same_facts_give_the_same_band():
    assert band(steady(12.0, hours=96)) == band(steady(12.0, hours=96)[::-1])


def test_restless_weather_makes_it_wider():
    rng = np.random.default_rng(1)
    restless = [
        (PLACED_AT + hour * HOUR, 12 + 4 * level)
        for day, level in enumerate(rng.normal(size=5))
        for hour in range(24 * day, min(24 * day + 24, 97))
    ]
    calm = band(steady(12.0, hours=96, every_hours=1))
    wild = band(restless)
    assert wild.to_at - wild.from_at > calm.to_at - calm.from_at


def test_a_promise_that_is_kept_leaves_no_doubt():
    now = PLACED_AT + 96 * HOUR
    kept = [Promise(starts_at=now, ends_at=now + 60 * DAY, celsius=18)]
    promised = band(steady(12.0, hours=96), promises=kept)
    assert promised.to_at - promised.from_at < timedelta(minutes=1)


def test_never_before_the_earliest():
    now = PLACED_AT + 96 * HOUR
    warm = band(steady(24.0, hours=96))
    assert warm.from_at >= now + 72 * HOUR


@pytest.mark.parametrize("readings", [[], [(PLACED_AT, 12.0)]])
def test_without_a_day_that_is_known_there_is_none(readings):
    assert band(readings) is None


def test_a_layer_that_has_to_dry_has_its_band_about_that_date():
    placed = layer(drying=Drying(hours=400, reference_c=20, reference_rh_percent=65))
    told = facts(placed, readings=steady(18.0, hours=96), now=PLACED_AT + 96 * HOUR)
    found = likely_band(told, placed)
    assert found.from_at <= progress(placed, room_course(told), told).likely <= found.to_at
    assert found.from_at > band(steady(18.0, hours=96)).to_at


def test_once_ready_there_is_none():
    assert band(steady(20.0, hours=200), hours=200) is None


def test_a_floor_too_cold_has_an_open_end():
    assert band(steady(-9.0, hours=96)).to_at is None
