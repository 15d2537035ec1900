"""Pages of one room: ways to lay it, what was laid, what it needs."""

import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs import tasks
from jobs.actions import laying
from jobs.models import LayingPlan, LayingSearch, Room
from tests.factories import (
    CheckFactory,
    ElementFactory,
    LayerFactory,
    LayingSearchFactory,
    MaterialFactory,
    PromiseFactory,
    RoomFactory,
    VisitFactory,
)
from tests.jobs.test_api_room_plans import CABLE_ID, CABLE_SPEC
from tests.pages.world import build

MOST_QUERIES = 12


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


def test_a_search_is_stopped_with_the_best_so_far(api, finn, vera, bath, searched, real_now):
    page, ways = f"/rooms/{bath.pk}/plans/", f"/laying-searches/{searched.pk}/"
    LayingSearch.objects.update(finished_at=None)
    assert "Stop and keep the best" in words(api(finn).get(page))
    assert api(vera).post(ways, {"stop": "1"}, format="multipart").status_code == 403
    assert api(finn).post(ways, {"stop": "1"}, format="multipart")["Location"] == page
    assert "It ends with the best it has." in words(api(finn).get(page))
    search = LayingSearch.objects.get()
    with CaptureQueriesContext(connection) as asked:
        laying.look_for_ways(search, at=real_now)
    assert any('"stop_asked_at" IS NOT NULL' in query["sql"] for query in asked)
    assert LayingSearch.objects.get().found == searched.found


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
    assert (refused.status_code, "leaves the heatable area" in words(refused)) == (422, True), (
        words(refused)
    )
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


def test_the_survey_opens_each_question_to_its_answer(api, olive, finn, world):
    at = f"/rooms/{world.bathroom.pk}/survey/"
    page = words(api(olive).get(at))
    assert "What is the substrate?" in page
    assert "What is the substrate?" in words(api(finn).get(at))
    form = typed(api(olive).get(at).content.decode())
    form |= {"version": world.bathroom.version, "substrate": "concrete", "substrate_dry": "yes",
             "layers": "mortar 8\ntile 10", "door_gap_mm": "25", "supplied_element": "customer",
             "control_height_mm": "1.1 m"}  # fmt: skip
    kept = api(olive).post(at, form, format="multipart")
    assert kept.status_code == 302, words(kept)
    facts = Room.objects.get(pk=world.bathroom.pk).survey
    assert facts["layers"] == [{"use": "mortar", "mm": 8}, {"use": "tile", "mm": 10}]
    assert (facts["substrate"], facts["substrate_dry"]) == ("concrete", True)
    assert (facts["control_height_mm"], facts["supplied_by"]) == (1100, {"element": "customer"})
    assert "18 mm: mortar 8 mm + tile 10 mm" in words(api(olive).get(at))
    stale = api(olive).post(at, form, format="multipart")
    assert (stale.status_code, "Read it again" in words(stale)) == (422, True)


def test_a_layer_that_is_none_is_told_with_its_line(api, olive, world):
    at = f"/rooms/{world.bathroom.pk}/survey/"
    form = {"version": world.bathroom.version, "layers": "mortar 8\nmortar"}
    page = api(olive).post(at, form, format="multipart")
    assert (page.status_code, "Line 2 is no layer" in words(page)) == (422, True)


def test_the_circuit_is_worked_out_and_says_what_it_did_not_check(api, vera, world):
    at = f"/rooms/{world.bathroom.pk}/circuit/"
    page = words(api(vera).get(at))
    assert "Worked out by these rules; a licensed electrician decides" in page
    assert "voltage drop (the length of the run is not known)" in page
    known = words(api(vera).get(f"{at}?one_way_m=20&breaker_a=13"))
    assert "20 m one way" in known
    assert "voltage drop (the length" not in known
    assert api(vera).get(f"{at}?one_way_m=x").status_code == 422


def test_without_an_element_there_is_no_circuit(api, vera, alder):
    room = RoomFactory(contractor=alder)
    assert "No element is recorded" in words(api(vera).get(f"/rooms/{room.pk}/circuit/"))


HEAT = {
    "room_c": "21", "outdoor_c": "-15", "height": "2400", "floor": "7.2", "heated": "4",
    "air_changes_per_hour": "0.5", "zone": "bathroom", "watts": "600", "below_c": "8",
    "covering_m2k_per_w": "0.01", "insulation_m2k_per_w": "2",
    "s-TOTAL_FORMS": "1", "s-INITIAL_FORMS": "0", "s-0-construction": "wall, insulated outside",
    "s-0-area": "7.2",
}  # fmt: skip


def test_heat_says_whether_the_floor_is_enough(api, vera, world):
    at = f"/rooms/{world.bathroom.pk}/heat-loss/"
    assert api(vera).get(at).status_code == 200
    page = words(api(vera).get(at, HEAT))
    # 0.25 * 7.2 * 36 = 65 W of wall, 0.34 * 0.5 * 17.28 * 36 = 106 W of air
    assert "the room loses 171 W" in page
    assert "thermal bridges" in page
    wrong = api(vera).get(at, HEAT | {"s-0-area": ""})
    assert (wrong.status_code, "A surface needs its area" in words(wrong)) == (422, True)


def test_areas_are_typed_in_the_units_of_the_job(api, vera, world):
    world.job.units = "imperial"
    world.job.save()
    at = f"/rooms/{world.bathroom.pk}/heat-loss/"
    feet = {"height": '94.488"', "floor": "77.5", "heated": "43", "s-0-area": "77.5"}
    assert "the room loses 171 W" in words(api(vera).get(at, HEAT | feet))


def test_an_order_opens_to_how_it_was_worked_out(api, vera, world):
    membrane = MaterialFactory(
        contractor=world.job.contractor, kind="membrane", name="Mat M", curing=None,
        package={"name": "roll", "unit": "m2", "covers": 5, "waste_fraction": 0.1},
    )  # fmt: skip
    page = words(api(vera).get(f"/rooms/{world.bathroom.pk}/order/?material={membrane.pk}"))
    # 7.2 m² less the tub of 1.275 and the toilet of 0.24 are 5.685; with waste two rolls of 5
    assert "2 roll Mat M" in page
    assert "10 % waste makes" in page
    file = api(vera).get(f"/rooms/{world.bathroom.pk}/order.csv?material={membrane.pk}")
    assert file["Content-Type"].startswith("text/csv")
    assert "2,roll,Mat M" in file.content.decode()
    foreign = api(vera).get(f"/rooms/{world.bathroom.pk}/order/?material={world.job.pk}")
    assert foreign.status_code == 422


def test_an_order_counts_and_measures_as_the_place_does(api, vera, world):
    world.job.units = "imperial"
    world.job.save()
    own = {"contractor": world.job.contractor, "curing": None}
    control = MaterialFactory(kind="control", name="Wall dial", **own)
    tiles = MaterialFactory(
        kind="covering", name="Tile T", package={"name": "box", "unit": "m2", "covers": 1}, **own
    )
    asked = f"/rooms/{world.bathroom.pk}/order/?material={control.pk}&material={tiles.pk}"
    page = words(api(vera).get(asked))
    assert "1 Wall dial" in page
    assert "1, one for each control circuit; bought one by one: order 1" in page
    # 7.2 m² less 1.515 m² under tub and toilet
    assert "at 10.8 ft² per box that is 5.685, rounded up to 6. 61.2 ft²" in page


def test_fastening_is_asked_on_the_office_page_too(api, olive, world):
    at = f"/rooms/{world.bathroom.pk}/fasten/"
    assert "May I fasten here?" in words(api(olive).get(at))
    answer = words(api(olive).get(f"{at}?right=1500&into=300"))
    assert "Keep out" in answer
    assert "half the drill" in answer
    touched = words(api(olive).get(f"{at}?at288.x=100&at288.y=100"))
    assert "Only after locating" in touched or "Keep out" in touched


def test_a_bare_number_is_in_the_units_of_the_job(api, olive, world):
    """59 inches are the 1500 mm that lie on the cable; 59 mm from the wall nothing is near."""
    world.job.units = "imperial"
    world.job.save()
    answer = words(api(olive).get(f"/rooms/{world.bathroom.pk}/fasten/?right=59&into=11 13/16"))
    assert "Keep out" in answer


FAULT = {
    "method": "core_to_ground", "construction": "single", "ends": "known", "loop_ohms": "100",
    "from_a_ohms": "50", "from_b_ohms": "70",
}  # fmt: skip


def test_a_fault_becomes_a_place_and_a_band_on_the_plan(api, finn, world):
    element = world.bathroom.elements.get()
    at = f"/rooms/{world.bathroom.pk}/fault/"
    assert "From A to ground" in words(api(finn).get(at))
    untold = words(api(finn).get(at, FAULT | {"element": element.pk}))
    assert "choose the range of the meter" in untold  # no uncertainty, no band
    page = api(finn).get(at, FAULT | {"element": element.pk, "range": world.meter.pk})
    said = words(page)
    assert re.search(r"F: [\d.]+ m from the splice, between", said)
    assert "isolate and prove dead" in said
    assert page.content.decode().count('class="fault"') == 2  # its band and its cross
    both = api(finn).get(at, FAULT | {"element": element.pk, "ends": "unknown"})
    assert "F1:" in words(both)
    assert "F2:" in words(both)


def test_readings_that_no_fault_explains_are_refused(api, finn, world):
    element = world.bathroom.elements.get()
    at = f"/rooms/{world.bathroom.pk}/fault/"
    refused = api(finn).get(at, FAULT | {"element": element.pk, "from_a_ohms": "5",
                                         "from_b_ohms": "5"})  # fmt: skip
    assert (refused.status_code, "No single fault" in words(refused)) == (422, True)


def test_the_sheet_for_the_wall_is_to_scale(api, vera, world):
    page = api(vera).get(f"/rooms/{world.bathroom.pk}/sheet/")
    said = words(page)
    assert "Do not drill, nail, screw or cut into this floor" in said
    assert "Scale 1:25." in said
    # 3.00 m of room are 800 of 1000 units: 3750 mm of floor on 150 mm of paper
    assert 'width="150.00mm"' in page.content.decode()
    assert "Splice, start of heat" in said


@pytest.mark.parametrize(
    "name",
    [
        "plans",
        "as-laid",
        "photos",
        "survey",
        "circuit",
        "heat",
        "order",
        "fasten",
        "sheet",
        "fault",
    ],
)
def test_a_page_of_a_room_asks_the_database_little(api, olive, world, name):
    page = api(olive)
    with CaptureQueriesContext(connection) as asked:
        assert page.get(reverse(f"room-{name}", args=[world.bathroom.pk])).status_code == 200
    assert len(asked) <= MOST_QUERIES


OF_A_ROOM = (
    *("room", "room-curing", "room-plans", "room-as-laid", "room-survey", "room-circuit"),
    *("room-heat", "room-order", "room-fasten", "room-sheet", "room-fault", "what-if", "warm-up"),
)
ALLOWED = ("straightedge", "from memory")  # a tool's name, and a source's figures
METRIC = re.compile(r"\d[ \u00a0](?:mm|cm|m|m²|°C)(?![\w²³])[^.]{0,25}")


def test_on_an_imperial_job_no_page_of_a_room_is_metric(api, olive, world):
    world.job.units = "imperial"
    world.job.save()
    addresses = [
        reverse(name, args=[room.pk])
        for name in OF_A_ROOM
        for room in (world.bathroom, world.kitchen)
    ]
    asked = reverse("room-fasten", args=[world.bathroom.pk]) + "?right=20&into=20&depth=2"
    found = set()
    for address in [*addresses, asked]:
        shown = words(api(olive).get(address)).replace("Mat 3.1 m²", "Mat")
        found |= {
            piece for piece in METRIC.findall(shown) if not any(word in piece for word in ALLOWED)
        }
    assert sorted(found) == []


@pytest.mark.parametrize("name", ["room", "room-curing"])
def test_the_page_of_a_room_asks_as_often_for_many_rows_as_for_one(
    api, alder, olive, world, real_now, name
):
    client, room = api(olive), world.kitchen

    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(reverse(name, args=[room.pk])).status_code == 200
        return len(asked)

    few = queries()
    assert few <= MOST_QUERIES
    own = {"contractor": alder}
    for n in range(3):
        ElementFactory(room=room, **own)
        RoomFactory(job=world.job, **own)
        CheckFactory(room=room, sequence=n + 2, taken_by=olive, **own)
        VisitFactory(job=world.job, room=room, **own)
        PromiseFactory(room=room, made_by=olive, **own)
        LayerFactory(room=room, position=n + 2, placed_at=real_now, placed_by=olive, **own)
    assert queries() == few


def test_the_page_of_a_room_loads_how_its_floor_hardens(api, olive, world):
    address = reverse("room-curing", args=[world.kitchen.pk])
    assert f'hx-get="{address}"' in api(olive).get(f"/rooms/{world.kitchen.pk}/").content.decode()
    part = api(olive).get(address, headers={"HX-Request": "true"}).content.decode()
    assert "<svg" in part
    assert "<h1>" not in part
    assert "<h1>How the floor hardens</h1>" in api(olive).get(address).content.decode()
    bare = reverse("room-curing", args=[world.bathroom.pk])
    assert bare not in api(olive).get(f"/rooms/{world.bathroom.pk}/").content.decode()
    assert "no layer that hardens has been placed" in words(api(olive).get(bare))
