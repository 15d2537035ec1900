"""The day sheets of crews: where they are, what comes next there, what to bring."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.factories import BookingFactory, CrewFactory, JobFactory, RoomFactory
from tests.pages.test_rooms import words
from tests.pages.world import build


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


def test_a_sheet_says_where_who_what_and_what_to_bring(api, finn, world, real_today):
    said = words(api(finn).get(f"/day-sheets/{real_today.isoformat()}/"))
    north, south = said.split("South,")
    for part in (
        "Finn", "am: 14 Mill Lane", "Bathroom", "Lay", "Ada Customer",
        "Bare cable. Keep off this floor.", "Mat 3.1 m², 98.0 Ω", "Mortar bed, 8 mm",
    ):  # fmt: skip
        assert part in north, part
    assert "Nothing is booked for this crew on this day." in south
    assert "Leads off and proven dead before you measure" in south


def test_one_crew_may_be_asked_for(api, olive, world, real_today):
    crew = world.job.bookings.first().crew
    at = f"/day-sheets/{real_today.isoformat()}/"
    assert "South" not in words(api(olive).get(f"{at}?crew={crew.pk}"))


def test_what_is_no_day_has_no_sheet(api, olive):
    assert api(olive).get("/day-sheets/2026-02-30/").status_code == 404


def test_many_bookings_ask_no_more(api, olive, world, real_today):
    at = f"/day-sheets/{real_today.isoformat()}/"

    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert api(olive).get(at).status_code == 200
        return len(asked)

    few = queries()
    booking = world.job.bookings.first()
    own = {"contractor": world.job.contractor}
    for crew in (booking.crew, *CrewFactory.create_batch(3, **own)):
        job = JobFactory(**own)
        BookingFactory(
            crew=crew, job=job, room=RoomFactory(job=job, **own), day=real_today, half="pm",
            booked_by=olive, **own,
        )  # fmt: skip
    assert queries() == few
