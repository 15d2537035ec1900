"""What is worked out for a room over the API: area, plans, drawings, orders, circuits, surveys."""

import csv
from datetime import UTC, datetime, timedelta
from uuid import UUID
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs import tasks
from jobs.exchange import from_dxf
from jobs.models import KeepOut, LayingPlan, LayingSearch, Room
from jobs.wire import wire
from tests.factories import (
    ELEMENT_SPEC,
    ControlFactory,
    ElementFactory,
    JobFactory,
    LayingSearchFactory,
    MaterialFactory,
    RoomFactory,
)

CABLE_SPEC = {
    **ELEMENT_SPEC,
    "kind": "cable",
    "wire_mm": 22_000.0,
    "spacing_least_mm": 60.0,
    "spacing_most_mm": 110.0,
    "watts": 220.0,
    "min_bend_mm": 30.0,
    "width_mm": None,
    "length_mm": None,
}
CABLE_ID = UUID("01a21200-0000-7000-8000-000000000022")
TUB = [[0, 1700], [1700, 1700], [1700, 2400], [0, 2400]]


@pytest.fixture
def room(alder):
    """A small bathroom with a tub, its control right of the door, and one cable to choose."""
    row = RoomFactory(
        contractor=alder,
        name="Bathroom",
        outline=[[0, 0], [1700, 0], [1700, 2400], [0, 2400]],
        control_mm=[1700, 300],
        door_mm=[[200, 0], [1000, 0]],
    )
    KeepOut.objects.create(
        contractor=alder, room=row, kind="fixture", name="Tub", outline=TUB, position=0
    )
    return row


@pytest.fixture
def cable(alder):
    return MaterialFactory(
        pk=CABLE_ID, contractor=alder, kind="element", name="C-22", element=CABLE_SPEC
    )


@pytest.fixture
def at(room):
    return lambda rest: f"/api/v1/rooms/{room.pk}/{rest}"


@pytest.fixture(scope="module")
def found():
    """What the worker found for the room once: the same search need not be run for each test."""
    return {}


@pytest.fixture
def laid(api, olive, at, cable, found):
    """The room with a plan found by a worker and kept."""
    search = api(olive).post(at("laying-searches/"), {}).json()["id"]
    if found:
        LayingSearch.objects.filter(pk=search).update(**found)
    else:
        tasks.lay_room(search)
        found |= LayingSearch.objects.values("found", "finished_at").get()
    kept = api(olive).post(at("laying-plans/"), {"search": search})
    assert kept.status_code == 201, kept.content
    return kept.json()


def test_the_area_has_a_reason_for_each_excluded_part(api, vera, at):
    body = api(vera).get(at("heatable-area/")).json()
    assert body["floor_m2"] == 4.08
    left_out = sum(part["area_m2"] for part in body["excluded"])
    assert body["area_m2"] + left_out == pytest.approx(4.08, abs=1e-3)
    assert [part["because"] for part in body["excluded"]] == [
        "Keep-out 1 (fixture): no heat under it.",
        "Within 50 mm of keep-out 1 (fixture).",
        "Within 100 mm of a wall.",
    ]
    assert [part["reach"] for part in body["reaches"]] == ["mat"]


def test_margins_of_the_sheet_and_of_a_keep_out_rule(api, olive, room, at):
    Room.objects.filter(pk=room.pk).update(margins_mm={"wall": 0})
    KeepOut.objects.update(margin_mm=200)
    body = api(olive).get(at("heatable-area/?mat_width_mm=2000")).json()
    assert body["area_m2"] == pytest.approx(1.7 * 1.5)
    assert {part["reach"] for part in body["reaches"]} == {"loose wire"}


@pytest.mark.parametrize("bad", ["mat_width_mm=nan", "mat_width_mm=0", "spacing_mm=x", "wide=1"])
def test_an_odd_question_is_told(api, olive, at, problem, bad):
    refused = api(olive).get(at(f"heatable-area/?{bad}"))
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == f"#/{bad.partition('=')[0]}"


def test_a_search_is_answered_later(api, olive, room, at, cable):
    asked = api(olive).post(at("laying-searches/"), {"may_use": 1, "materials": [str(cable.pk)]})
    assert asked.status_code == 202
    assert asked.json()["state"] == "waiting"
    tasks.lay_room(asked.json()["id"])
    body = api(olive).get(asked["Location"]).json()
    assert body["state"] == "done"
    best = body["found"][0]
    assert best["plan"]["elements"][0]["element"] == str(cable.pk)
    assert best["measures"]["wire_m"] == 22.0
    assert 0 < best["measures"]["covered_m2"] <= best["measures"]["heatable_m2"]


def test_a_search_that_finds_nothing_says_why(api, olive, at, cable):
    cable.element = {**CABLE_SPEC, "wire_mm": 400_000.0}
    cable.save()
    asked = api(olive).post(at("laying-searches/"), {})
    tasks.lay_room(asked.json()["id"])
    body = api(olive).get(asked["Location"]).json()
    assert body["state"] == "refused"
    assert "smallest element" in body["refused"]


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"control_mm": None}, "where the control sits"),
        ({"outline": [[0, 0], [90, 0], [90, 90]]}, None),
        ({"survey": {"control_height_mm": 2800}}, "The shortest lead is 3000 mm"),
    ],
)
def test_a_room_that_is_not_ready_is_told_at_once(
    api, olive, room, at, cable, problem, fields, says
):
    Room.objects.filter(pk=room.pk).update(**fields)
    refused = api(olive).post(at("laying-searches/"), {})
    if says is None:  # nothing to lay is found by the worker, not before
        assert refused.status_code == 202
    else:
        assert refused.status_code == 422
        assert says in problem(refused)["detail"]


def test_only_elements_for_the_supply_are_tried(api, olive, alder, at, problem):
    MaterialFactory(contractor=alder, kind="element", element={**CABLE_SPEC, "volts": 120.0})
    refused = api(olive).post(at("laying-searches/"), {})
    assert "no element for 230 V" in problem(refused)["detail"]


def test_a_foreign_material_is_no_material(api, olive, bo, at, problem):
    foreign = MaterialFactory(contractor=bo.contractor, kind="element", element=CABLE_SPEC)
    refused = api(olive).post(at("laying-searches/"), {"materials": [str(foreign.pk)]})
    assert problem(refused)["type"] == "/problems/unknown-id/"


def test_two_workers_do_a_search_once(alder, room, olive, now):
    search = LayingSearchFactory(contractor=alder, room=room, asked_by=olive)
    assert LayingSearch.objects.claim(search.pk, at=now)
    assert not LayingSearch.objects.claim(search.pk, at=now)
    later = now + LayingSearch.CLAIM_LASTS + timedelta(seconds=1)
    assert LayingSearch.objects.claim(search.pk, at=later)  # the first worker is gone


def test_what_a_broker_lost_is_sent_again(alder, room, olive, monkeypatch):
    """The broker is the outside world; what would be sent to it is taken down instead."""
    sent = []
    monkeypatch.setattr(tasks.app, "send_task", lambda *args, **_: sent.append(args))
    now = datetime.now(UTC)  # noqa: TID251  the task reads the clock itself
    old, new = (
        LayingSearchFactory(contractor=alder, room=room, asked_by=olive, asked_at=now - age)
        for age in (timedelta(minutes=5), timedelta(0))
    )
    LayingSearchFactory(
        contractor=alder, room=room, asked_by=olive, asked_at=old.asked_at, finished_at=now
    )
    assert tasks.lay_waiting_rooms() == 1
    assert [args[0] for args in sent] == ["jobs.tasks.lay_room"]
    assert new.pk != old.pk


def test_a_kept_plan_is_the_one_that_was_found(api, olive, laid):
    row = LayingPlan.objects.get()
    assert (row.basis, row.tolerance_mm) == ("planned", 100)
    assert row.plan == LayingSearch.objects.get().found[0]["plan"]
    assert row.drawn_by == olive


@pytest.mark.parametrize("shift_mm", [500, -500, 1e9])
def test_a_plan_of_ones_own_is_judged(api, olive, at, laid, problem, shift_mm):
    plan = laid["plan"]
    assert api(olive).post(at("laying-plans/"), {"plan": plan}).status_code == 201
    path = plan["elements"][0]["path"]
    shifted = [[x + shift_mm, y] for x, y in path]
    plan["elements"][0] |= {"path": shifted, "splice": shifted[0], "end": shifted[-1]}
    refused = api(olive).post(at("laying-plans/"), {"plan": plan})
    assert refused.status_code == 422
    said = problem(refused)
    assert said["type"] == "/problems/plan-breaks-rules/"
    assert said["detail"].startswith("outside: C-22 leaves")
    assert str(CABLE_ID) not in said["detail"]
    assert LayingPlan.objects.count() == 2


def test_what_is_no_longer_sold_is_refused_by_its_name(api, olive, at, laid, cable, problem):
    MaterialFactory(contractor=cable.contractor, kind="element", name="C-31", element=CABLE_SPEC)
    cable.retired_at = datetime.now(UTC)  # noqa: TID251
    cable.save()
    refused = problem(api(olive).post(at("laying-plans/"), {"plan": laid["plan"]}))
    assert refused["detail"].startswith("C-22 cannot be laid here now")


@pytest.mark.parametrize(
    "plan", [{}, {"elements": []}, {"elements": 5}, {"elements": [{}]}, {"elements": [{"path": 3}]}]
)
def test_what_is_no_plan_is_refused(api, olive, at, cable, plan):
    assert api(olive).post(at("laying-plans/"), {"plan": plan}).status_code == 422


def test_a_choice_that_was_not_found_is_told(api, olive, at, laid, problem):
    search = str(LayingSearch.objects.get().pk)
    refused = api(olive).post(at("laying-plans/"), {"search": search, "choice": 9})
    assert problem(refused)["errors"][0]["pointer"] == "#/choice"


def test_a_search_of_another_room_is_not_taken(api, olive, alder, laid, problem):
    other = RoomFactory(contractor=alder)
    search = str(LayingSearch.objects.get().pk)
    refused = api(olive).post(f"/api/v1/rooms/{other.pk}/laying-plans/", {"search": search})
    assert problem(refused)["type"] == "/problems/unknown-id/"


def test_what_was_laid_differs_and_keeps_its_chainage(api, finn, at, laid):
    run_up = {"part": "run", "run": 2, "by_mm": [0, 12]}
    sensor = {"part": "sensor", "at_mm": [800, 800]}
    answer = api(finn).post(at("as-laid/"), {"changes": [run_up, sensor]})
    assert answer.status_code == 201, answer.content
    body = answer.json()
    assert (body["basis"], body["tolerance_mm"]) == ("as_laid", 30)
    assert any(one["what"] == "run 2" for one in body["differences"])
    element = body["plan"]["elements"][0]
    assert len(element["chainage_mm"]) == len(element["path"])
    assert body["plan"]["sensor"] == [800, 800]
    assert body["plan"]["sensor_route"][-1] == [800, 800]
    again = api(finn).post(at("as-laid/"), {"changes": []}).json()
    assert again["plan"]["elements"] == body["plan"]["elements"]
    assert again["differences"] == body["differences"]


def test_a_photo_says_how_true_it_is(api, finn, at, laid):
    def pixel(x, y):
        return [x / 2 + 40, 900 - y / 2]

    corners = [(0, 0), (1700, 0), (1700, 2400), (0, 2400), (1700, 1700)]
    points = [{"pixel": pixel(x, y), "floor_mm": [x, y]} for x, y in corners]
    splice = laid["plan"]["elements"][0]["splice"]
    body = {
        "changes": [{"part": "joint", "at_pixel": pixel(*splice)}],
        "photo": {"scale_points": points},
    }
    answer = api(finn).post(at("as-laid/"), body).json()
    assert answer["tolerance_mm"] == 10
    assert answer["because"] == "5 points miss by 0 mm in the mean."
    assert answer["plan"]["elements"][0]["joints"] == [pytest.approx(splice, abs=0.1)]


def test_a_control_that_moved_moves_in_the_room(api, finn, room, at, laid, problem):
    moved = {"changes": [{"part": "control", "at_mm": [1700, 500]}]}
    body = api(finn).post(at("as-laid/"), moved).json()
    room.refresh_from_db()
    assert (room.control_mm, room.version) == ([1700, 500], 2)
    assert body["plan"]["elements"][0]["lead"][0] == [1700, 500]
    off = api(finn).post(at("as-laid/"), {"changes": [{"part": "control", "at_mm": [800, 800]}]})
    assert problem(off)["type"] == "/problems/not-on-wall/"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"part": "run", "run": 999, "by_mm": [0, 5]}, "#/changes/0/number"),
        ({"part": "run", "at_mm": [0, 5]}, "#/changes/0"),
        ({"part": "sensor", "at_mm": [0, 5], "at_pixel": [1, 1]}, "#/changes/0"),
        ({"part": "sensor", "at_pixel": [1, 1]}, "#/changes/0/at_pixel"),
        ({"part": "piano", "at_mm": [1, 1]}, "#/changes/0/part"),
    ],
)
def test_a_change_that_cannot_be_is_told_by_field(api, finn, at, laid, problem, change, pointer):
    refused = api(finn).post(at("as-laid/"), {"changes": [change]})
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == pointer


def test_nothing_was_laid_without_a_plan(api, finn, at, problem):
    refused = api(finn).post(at("as-laid/"), {"changes": []})
    assert problem(refused)["type"] == "/problems/plan-not-usable/"


def test_the_drawing_in_three_forms_and_words(api, vera, at, laid):
    svg = api(vera).get(at("plan.svg?scale=20&language=es&units=imperial"))
    assert svg["Content-Type"].startswith("image/svg+xml")
    assert "sin calor" in ElementTree.fromstring(svg.content)[0].text
    table = api(vera).get(at("plan/")).json()
    assert [row["mark"] for row in table["points"]][:4] == ["A", "B", "C", "D"]
    assert table["title"].startswith("Bathroom, 1.70\N{NO-BREAK SPACE}m × 2.40")
    geojson = api(vera).get(at("plan.geojson"))
    assert geojson["Content-Type"] == "application/geo+json"
    assert geojson.json()["features"][0]["properties"]["part"] == "outline"
    dxf = api(vera).get(at("plan.dxf"))
    assert from_dxf(dxf.content.decode()).outline.area_m2 == pytest.approx(4.08)


def test_a_browser_may_ask_for_the_drawing_as_an_image(api, vera, bo, at, problem):
    accept = {"HTTP_ACCEPT": "image/avif,image/webp,image/svg+xml,image/*,*/*;q=0.8"}
    assert api(vera).get(at("plan.svg"), **accept).status_code == 200
    assert api(vera).get(at("plan.svg"), HTTP_ACCEPT="image/svg+xml").status_code == 200
    assert problem(api(bo).get(at("plan.svg"), **accept))["status"] == 404


def test_both_candidates_of_a_fault_are_drawn(api, vera, at, laid, problem):
    drawn = api(vera).get(at("plan.svg?faults=0.3:0.02,0.7:0.02"))
    said = ElementTree.fromstring(drawn.content)[0].text.replace("\N{NO-BREAK SPACE}", " ")
    assert "F1: Fault likely 6.6 m from the splice (6.2 to 7.0 m); or at F2" in said
    for bad, pointer in (("0.3", "#/faults"), ("2:0.1", "#/0"), ("0.3:0&element=4", "#/element")):
        refused = api(vera).get(at(f"plan.svg?faults={bad}"))
        assert refused.status_code == 422
        assert problem(refused)["errors"][0]["pointer"] == pointer


def test_joints_and_chainage_as_laid_are_drawn(api, vera, finn, at, laid):
    splice = laid["plan"]["elements"][0]["splice"]
    runs = api(vera).get(at("plan/")).json()["runs"]
    changes = [
        {"part": "joint", "at_mm": splice},
        {"part": "run", "run": 2, "by_mm": [0, 14]},
    ]
    assert api(finn).post(at("as-laid/"), {"changes": changes}).status_code == 201
    table = api(vera).get(at("plan/")).json()
    assert "J" in [row["mark"] for row in table["points"]]
    # Every metre keeps its place on the wire; what bends now may look different in the table.
    drawn = LayingPlan.objects.get(basis="as_laid").plan["elements"][0]
    planned = wire(laid["plan"]["elements"][0]["path"])
    assert drawn["chainage_mm"] == pytest.approx(planned.chainage_mm, abs=0.01)
    assert drawn["path"] != laid["plan"]["elements"][0]["path"]
    assert _reach(table["runs"]) == _reach(runs)


def _reach(runs):
    """From where to where along the wire the table goes."""
    return runs[0]["what"].split(", ")[1].split("–")[0], runs[-1]["what"].split("–")[1]


ASK = "clearance/?depth_mm=40&drill_mm=6"


def test_may_i_fasten_here(api, vera, finn, at, laid):
    x, y = laid["plan"]["elements"][0]["path"][10]
    on_cable = api(vera).get(at(f"{ASK}&x_mm={x}&y_mm={y}")).json()
    assert on_cable["answer"] == "keep out"
    away = api(vera).get(at(f"{ASK}&x_mm=100&y_mm=2300")).json()
    assert away["answer"] == "only after locating on site"  # a plan is no record
    api(finn).post(at("as-laid/"), {"changes": []})
    recorded = api(vera).get(at(f"{ASK}&x_mm=100&y_mm=2300")).json()
    assert recorded["answer"] == "no cable recorded"
    assert recorded["says"] == f"No cable recorded within {recorded['within_mm']:.0f}\xa0mm."
    line = api(vera).get(at(f"{ASK}&x_mm=100&y_mm=2300&to_x_mm=800&to_y_mm=100")).json()
    assert line["answer"] == "keep out"


def test_a_place_may_be_measured_from_the_door(api, vera, room, at, laid):
    Room.objects.filter(pk=room.pk).update(door_mm=[[1700, 1500], [1700, 700]])
    ask = f"{ASK}&measured=door&x_mm=300&y_mm=200"
    turned = api(vera).get(at(ask)).json()
    plain = api(vera).get(at(f"{ASK}&x_mm=1500&y_mm=300")).json()
    assert turned["distance_mm"] == pytest.approx(plain["distance_mm"])


def test_an_unrecorded_floor_is_not_cleared(api, vera, at):
    body = api(vera).get(at(f"{ASK}&x_mm=100&y_mm=100")).json()
    assert body["answer"] == "only after locating on site"


def test_the_circuit_is_of_the_elements_in_the_room(api, vera, alder, room, at, cable):
    ElementFactory(contractor=alder, room=room, material=cable, label="E1")
    ControlFactory(contractor=alder, room=room)
    body = api(vera).get(at("circuit/?one_way_m=20&breaker_a=16")).json()
    assert body["profile"] == "IEC type"
    (circuit,) = body["circuits"]
    assert circuit["amps"] == pytest.approx(220 / 230)
    rules = {finding["rule"]: finding for finding in body["findings"]}
    assert rules["Control"]["outcome"] == "holds"
    assert rules["Breaker in place"]["outcome"] == "look up"
    assert "licensed electrician decides" in body["caution"]
    assert "the supply conductor in place" in body["not_checked"]


def test_a_drop_is_told_only_where_the_length_of_the_run_is_known(
    api, vera, alder, room, at, cable
):
    ElementFactory(contractor=alder, room=room, material=cable, label="E1")

    def asked(query):
        body = api(vera).get(at("circuit/" + query)).json()
        (circuit,) = body["circuits"]
        return circuit["drop_volts"], circuit["drop_fraction"], " ".join(body["not_checked"])

    volts, fraction, unchecked = asked("")
    assert (volts, fraction) == (None, None)
    assert "voltage drop" in unchecked
    volts, fraction, unchecked = asked("?one_way_m=0")  # the breaker beside the control
    assert (volts, fraction) == (0, 0)
    assert "voltage drop" not in unchecked


def test_a_room_without_elements_has_no_circuit(api, vera, at, problem):
    refused = api(vera).get(at("circuit/"))
    assert problem(refused)["type"] == "/problems/circuit-impossible/"


BAGS = {"name": "bag", "covers": 5.0, "unit": "m2", "thickness_mm": 3.0, "waste_fraction": 0.1}


def test_the_order_counts_what_the_room_takes(api, olive, alder, room, at, laid, cable):
    bed = MaterialFactory(contractor=alder, kind="mortar", name="Bed mortar", package=BAGS)
    MaterialFactory(contractor=alder, kind="mortar", name="Other mortar", package=BAGS)
    Room.objects.filter(pk=room.pk).update(survey={"layers": [{"use": "mortar", "mm": 10.0}]})
    body = api(olive).get(at("take-off/")).json()
    assert body["not_counted"] == ["Mortar: 2 in the catalogue; say which one."]
    assert [(line["name"], line["packages"]) for line in body["lines"]] == [("C-22", 1)]
    chosen = api(olive).get(at(f"take-off/?materials={bed.pk},{cable.pk}")).json()
    assert chosen["lines"][0]["because"] == (
        "2.89 m² to cover, 10 mm deep: 28.9 l; 10 % waste makes 31.79 l; "
        "at 15 l per bag that is 2.119, rounded up to 3."
    )
    assert chosen["not_counted"] == []


def test_the_order_as_a_list_to_order_by(api, olive, alder, room, at, laid):
    MaterialFactory(contractor=alder, kind="mortar", name="=Bed mortar", package=BAGS)
    Room.objects.filter(pk=room.pk).update(survey={"layers": [{"use": "mortar", "mm": 10.0}]})
    answer = api(olive).get(at("take-off.csv"))
    assert answer["Content-Type"].startswith("text/csv")
    head, *rows = csv.reader(answer.content.decode().splitlines())
    assert head[:3] == ["order", "package", "material"]
    assert [row[:3] for row in rows] == [["1", "piece", "C-22"], ["3", "bag", "'=Bed mortar"]]


def test_a_depth_that_is_not_known_is_said(api, olive, alder, at):
    MaterialFactory(contractor=alder, kind="mortar", name="Bed mortar", package=BAGS)
    body = api(olive).get(at("take-off/")).json()
    assert body["lines"] == []
    assert body["not_counted"] == ["Bed mortar: the depth of the mortar is not known."]


@pytest.mark.parametrize("ids", ["x", "", "00000000-0000-0000-0000-000000000000"])
def test_an_unknown_material_in_an_order_is_told(api, olive, at, problem, ids):
    refused = api(olive).get(at(f"take-off/?materials={ids}"))
    assert problem(refused)["errors"][0]["pointer"] == "#/materials"


FACTS = {"substrate": "concrete", "layers": [{"use": "mortar", "mm": 10}], "door_gap_mm": 12}


def test_a_survey_is_replaced_under_its_version(api, olive, room, at, problem):
    before = api(olive).get(at("survey/"))
    assert before.json()["may_order"] is False
    put = api(olive).put(at("survey/"), FACTS, HTTP_IF_MATCH=before["ETag"])
    assert put.status_code == 200, put.content
    door = next(item for item in put.json()["items"] if item["key"] == "door")
    assert door["state"] == "problem"
    assert put.json()["facts"] == FACTS
    stale = api(olive).put(at("survey/"), {}, HTTP_IF_MATCH=before["ETag"])
    assert problem(stale)["status"] == 412
    room.refresh_from_db()
    assert room.survey == FACTS


def test_the_service_fills_in_what_it_knows(api, olive, alder, room, at, laid, cable):
    ElementFactory(contractor=alder, room=room, material=cable, label="E1")
    facts = {"supply_free_a": 10, "control_height_mm": 1200, "lead_mm": 3000}
    put = api(olive).put(at("survey/"), facts, HTTP_IF_MATCH='"1"').json()
    items = {item["key"]: item for item in put["items"]}
    assert items["supply"]["says"].startswith("230 V, 10 A free, 1.0 A needed")
    assert items["lead"]["state"] == "known"


@pytest.mark.parametrize(
    "bad",
    [{"substrate": "snow"}, {"box_cm3": -1}, {"layers": [{"use": "mortar"}]}, {"colour": 1},
     {"supplied_by": {"piano": "customer"}}, {"conduits": 1.5}],
)  # fmt: skip
def test_facts_that_cannot_be_are_refused(api, olive, room, at, bad):
    assert api(olive).put(at("survey/"), bad, HTTP_IF_MATCH='"1"').status_code == 422
    room.refresh_from_db()
    assert (room.survey, room.version) == ({}, 1)


HEAT = {
    "surfaces": [{"construction": "cavity wall, filled", "area_m2": 6}],
    "volume_m3": 9.8, "air_changes_per_hour": 1, "room_c": 24, "outdoor_c": -10,
    "zone": "bathroom", "heated_m2": 2, "covering_m2k_per_w": 0.02,
    "insulation_m2k_per_w": 0.5, "below_c": 12,
}  # fmt: skip


def test_comfort_or_main_heating(api, vera, alder, room, at, cable, problem):
    ElementFactory(contractor=alder, room=room, material=cable, label="E1")
    body = api(vera).post(at("heat/"), HEAT).json()
    assert body["role"] == "comfort only"
    assert body["loss_watts"] == pytest.approx(102 + 0.34 * 9.8 * 34, abs=0.1)
    strange = {**HEAT, "surfaces": [{"construction": "straw bales", "area_m2": 6}]}
    refused = api(vera).post(at("heat/"), strange)
    assert problem(refused)["errors"][0]["pointer"] == "#/surfaces/0/u_w_per_m2k"


def test_a_drawing_costs_as_much_however_many_keep_outs(api, vera, alder, room, at):
    client = api(vera)
    with CaptureQueriesContext(connection) as one:
        client.get(at("plan.svg"))
    for position in range(1, 9):
        KeepOut.objects.create(
            contractor=alder, room=room, kind="vent", outline=TUB, position=position
        )
    with CaptureQueriesContext(connection) as nine:
        client.get(at("plan.svg"))
    assert len(nine) <= len(one)


def test_a_job_of_the_us_type_is_checked_by_its_profile(api, vera, alder, cable):
    job = JobFactory(contractor=alder, code_profile="us", supply_volts=240.0)
    room = RoomFactory(contractor=alder, job=job)
    ElementFactory(contractor=alder, room=room, material=cable, label="E1")
    body = api(vera).get(f"/api/v1/rooms/{room.pk}/circuit/").json()
    assert body["profile"] == "US type"
    assert body["circuits"][0]["continuous_a"] == pytest.approx(220 / 230 * 240 / 230 * 1.25)
