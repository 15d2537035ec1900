"""How the certificate words a reading."""

import pytest

from scheduling.proof_table import shown


def reading(**fields):
    return {
        "kind": "element",
        "over_range": False,
        "value": 112.4,
        "meter": {"full_scale": 200.0, "resolution": 0.1},
        "expanded_uncertainty": 1.06,
        "at_c": 20.0,
        **fields,
    }


def test_an_element_is_shown_with_what_the_meter_can_tell():
    assert shown(reading()) == "112.4\xa0±\xa01.1"


@pytest.mark.parametrize("kind", ["load", "sensor"])
def test_what_is_judged_as_something_else_shows_no_foreign_uncertainty(kind):
    # The verdict on a current is about ohms, that on a sensor about its temperature.
    assert "±" not in shown(reading(kind=kind, value=2.06))
