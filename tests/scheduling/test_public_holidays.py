"""Public holidays by country and part of it; how crews keep them."""

from datetime import date

import pytest

from scheduling.publicholidays import UnknownCountry, public_holidays, require_country


def of_2026(country, subdivision=""):
    return public_holidays(country, subdivision, first=date(2026, 1, 1), last=date(2026, 12, 31))


def test_a_part_of_a_country_keeps_days_of_its_own():
    assumption = date(2026, 8, 15)
    assert assumption in of_2026("DE", "SL")
    assert assumption not in of_2026("DE")


def test_only_the_days_asked_for():
    found = public_holidays("NO", "", first=date(2025, 12, 25), last=date(2026, 1, 1))
    assert sorted(found) == [date(2025, 12, 25), date(2025, 12, 26), date(2026, 1, 1)]


def test_without_a_country_none_are_known():
    assert of_2026("") == {}


@pytest.mark.parametrize(
    ("country", "subdivision", "pointer"),
    [("ZZ", "", "#/country"), ("no", "", "#/country"), ("DE", "XX", "#/subdivision")],
)
def test_an_unknown_country_is_refused(country, subdivision, pointer):
    with pytest.raises(UnknownCountry) as refused:
        require_country(country, subdivision)
    assert refused.value.pointer == pointer
