"""Rooms as lanes: each state where its days lie, what is likely told from what is known."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.exposure import Covering, windows
from scheduling.lanes import WIDTH, lanes

NOW = datetime(2027, 3, 10, 7, 0, tzinfo=UTC)
DAY = timedelta(days=1)
OSLO = ZoneInfo("Europe/Oslo")


def covered(laid_days, placed_days, walk_days, heat_days):
    """Windows of a room by days from now."""
    cover = Covering(
        placed_at=NOW + placed_days * DAY,
        walkable_likely_at=NOW + walk_days * DAY,
        walkable_latest_at=NOW + walk_days * DAY,
    )
    return windows(
        laid_at=NOW + laid_days * DAY,
        laying_planned=laid_days > 0,
        coverings=[cover],
        heat_likely_at=NOW + heat_days * DAY,
        heat_latest_at=NOW + heat_days * DAY,
        now=NOW,
    )


def test_a_floor_goes_from_bare_to_warm_along_its_lane():
    drawn = lanes([("Kitchen", covered(-6, -4, -2, 5))], now=NOW, zone=OSLO)
    (lane,) = drawn.lanes
    assert [(each.state, each.to_come, each.begins) for each in lane.stretches] == [
        ("none", False, True),
        ("bare", False, True),
        ("wet", False, True),
        ("embedded", False, True),
        ("embedded", True, False),
        ("cleared", True, True),
    ]
    # A day before the laying to a day after heat: 13 days, and now is the seventh of them.
    assert drawn.now_x == pytest.approx(WIDTH * 7 / 13)
    assert lane.stretches[1].x == pytest.approx(WIDTH * 1 / 13)
    assert lane.stretches[1].wide == pytest.approx(WIDTH * 2 / 13)


def test_ticks_are_midnights_of_the_place_and_name_a_month_once():
    drawn = lanes([("Kitchen", covered(-6, -4, -2, 5))], now=NOW, zone=OSLO)
    midnight = datetime(2027, 3, 4, 0, 0, tzinfo=OSLO)
    hours = (midnight - (NOW - 7 * DAY)) / timedelta(hours=1)
    assert drawn.ticks[0] == (pytest.approx(WIDTH * hours / (13 * 24)), "4 Mar")
    assert drawn.ticks[1][1].isdigit()


def test_a_word_stands_only_where_it_fits():
    drawn = lanes([("Kitchen", covered(-6, -4, -2, 5))], now=NOW, zone=OSLO)
    bare = drawn.lanes[0].stretches[1]
    assert bare.fits_mark
    assert not bare.fits_word("a long word for it")


turns = st.lists(st.integers(-60, 60), min_size=4, max_size=4).map(sorted)


@given(rooms=st.lists(turns, min_size=1, max_size=4))
def test_lanes_are_full_and_nothing_overlaps(rooms):
    drawn = lanes([(str(n), covered(*days)) for n, days in enumerate(rooms)], now=NOW, zone=OSLO)
    assert 0 < drawn.now_x < WIDTH
    for lane in drawn.lanes:
        at = 0.0
        for stretch in lane.stretches:
            assert stretch.x == pytest.approx(at, abs=1e-6)
            assert stretch.wide > 0
            assert stretch.to_come == (stretch.x >= drawn.now_x - 1e-6)
            at = stretch.x + stretch.wide
        assert at == pytest.approx(WIDTH, abs=1e-6)
    assert [lane.y for lane in drawn.lanes] == sorted({lane.y for lane in drawn.lanes})
