"""Meters and their ranges."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from config.errors import DomainError
from config.etags import change_row
from config.tenancy import told
from jobs.models import Member
from readings.assess import RangeNotFit
from readings.instruments import Range
from readings.models import Instrument, InstrumentRange


class InstrumentThere(DomainError):
    slug = "already-there"


@transaction.atomic
def add_instrument(*, by: Member, ranges: Sequence[Mapping[str, Any]], **fields: Any) -> Instrument:
    """Take a meter in with its ranges; raises InstrumentThere, RangeNotFit, ImplausibleNumber."""
    with told({"instrument_name_once_per_contractor": _there(fields["name"])}):
        instrument = Instrument.objects.create(contractor_id=by.contractor_id, **fields)
    for at, given in enumerate(ranges):
        try:
            add_range(instrument=instrument, **given)
        except DomainError as refused:
            refused.pointer = f"#/ranges/{at}{refused.pointer.removeprefix('#')}"
            raise
    return instrument


@transaction.atomic
def add_range(*, instrument: Instrument, **fields: Any) -> InstrumentRange:
    """Add a range to a meter. Ranges are not edited: readings were judged by them."""
    _check_range(fields)
    taken = InstrumentThere(
        f"{instrument.name} has a range called {fields['name']} already.", pointer="#/name"
    )
    with told({"range_name_once_per_instrument": taken}):
        return InstrumentRange.objects.create(
            contractor_id=instrument.contractor_id, instrument=instrument, **fields
        )


def change_instrument(
    instrument: Instrument, *, version: int, fields: Mapping[str, Any]
) -> Instrument:
    """Change what is given; raises Stale or InstrumentThere."""
    with told({"instrument_name_once_per_contractor": _there(fields.get("name", ""))}):
        return change_row(instrument, version=version, fields=dict(fields))


def _check_range(fields: Mapping[str, Any]) -> None:
    Range(
        fields["full_scale"], fields["resolution"], fields["percent_of_reading"], fields["digits"]
    )
    tests = fields["quantity"] == "megohms"
    if tests != (fields.get("test_volts") is not None):
        raise RangeNotFit(
            "Megohms are read at a test voltage; say which."
            if tests
            else "Only a range that reads megohms has a test voltage.",
            pointer="#/test_volts",
        )


def _there(name: str) -> InstrumentThere:
    return InstrumentThere(
        f"You have a meter called {name} already. Give this one another name.", pointer="#/name"
    )
