"""The public holidays that a contractor's crews keep, by country and part of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache

import holidays

from config.errors import DomainError


class UnknownCountry(DomainError):
    """A country, or a part of one, whose public holidays nobody here knows."""

    slug = "unknown-country"


def public_holidays(
    country: str, subdivision: str, *, first: date, last: date
) -> Mapping[date, str]:
    """Days off from `first` to `last`, both included, with their names; none without a country.

    `country` is of ISO 3166-1 (two letters), `subdivision` of ISO 3166-2 without the country's
    part. A holiday that falls on a weekend is off on the day on which it is observed, where the
    country does that. Raises UnknownCountry. Source: the `holidays` library.
    """
    if not country:
        return {}
    return {
        day: name
        for year in range(first.year, last.year + 1)
        for day, name in _of_year(country, subdivision, year).items()
        if first <= day <= last
    }


def require_country(country: str, subdivision: str) -> None:
    """Raise UnknownCountry, pointing at the field that is not known."""
    known = holidays.list_supported_countries()
    if country and country not in known:
        raise UnknownCountry(
            f"The public holidays of {country} are not known. Write two letters, such as NO or US, "
            "or leave it empty.",
            pointer="#/country",
        )
    parts = known.get(country, [])
    if subdivision and subdivision not in parts:
        names = ", ".join(parts) or "none"
        raise UnknownCountry(
            f"{country or 'No country'} has no part {subdivision}; known are {names}.",
            pointer="#/subdivision",
        )


@cache
def _of_year(country: str, subdivision: str, year: int) -> Mapping[date, str]:
    require_country(country, subdivision)
    return dict(holidays.country_holidays(country, subdiv=subdivision or None, years=year))
