"""Floor limits and heat output against published values (FT)."""

import pytest

from jobs.units import fahrenheit, fahrenheit_difference
from scheduling.warmup import COVERING_LIMIT_C, floor_limit_c, floor_minus_room_k, heat_output_w_m2


@pytest.mark.parametrize(
    ("zone", "room_c", "limit_c"),
    [("occupied", 20, 29), ("edge", 20, 35), ("bathroom", 24, 33)],
    ids=["FT-1-occupied", "FT-1-edge", "FT-1-bathroom"],
)
def test_FT_1_highest_floor_surface(zone, room_c, limit_c):
    """UNI EN 1264 as summed up by a radiant-heating design page (seen)."""
    assert floor_limit_c(zone, room_c) == limit_c


@pytest.mark.parametrize(
    ("excess_k", "output"), [(9, 100.01), (15, 175.41)], ids=["FT-2-9K", "FT-2-15K"]
)
def test_FT_2_output_of_a_warm_floor(excess_k, output):
    """EN 1264-2 basic characteristic, also ISO 11855-2:2021 eq. 1 (seen in two libraries)."""
    assert heat_output_w_m2(excess_k) == pytest.approx(output, abs=0.01)
    assert floor_minus_room_k(heat_output_w_m2(excess_k)) == pytest.approx(excess_k, rel=1e-12)


@pytest.mark.parametrize(
    ("celsius", "shown"), [(29, 84.2), (33, 91.4), (35, 95.0), (27, 80.6)], ids="FT-3-{}".format
)
def test_FT_3_in_fahrenheit(celsius, shown):
    """NIST SP 811."""
    assert fahrenheit(celsius) == pytest.approx(shown, abs=1e-9)


def test_FT_3_a_difference_has_no_32():
    """NIST SP 811: 9 K is 16.2 °F, not 48.2."""
    assert fahrenheit_difference(9) == pytest.approx(16.2, abs=1e-9)


def test_FT_4_wood():
    """Guidelines for wood and cork over floor heating (seen); the maker's print rules."""
    assert COVERING_LIMIT_C["wood"] == 27
