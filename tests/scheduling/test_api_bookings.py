"""Booking crews by half-days."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from django.db import IntegrityError, connection, transaction

from config.tenancy import violated
from scheduling.actions.crews import HalfDayTaken, book_crew
from scheduling.models import Booking
from tests.factories import (
    NOW,
    BookingFactory,
    CrewAbsenceFactory,
    CrewFactory,
    JobFactory,
    MemberFactory,
    RoomFactory,
)

MONDAY = date(2027, 3, 15)
SATURDAY = date(2027, 3, 20)


@pytest.fixture
def body(alder):
    crew = CrewFactory(contractor=alder, name="Crew A")
    room = RoomFactory(contractor=alder)
    halves = [{"day": "2027-03-15", "half": "am"}, {"day": "2027-03-15", "half": "pm"}]
    return {
        "crew": str(crew.pk),
        "job": str(room.job_id),
        "room": str(room.pk),
        "task": "lay",
        "half_days": halves,
    }


def test_one_task_is_booked_with_all_its_half_days(api, olive, body):
    response = api(olive).post("/api/v1/bookings/", body)
    assert response.status_code == 201
    assert [(row["day"], row["half"]) for row in response.json()["results"]] == [
        ("2027-03-15", "am"),
        ("2027-03-15", "pm"),
    ]
    assert len({row["span"] for row in response.json()["results"]}) == 1


def test_a_taken_half_day_refuses_the_whole_task(api, olive, body, problem):
    api(olive).post("/api/v1/bookings/", {**body, "half_days": body["half_days"][1:]})
    refused = api(olive).post("/api/v1/bookings/", body)
    assert refused.status_code == 409
    assert problem(refused)["detail"].startswith("Crew A is booked on 2027-03-15 pm already.")
    assert Booking.objects.count() == 1


def test_a_cancelled_half_day_is_free_again(api, olive, body):
    first = api(olive).post("/api/v1/bookings/", body).json()["results"][0]
    cancelled = api(olive).delete(f"/api/v1/bookings/{first['id']}/", headers={"If-Match": '"1"'})
    assert cancelled.json()["cancelled_at"] is not None
    again = api(olive).post("/api/v1/bookings/", {**body, "half_days": body["half_days"][:1]})
    assert again.status_code == 201


def test_a_crew_is_not_booked_when_it_does_not_work(api, olive, body, problem):
    weekend = {**body, "half_days": [{"day": "2027-03-20", "half": "am"}]}
    refused = api(olive).post("/api/v1/bookings/", weekend)
    assert refused.status_code == 422
    assert "does not work on Saturday, 2027-03-20 am" in problem(refused)["detail"]


def test_a_crew_is_not_booked_when_it_is_away(api, olive, body, problem):
    crew_id = body["crew"]
    away = {"half_days": [{"day": "2027-03-15", "half": "pm"}], "note": "ill"}
    assert api(olive).post(f"/api/v1/crews/{crew_id}/absences/", away).status_code == 201
    refused = api(olive).post("/api/v1/bookings/", body)
    assert refused.status_code == 422
    assert Booking.objects.count() == 0


def test_a_crew_is_not_booked_for_what_it_cannot_do(api, olive, body, alder, problem):
    layers = CrewFactory(contractor=alder, skills=["lay"])
    refused = api(olive).post(
        "/api/v1/bookings/", {**body, "crew": str(layers.pk), "task": "connect"}
    )
    assert refused.status_code == 422
    assert "takes the skill electric" in problem(refused)["detail"]


def test_a_room_of_another_job_is_refused(api, olive, body, alder, problem):
    refused = api(olive).post(
        "/api/v1/bookings/", {**body, "job": str(JobFactory(contractor=alder).pk)}
    )
    assert problem(refused)["errors"][0]["pointer"] == "#/room"


def test_a_foreign_crew_is_unknown(api, olive, body, bo, problem):
    foreign = CrewFactory(contractor=bo.contractor)
    refused = api(olive).post("/api/v1/bookings/", {**body, "crew": str(foreign.pk)})
    assert refused.status_code == 422
    assert problem(refused)["type"] == "/problems/unknown-id/"
    assert problem(refused)["errors"][0]["pointer"] == "#/crew"


@pytest.fixture
def monday(real_today):
    """The next one from today on, since moves are judged by the clock."""
    return real_today + timedelta(days=7 - real_today.weekday())


def test_a_move_takes_the_whole_task_along_and_pins_it(api, olive, body, monday):
    body["half_days"] = [{"day": str(monday), "half": half} for half in ("am", "pm")]
    first, second = api(olive).post("/api/v1/bookings/", body).json()["results"]
    moved = api(olive).patch(
        f"/api/v1/bookings/{first['id']}/", {"half": "pm"}, headers={"If-Match": '"1"'}
    )
    assert moved.json()["half"] == "pm"
    assert moved.json()["pinned"]
    rows = Booking.objects.filter(pk__in=[first["id"], second["id"]]).order_by("day", "half")
    assert [(row.day, row.half, row.pinned, row.version) for row in rows] == [
        (monday, "pm", True, 2),
        (monday + timedelta(days=1), "am", True, 2),
    ]


def test_a_refused_move_names_the_reason_and_the_nearest_places(api, olive, body, monday, problem):
    body["half_days"] = [{"day": str(monday), "half": half} for half in ("am", "pm")]
    first, _ = api(olive).post("/api/v1/bookings/", body).json()["results"]
    refused = api(olive).patch(
        f"/api/v1/bookings/{first['id']}/",
        {"day": str(monday + timedelta(days=5))},
        headers={"If-Match": '"1"'},
    )
    assert refused.status_code == 409
    told = problem(refused)
    assert told["type"] == "/problems/move-refused/"
    assert told["because"] == [f"Crew A does not work on Sat {monday + timedelta(days=5)} am"]
    assert told["nearest"] == [
        {"crew": "Crew A", "day": str(monday + timedelta(days=4)), "half": "pm"},
        {"crew": "Crew A", "day": str(monday + timedelta(days=7)), "half": "am"},
    ]
    assert "Nearest possible: Crew A, Fri " in told["detail"]
    assert Booking.objects.get(pk=first["id"]).day == monday


def test_a_pin_alone_moves_nothing(api, olive, body):
    first, _ = api(olive).post("/api/v1/bookings/", body).json()["results"]
    pinned = (
        api(olive)
        .patch(f"/api/v1/bookings/{first['id']}/", {"pinned": True}, headers={"If-Match": '"1"'})
        .json()
    )
    assert (pinned["day"], pinned["pinned"]) == (first["day"], True)


@pytest.mark.django_db(transaction=True)
def test_two_at_once_and_one_wins():
    crew = CrewFactory()
    job = JobFactory(contractor=crew.contractor)
    olive = MemberFactory(contractor=crew.contractor)
    barrier = Barrier(2)

    def book(_: int) -> str:
        barrier.wait()
        try:
            book_crew(
                by=olive,
                crew=crew,
                job=job,
                room=None,
                task="survey",
                half_days=[(MONDAY, "am")],
                at=NOW,
            )
        except HalfDayTaken as refused:
            return refused.slug
        finally:
            connection.close()
        return "booked"

    with ThreadPoolExecutor(2) as pool:
        told = sorted(pool.map(book, range(2)))
    assert told == ["booked", "half-day-taken"]
    assert Booking.objects.count() == 1


@pytest.mark.django_db
def test_the_database_holds_one_booking_per_crew_and_half_day():
    booking = BookingFactory()
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        BookingFactory(
            contractor=booking.contractor, crew=booking.crew, day=booking.day, half=booking.half
        )
    assert violated(refused.value) == "booking_crew_once_per_half_day"


@pytest.mark.django_db
def test_the_database_refuses_a_crew_of_another_contractor():
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        CrewAbsenceFactory(crew=CrewFactory())
    assert violated(refused.value) == "crewabsence_crew_same_contractor"
