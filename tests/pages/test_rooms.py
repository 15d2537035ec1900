"""Pages of one room: ways to lay it, what was laid, what it needs."""

import re
from html import unescape

import pytest

from jobs import tasks
from jobs.models import LayingPlan, LayingSearch, Room
from tests.factories import LayingSearchFactory, MaterialFactory, RoomFactory
from tests.jobs.test_api_room_plans import CABLE_ID, CABLE_SPEC
from tests.pages.world import build


def words(response):
    text = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", response.content.decode(), flags=re.DOTALL)
    return " ".join(unescape(text).split())


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


@pytest.fixture
def bath(alder):
    """A small bathroom with its control right of the door, and one cable to choose."""
    MaterialFactory(pk=CABLE_ID, contractor=alder, kind="element", name="C-22", element=CABLE_SPEC)
    return RoomFactory(
        contractor=alder,
        name="Bath",
        outline=[[0, 0], [1700, 0], [1700, 2400], [0, 2400]],
        control_mm=[1700, 300],
        door_mm=[[200, 0], [1000, 0]],
    )


@pytest.fixture(scope="module")
def found():
    """What a worker found once: the same search need not run for each test."""
    return {}


@pytest.fixture
def searched(api, finn, bath, found):
    at = f"/rooms/{bath.pk}/plans/"
    asked = api(finn).post(at, {"may_use": "1"}, format="multipart")
    assert asked.status_code == 302, words(asked)
    search = LayingSearch.objects.get()
    if found:
        LayingSearch.objects.filter(pk=search.pk).update(**found)
    else:
        tasks.lay_room(str(search.pk))
        found |= LayingSearch.objects.values("found", "finished_at", "claimed_at").get()
    return LayingSearch.objects.get()


def test_without_an_element_the_catalogue_is_asked_for(api, olive, alder):
    room = RoomFactory(contractor=alder)
    assert "no heating element yet" in words(api(olive).get(f"/rooms/{room.pk}/plans/"))


def test_a_room_that_is_not_ready_is_told_on_its_page(api, olive, bath):
    Room.objects.filter(pk=bath.pk).update(control_mm=None)
    page = api(olive).post(f"/rooms/{bath.pk}/plans/", {"may_use": "1"}, format="multipart")
    assert (page.status_code, "where the control sits" in words(page)) == (422, True)


def test_a_search_tells_how_far_it_is(api, olive, bath, real_now):
    search = LayingSearchFactory(
        contractor=bath.contractor, room=bath, asked_by=olive, asked_at=real_now,
        problem={"elements": [{}, {}]},
    )  # fmt: skip
    page = api(olive).get(f"/rooms/{bath.pk}/plans/")
    assert "Waits for a worker." in words(page)
    assert 'hx-trigger="every 2s"' in page.content.decode()
    LayingSearch.objects.filter(pk=search.pk).update(claimed_at=real_now)
    part = api(olive).get(f"/laying-searches/{search.pk}/", HTTP_HX_REQUEST="true")
    assert "Looking among 2 elements for" in words(part)
    assert b"<html" not in part.content
    whole = api(olive).get(f"/laying-searches/{search.pk}/")
    assert whole["Location"] == f"/rooms/{bath.pk}/plans/"


def test_the_best_so_far_is_seen_while_a_worker_looks(api, olive, searched):
    LayingSearch.objects.update(finished_at=None)
    part = api(olive).get(f"/laying-searches/{searched.pk}/", HTTP_HX_REQUEST="true")
    assert re.search(r"Best so far: \d\d % of the heatable floor", words(part))


def test_ways_are_compared_and_one_is_kept(api, finn, bath, searched):
    page = words(api(finn).get(f"/rooms/{bath.pk}/plans/"))
    for said in ("Warm floor", "Stays cold", "Turns", "C-22", "22 m, 220 W", "What it gives up"):
        assert said in page
    at = f"/laying-searches/{searched.pk}/"
    wrong = api(finn).post(at, {"choice": "9"}, format="multipart")
    assert (wrong.status_code, "Choose one of the ways" in words(wrong)) == (422, True)
    kept = api(finn).post(at, {"choice": "0"}, format="multipart")
    assert kept["Location"] == f"/rooms/{bath.pk}/"
    assert LayingPlan.objects.get().plan == searched.found[0]["plan"]


def test_a_way_that_no_longer_fits_is_refused_with_the_rule(api, finn, bath, searched):
    Room.objects.filter(pk=bath.pk).update(margins_mm={"wall": 300}, version=2)
    assert "was changed after this search" in words(api(finn).get(f"/rooms/{bath.pk}/plans/"))
    refused = api(finn).post(
        f"/laying-searches/{searched.pk}/", {"choice": "0"}, format="multipart"
    )
    assert (refused.status_code, "leaves the heatable area" in words(refused)) == (422, True), words(refused)
    assert not LayingPlan.objects.exists()


def at_as_laid(world):
    return f"/rooms/{world.bathroom.pk}/as-laid/"


def test_as_laid_needs_a_plan(api, finn, world):
    page = api(finn).get(f"/rooms/{world.kitchen.pk}/as-laid/")
    assert "There is no plan of this floor yet" in words(page)


def typed(page):
    """What the form has in its fields, as a browser sends it back."""
    inputs = re.findall(r'<input type="text" name="([^"]+)"(?: value="([^"]*)")?', page)
    return {name: unescape(value) for name, value in inputs}


def test_marks_that_were_moved_are_listed_and_kept(api, finn, world):
    form = typed(api(finn).get(at_as_laid(world)).content.decode())
    assert form["sensor-0-right"] == "1500"
    form |= {"sensor-0-right": "1400", "run-0-2-into": "20", "tolerance": "50"}
    before = LayingPlan.objects.count()
    shown = api(finn).post(at_as_laid(world), form | {"show": "1"}, format="multipart")
    said = words(shown)
    assert "Sensor lies 100 mm from the plan." in said
    assert "Run 2 lies 20 mm from the plan." in said
    assert LayingPlan.objects.count() == before
    kept = api(finn).post(at_as_laid(world), form, format="multipart")
    assert kept.status_code == 302, words(kept)
    row = LayingPlan.objects.order_by("-pk").first()
    assert (row.plan["sensor"], row.tolerance_mm) == ([1400, 487], 50)
    assert "true to ±50" in words(api(finn).get(kept["Location"]))


def test_a_joint_off_the_wire_is_refused_where_it_was_typed(api, finn, world):
    form = typed(api(finn).get(at_as_laid(world)).content.decode())
    form |= {"joint-0-right": "200", "joint-0-into": "2300"}
    page = api(finn).post(at_as_laid(world), form, format="multipart")
    assert (page.status_code, "Move the run first" in words(page)) == (422, True)


def test_the_grips_say_which_fields_they_write(api, finn, world):
    page = api(finn).get(at_as_laid(world)).content.decode()
    assert 'data-key="sensor-0"' in page
    assert 'data-x="sensor-0-right" data-y="sensor-0-into" data-at="1500 487"' in page
    assert 'data-key="run-0-1"' in page
