"""The catalogue and what is installed from it."""

import pytest

from jobs.models import Element, Material
from tests.factories import (
    CONTROL_SPEC,
    CURING_SPEC,
    ELEMENT_SPEC,
    ElementFactory,
    JobFactory,
    MaterialFactory,
    RoomFactory,
)

URL = "/api/v1/materials/"
MORTAR = {"name": "Mortar M", "kind": "mortar", "sheet": "Sheet 3", "curing": CURING_SPEC}


def test_a_mortar_with_its_sheet(api, olive):
    made = api(olive).post(URL, MORTAR)
    assert made.status_code == 201, made.content
    assert made.json()["curing"]["heat_after_hours"] == 168


def refused_with(api, olive, problem, **fields):
    response = api(olive).post(URL, {**MORTAR, **fields})
    assert response.status_code == 422, response.content
    return problem(response)["errors"][0]


def test_figures_without_a_sheet_are_marked_generic(api, olive, problem):
    assert refused_with(api, olive, problem, sheet="")["pointer"] == "#/sheet"
    assert api(olive).post(URL, {**MORTAR, "sheet": "", "generic": True}).status_code == 201


@pytest.mark.parametrize(
    ("curing", "pointer"),
    [
        ({"walk_after_hours": 200.0, "next_layer_after_hours": 200.0}, "/heat_after_hours"),
        ({"highest_c": 5.0}, "/highest_c"),
        ({"least_mm": 9.0, "most_mm": 3.0}, "/most_mm"),
        ({"heat_after_hours": -1}, "/heat_after_hours"),
        ({"law": {"kind": "guess"}}, "/law/kind"),
        ({"lowest_c": 200}, "/lowest_c"),
    ],
)
def test_minimums_that_contradict_are_told(api, olive, problem, curing, pointer):
    error = refused_with(api, olive, problem, curing={**CURING_SPEC, **curing})
    assert error["pointer"] == f"#/curing{pointer}"


def test_a_mortar_needs_curing_figures_and_no_others(api, olive, problem):
    assert refused_with(api, olive, problem, curing=None)["pointer"] == "#/curing"
    assert refused_with(api, olive, problem, control=CONTROL_SPEC)["pointer"] == "#/control"


def test_a_mat_has_a_size_and_a_cable_none(api, olive, problem):
    mat = {"name": "Mat", "kind": "element", "sheet": "Sheet 1", "element": ELEMENT_SPEC}
    assert api(olive).post(URL, mat).status_code == 201
    flat = {**mat, "name": "Mat 2", "element": {**ELEMENT_SPEC, "width_mm": None}}
    assert problem(api(olive).post(URL, flat))["errors"][0]["pointer"] == "#/element/width_mm"
    cable = {**mat, "name": "Cable", "element": {**ELEMENT_SPEC, "kind": "cable"}}
    assert "A cable has no width" in problem(api(olive).post(URL, cable))["detail"]


def test_a_change_is_checked_as_a_whole(api, olive, problem):
    material = MaterialFactory(contractor=olive.contractor)
    shorter = {"curing": {**CURING_SPEC, "heat_after_hours": 12.0}}
    refused = api(olive).patch(f"{URL}{material.pk}/", shorter, headers={"If-Match": '"1"'})
    assert problem(refused)["type"] == "/problems/material-contradicts/"
    assert Material.objects.get().curing["heat_after_hours"] == 168.0


def test_a_retired_name_is_free_again(api, olive):
    made = api(olive).post(URL, MORTAR).json()
    assert api(olive).post(URL, MORTAR).status_code == 409
    api(olive).delete(f"{URL}{made['id']}/", headers={"If-Match": '"1"'})
    assert api(olive).post(URL, MORTAR).status_code == 201
    assert len(api(olive).get(URL).json()["results"]) == 1


@pytest.fixture
def element_body(alder):
    room = RoomFactory(contractor=alder)
    mat = MaterialFactory(contractor=alder, kind="element", name="Mat 230")
    return {
        "room": str(room.pk),
        "material": str(mat.pk),
        "label": "E1",
        "serial": "A-1",
        "tag_ohms": 71.1,
    }


def test_an_element_is_installed_by_whoever_lays_it(api, finn, element_body):
    made = api(finn).post("/api/v1/elements/", element_body)
    assert made.status_code == 201, made.content
    assert made.json()["tolerance_above"] == 0.1


@pytest.mark.parametrize("ohms", [0, -1, True, "71.1", None])
def test_ohms_of_a_tag_are_above_zero(api, finn, element_body, problem, ohms):
    refused = api(finn).post("/api/v1/elements/", {**element_body, "tag_ohms": ohms})
    assert problem(refused)["errors"][0]["pointer"] == "#/tag_ohms"


def test_a_120_v_element_on_230_v_is_refused_before_it_is_unpacked(
    api, finn, alder, element_body, problem
):
    spec = {**ELEMENT_SPEC, "volts": 120.0}
    wrong = MaterialFactory(contractor=alder, kind="element", element=spec)
    refused = api(finn).post("/api/v1/elements/", {**element_body, "material": str(wrong.pk)})
    assert refused.status_code == 422
    assert "Do not unpack it" in problem(refused)["detail"]
    assert Element.objects.count() == 0


def test_240_v_goods_go_on_a_230_v_supply(api, finn, alder, element_body):
    spec = {**ELEMENT_SPEC, "volts": 240.0}
    mat = MaterialFactory(contractor=alder, kind="element", element=spec)
    made = api(finn).post("/api/v1/elements/", {**element_body, "material": str(mat.pk)})
    assert made.status_code == 201


def test_a_mortar_is_no_element(api, finn, alder, element_body, problem):
    mortar = MaterialFactory(contractor=alder, name="Mortar M")
    refused = api(finn).post("/api/v1/elements/", {**element_body, "material": str(mortar.pk)})
    assert problem(refused)["errors"][0]["pointer"] == "#/material"


def test_a_serial_is_installed_once(api, finn, alder, element_body, problem):
    ElementFactory(contractor=alder, serial="A-1")
    refused = api(finn).post("/api/v1/elements/", element_body)
    assert refused.status_code == 409
    assert problem(refused)["errors"][0]["pointer"] == "#/serial"


def test_a_foreign_room_is_unknown(api, finn, bo, element_body, problem):
    foreign = RoomFactory(contractor=bo.contractor, job=JobFactory(contractor=bo.contractor))
    refused = api(finn).post("/api/v1/elements/", {**element_body, "room": str(foreign.pk)})
    assert problem(refused)["errors"][0]["pointer"] == "#/room"


@pytest.mark.parametrize("thing", ["floor-sensors", "controls"])
def test_sensors_and_controls_are_installed_alike(api, finn, alder, element_body, thing):
    kind = {"floor-sensors": "sensor", "controls": "control"}[thing]
    material = MaterialFactory(contractor=alder, kind=kind)
    body = {"room": element_body["room"], "material": str(material.pk), "label": "1"}
    made = api(finn).post(f"/api/v1/{thing}/", body)
    assert made.status_code == 201, made.content
    assert api(finn).post(f"/api/v1/{thing}/", body).status_code == 409
    change = api(finn).patch(
        f"/api/v1/{thing}/{made.json()['id']}/",
        {"removed_at": "2027-03-01T09:00:00+01:00"},
        headers={"If-Match": '"1"'},
    )
    assert change.json()["removed_at"] == "2027-03-01T08:00:00Z"
    assert api(finn).post(f"/api/v1/{thing}/", body).status_code == 201


def test_a_time_without_zone_is_refused(api, finn, alder, problem):
    element = ElementFactory(contractor=alder)
    refused = api(finn).patch(
        f"/api/v1/elements/{element.pk}/",
        {"removed_at": "2027-03-01T09:00:00"},
        headers={"If-Match": '"1"'},
    )
    assert "with its zone" in problem(refused)["errors"][0]["detail"]
