"""Jobs and rooms over the API: shapes are clean before they are stored."""

import pytest

from jobs.models import Job, KeepOut, Room
from tests.factories import CustomerFactory, JobFactory, RoomFactory

L_SHAPE = [[0, 0], [3600, 0], [3600, 1500], [1800, 1500], [1800, 3000], [0, 3000]]
TUB = {
    "kind": "fixture",
    "name": "bathtub",
    "outline": [[0, 2300], [1700, 2300], [1700, 3000], [0, 3000]],
}


@pytest.fixture
def job(alder):
    return JobFactory(contractor=alder)


def room(job, **fields):
    return {"job": str(job.pk), "name": "Bathroom", "outline": L_SHAPE, **fields}


def job_body(customer, **fields):
    return {
        "customer": str(customer.pk),
        "title": "Two warm floors",
        "street": "3 Ferry Road",
        "city": "Nordby",
        "country": "NO",
        "supply_volts": 230,
        "code_profile": "iec",
        **fields,
    }


def test_a_job_takes_the_contractors_next_number_zone_and_units(api, olive, alder):
    customer = CustomerFactory(contractor=alder)
    first = api(olive).post("/api/v1/jobs/", job_body(customer)).json()
    second = api(olive).post("/api/v1/jobs/", job_body(customer)).json()
    assert (first["number"], second["number"]) == (1, 2)
    assert (first["time_zone"], first["units"]) == ("Europe/Oslo", "metric")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("time_zone", "Europe/Atlantis"),
        ("country", "Norway"),
        ("supply_volts", 0),
        ("supply_volts", "230"),
        ("supply_volts", True),
        ("code_profile", "moon"),
        ("weight", 1.5),
        ("due_on", "someday"),
        ("assume_c", 200),
    ],
)
def test_a_job_that_cannot_be_is_told_by_field(api, olive, alder, problem, field, value):
    customer = CustomerFactory(contractor=alder)
    refused = api(olive).post("/api/v1/jobs/", job_body(customer, **{field: value}))
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == f"#/{field}"
    assert Job.objects.count() == 0


def test_a_job_is_not_due_before_it_may_begin(api, olive, alder, problem):
    body = job_body(CustomerFactory(contractor=alder), release_on="2027-03-02", due_on="2027-03-01")
    refused = api(olive).post("/api/v1/jobs/", body)
    assert problem(refused)["errors"][0]["pointer"] == "#/due_on"


def test_a_room_keeps_its_keep_outs_in_order(api, olive, job):
    drain = {"kind": "drain", "outline": [[500, 500], [600, 500], [600, 600], [500, 600]]}
    made = api(olive).post("/api/v1/rooms/", room(job, keep_outs=[TUB, drain]))
    assert made.status_code == 201, made.content
    assert [each["kind"] for each in made.json()["keep_outs"]] == ["fixture", "drain"]
    assert made.json()["notes"] == []
    shown = api(olive).get(f"/api/v1/rooms/{made.json()['id']}/").json()
    assert shown["keep_outs"] == made.json()["keep_outs"]


def test_a_clockwise_outline_is_turned_round_and_told(api, olive, job):
    made = api(olive).post("/api/v1/rooms/", room(job, outline=L_SHAPE[::-1])).json()
    assert any("clockwise" in note for note in made["notes"])
    assert Room.objects.get().outline != L_SHAPE[::-1]


def test_a_control_a_little_off_its_wall_is_moved_onto_it(api, olive, job):
    body = api(olive).post("/api/v1/rooms/", room(job, control_mm=[1000, -30])).json()
    assert body["control_mm"] == [1000, 0]
    at = f"/api/v1/rooms/{body['id']}/"
    moved = api(olive).patch(at, {"control_mm": [20, 600]}, headers={"If-Match": '"1"'})
    assert moved.json()["control_mm"] == [0, 600]


@pytest.mark.parametrize(
    ("fields", "pointer"),
    [
        ({"outline": [[0, 0], [3000, 2400], [3000, 0], [0, 2400]]}, "#/outline"),
        ({"outline": [[0, 0], [1, 1]]}, "#/outline"),
        ({"outline": [[0, 0], [1000, 0], "x"]}, "#/outline/2"),
        ({"outline": [[0, 0], [1000, 0], [1000]]}, "#/outline/2"),
        ({"outline": [[0, 0], [1e9, 0], [0, 1000]]}, "#/outline/1/0"),
        ({"keep_outs": [TUB, {**TUB, "kind": "lamp"}]}, "#/keep_outs/1/kind"),
        (
            {"keep_outs": [{**TUB, "outline": [[9000, 0], [9100, 0], [9100, 90]]}]},
            "#/keep_outs/0/outline",
        ),
        ({"control_mm": [1000, 1000]}, "#/control_mm"),
        ({"margins_mm": {"walls": 5}}, "#/margins_mm/walls"),
        ({"required": ["luck"]}, "#/required/0"),
    ],
)
def test_a_room_that_cannot_be_is_told_by_field(api, olive, job, problem, fields, pointer):
    refused = api(olive).post("/api/v1/rooms/", room(job, **fields))
    assert refused.status_code == 422, refused.content
    assert problem(refused)["errors"][0]["pointer"] == pointer
    assert Room.objects.count() == 0


def test_a_keep_out_that_reaches_beyond_the_wall_is_kept_and_told(api, olive, job):
    beyond = {**TUB, "outline": [[-500, 2300], [1700, 2300], [1700, 3000], [-500, 3000]]}
    made = api(olive).post("/api/v1/rooms/", room(job, keep_outs=[beyond])).json()
    assert made["notes"] == ["Keep-out 1 reaches 0.35 m² beyond the walls."]


def test_changing_the_outline_keeps_the_keep_outs_and_checks_them(api, olive, job, problem):
    made = api(olive).post("/api/v1/rooms/", room(job, keep_outs=[TUB])).json()
    small = [[0, 0], [1000, 0], [1000, 1000], [0, 1000]]
    refused = api(olive).patch(
        f"/api/v1/rooms/{made['id']}/", {"outline": small}, headers={"If-Match": '"1"'}
    )
    assert problem(refused)["type"] == "/problems/keep-out-outside/"
    assert KeepOut.objects.count() == 1
    assert Room.objects.get().version == 1


def test_what_is_nested_is_replaced_whole(api, olive, job, problem):
    made = api(olive).post("/api/v1/rooms/", room(job, keep_outs=[TUB])).json()
    refused = api(olive).patch(
        f"/api/v1/rooms/{made['id']}/",
        {"keep_outs": [{"kind": "drain"}]},
        headers={"If-Match": '"1"'},
    )
    assert problem(refused)["errors"] == [
        {"detail": "This field is required.", "pointer": "#/keep_outs/0/outline"}
    ]


def test_two_rooms_of_a_job_have_two_names(api, olive, job, problem):
    api(olive).post("/api/v1/rooms/", room(job))
    refused = api(olive).post("/api/v1/rooms/", room(job))
    assert refused.status_code == 409
    assert "a room called Bathroom already" in problem(refused)["detail"]


def test_a_list_of_rooms_takes_constant_queries(api, olive, job, django_assert_num_queries):
    client = api(olive)
    for rows in (1, 9):
        for _ in range(rows):
            RoomFactory(contractor=olive.contractor, job=job)
        with django_assert_num_queries(2):
            client.get("/api/v1/rooms/", {"job": str(job.pk)})
