"""Faults on the record: kept from what was worked out, seen on the plan, voided."""

import re
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from readings.models import FaultFound
from tests.factories import FaultFoundFactory
from tests.pages.test_no_english import english
from tests.pages.test_rooms import FAULT, METRIC, words, world  # noqa: F401 - a fixture

KEPT = {
    "method": "bridge", "construction": "single", "measured_from": "A", "fraction": "40",
    "tolerance": "2", "loop_ohms": "", "found_at": "2026-03-12T09:00", "note": "",
    "client_id": "7d6f1a52-57a5-4ad5-9f5e-3f2c1d6b8a90",
}  # fmt: skip


@pytest.fixture
def fault(world, finn):  # noqa: F811
    def made(**more):
        element = world.bathroom.elements.get()
        own = {"contractor": finn.contractor, "element": element, "found_by": finn}
        return FaultFoundFactory(**own, **more)

    return made


def crosses(page):
    """Bands and crosses of faults on the plan."""
    return page.content.decode().count('class="fault"')


def test_what_was_worked_out_is_kept_and_stands_on_the_plan(api, finn, vera, world):  # noqa: F811
    element = world.bathroom.elements.get()
    asked = FAULT | {"element": element.pk, "range": world.meter.pk}
    found = api(finn).get(f"/rooms/{world.bathroom.pk}/fault/", asked)
    (keep,) = re.findall(r'href="([^"]*/fault/found/\?[^"]*)"', found.content.decode())
    assert (
        "/fault/found/?" not in api(vera).get(found.wsgi_request.get_full_path()).content.decode()
    )
    filled = {name: one for name, (one,) in parse_qs(urlsplit(unescape(keep)).query).items()}
    assert filled["fraction"] == "40.0000"
    form = api(finn).get(unescape(keep)).content.decode()
    assert all(f'value="{filled[name]}"' in form for name in ("fraction", "tolerance", "loop_ohms"))
    kept = api(finn).post(unescape(keep), KEPT | filled, format="multipart", follow=True)
    assert "The fault is kept" in words(kept)
    row = FaultFound.objects.get()
    assert (row.fraction, row.loop_ohms, row.measured_from) == (0.4, 100, "A")
    for page in (kept, api(vera).get(f"/rooms/{world.bathroom.pk}/")):
        said = words(page)
        assert crosses(page) == 2  # its band and its cross
        assert re.search(r"Fault likely F: [\d.]+ m from the splice, between", said)
        assert "isolate and prove dead" in said
        # The row of the table: metres of cable, to the right and into the room.
        assert re.search(
            r"F Fault likely [\d.]+ m from the splice \([\d.]+ to [\d.]+ m\) [\d ]+ [\d ]+", said
        )


def test_both_candidates_stand_on_the_plan_and_name_each_other(api, olive, world, fault):  # noqa: F811
    fault(construction="twin-return", measured_from="unknown")
    page = api(olive).get(f"/rooms/{world.bathroom.pk}/")
    said = words(page)
    assert crosses(page) == 4
    assert "Fault likely at one of 2 places" in said
    assert "or at F2" in said
    assert "or at F1" in said


def test_the_faults_of_a_room_are_listed_with_what_became_of_them(api, olive, world, fault):  # noqa: F811
    standing = fault(note="Beside the bath.")
    fault(voided_at=standing.found_at, voided_by=olive, void_reason="The leads were swapped.")
    page = api(olive).get(f"/rooms/{world.bathroom.pk}/")
    assert crosses(page) == 2
    assert re.search(r"Faults found Open .* Voided", words(page))
    address = f"/faults/{standing.pk}/"
    assert "Beside the bath." in words(api(olive).get(address))
    voided = api(olive).post(
        f"{address}void/", {"reason": "It was the meter."}, format="multipart", follow=True
    )
    assert "It was the meter." in words(voided)
    assert f"{address}void/" not in voided.content.decode()
    assert crosses(api(olive).get(f"/rooms/{world.bathroom.pk}/")) == 0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"fraction": "120"}, "Type a number from 0 to 100."),
        ({"tolerance": "0"}, "Type a number from 0.0001 to 50."),
        ({"method": "core_to_core"}, "no second core"),
        ({"found_at": "2190-01-01T00:00"}, "still to come"),
    ],
    ids=str,
)
def test_what_cannot_be_kept_is_said_and_stays_typed(api, finn, world, change, says):  # noqa: F811
    body = KEPT | {"element": world.bathroom.elements.get().pk} | change
    refused = api(finn).post(f"/rooms/{world.bathroom.pk}/fault/found/", body, format="multipart")
    assert (refused.status_code, says in words(refused)) == (422, True)
    assert 'value="2026-03-12T09:00"' in refused.content.decode() or "found_at" in change
    assert FaultFound.objects.count() == 0


def test_without_a_drawing_there_is_no_place_to_keep(api, finn, world):  # noqa: F811
    body = KEPT | {"element": world.kitchen.elements.get().pk}
    refused = api(finn).post(f"/rooms/{world.kitchen.pk}/fault/found/", body, format="multipart")
    assert (refused.status_code, "No drawing of this room shows M1" in words(refused)) == (
        422,
        True,
    )


def test_faults_cost_the_page_of_a_room_one_query(api, olive, world, fault):  # noqa: F811
    client, asked = api(olive), []
    for number in (0, 1, 3):
        for _ in range(number):
            fault()
        with CaptureQueriesContext(connection) as queries:
            assert client.get(f"/rooms/{world.bathroom.pk}/").status_code == 200
        asked.append(len(queries))
    assert [more - asked[0] for more in asked] == [0, 1, 1]


def test_a_fault_is_said_in_the_readers_language_and_units(api, olive, world, fault):  # noqa: F811
    world.job.units = "imperial"
    world.job.save()
    row = fault(measured_from="unknown")
    olive.language = "es"
    olive.save()
    for address in (f"/rooms/{world.bathroom.pk}/", f"/faults/{row.pk}/"):
        page = api(olive).get(address, HTTP_ACCEPT_LANGUAGE="es")
        said = words(page)
        assert english(page) == set()
        assert METRIC.findall(said.replace("Mat 3.1 m²", "Mat")) == []
        assert re.search(r"F1: A \d+′.* del empalme", said)
