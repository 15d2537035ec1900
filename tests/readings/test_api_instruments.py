from datetime import date

import pytest
from django.urls import reverse

from tests.factories import ElementFactory, InstrumentFactory, InstrumentRangeFactory

URL = "/api/v1/instruments/"
RANGE = {
    "name": "200 Ω",
    "quantity": "ohms",
    "full_scale": 200,
    "resolution": 0.1,
    "percent_of_reading": 0.5,
    "digits": 2,
}


def test_a_meter_comes_with_its_ranges(api, finn):
    made = api(finn).post(URL, {"name": "Bench meter", "ranges": [RANGE]})
    assert made.status_code == 201
    assert made["ETag"] == '"1"'
    row = api(finn).get(f"{URL}{made.json()['id']}/").json()
    assert row["ranges"] == [{**RANGE, "id": row["ranges"][0]["id"], "test_volts": None}]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"full_scale": 0}, "#/ranges/0/full_scale"),
        ({"resolution": 500}, "#/ranges/0/resolution_ohms"),
        ({"percent_of_reading": -1}, "#/ranges/0/percent_of_reading"),
        ({"test_volts": 500}, "#/ranges/0/test_volts"),
        ({"quantity": "megohms"}, "#/ranges/0/test_volts"),
        ({"quantity": "henries"}, "#/ranges/0/quantity"),
    ],
    ids=repr,
)
def test_a_range_that_is_none_is_refused_and_nothing_is_kept(api, finn, problem, change, pointer):
    body = {"name": "Bench meter", "ranges": [{**RANGE, **change}]}
    refused = problem(api(finn).post(URL, body))
    assert (refused["status"], refused["errors"][0]["pointer"]) == (422, pointer)
    assert api(finn).get(URL).json()["results"] == []


def test_names_are_taken_once(api, finn, problem):
    client = api(finn)
    first = client.post(URL, {"name": "Bench meter", "ranges": [RANGE]}).json()
    assert problem(client.post(URL, {"name": "Bench meter"}))["status"] == 409
    ranges = f"{URL}{first['id']}/ranges/"
    assert problem(client.post(ranges, RANGE))["status"] == 409
    assert client.post(ranges, {**RANGE, "name": "2 kΩ", "full_scale": 2000}).status_code == 201


def test_a_meter_is_changed_under_its_version_and_retired(api, finn, now):
    client = api(finn)
    made = client.post(URL, {"name": "Bench meter"}).json()
    row = f"{URL}{made['id']}/"
    changed = client.patch(row, {"retired_at": now.isoformat()}, headers={"If-Match": '"1"'})
    assert changed.status_code == 200
    assert client.patch(row, {"name": "x"}, headers={"If-Match": '"1"'}).status_code == 412
    assert client.get(URL).json()["results"] == []
    assert len(client.get(URL, {"retired": "true"}).json()["results"]) == 1
    assert client.post(URL, {"name": "Bench meter"}).status_code == 201


def test_suitable_ranges_are_told_before_anything_is_read(api, finn, alder):
    element = ElementFactory(contractor=alder, tag_ohms=12.0)
    fine = InstrumentFactory(contractor=alder, name="Fine")
    late = InstrumentFactory(contractor=alder, name="Late", calibration_due_on=date(2020, 1, 1))
    InstrumentRangeFactory(contractor=alder, instrument=fine)
    InstrumentRangeFactory(
        contractor=alder, instrument=fine, name="2 kΩ", full_scale=2000, resolution=1
    )
    InstrumentRangeFactory(contractor=alder, instrument=late)
    rows = api(finn).get(reverse("api-suitable-ranges", kwargs={"element_id": element.pk})).json()
    assert [(r["instrument_name"], r["range_name"], r["suits"]) for r in rows] == [
        ("Fine", "200 Ω", True),
        ("Late", "200 Ω", False),
        ("Fine", "2 kΩ", False),
    ]
    assert "No reading on it can pass" in rows[2]["because"]
    assert "Calibration fell due" in rows[1]["because"]


def test_generic_curves_are_listed_and_found(api, finn):
    client, url = api(finn), reverse("api-sensor-curves")
    everything = client.get(url).json()
    assert len(everything) > 10
    assert all(len(curve["points"]) > 5 and curve["source"] for curve in everything)
    found = client.get(url, {"ohms": 36_000, "at_c": 8}).json()
    assert {curve["key"] for curve in found} == {"15k-3740"}
    assert client.get(url, {"ohms": 36_000}).status_code == 422
