"""Today on the phone: quick however many rooms are booked, and in the words of the records."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scheduling.models import Energizing
from tests.factories import BookingFactory, CheckFactory, CrewFactory, ElementFactory, RoomFactory
from tests.pages.world import build

MOST_QUERIES = 12


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


def asked(client, url):
    with CaptureQueriesContext(connection) as queries:
        page = client.get(url)
    assert page.status_code == 200
    return len(queries), page.content.decode()


def test_today_asks_as_often_for_one_room_as_for_six(api, olive, finn, world, real_today):
    client = api(finn)
    one, _page = asked(client, reverse("today"))
    assert one <= MOST_QUERIES
    own = {"contractor": olive.contractor}
    crew = finn.crews.get()
    for number in range(5):
        room = RoomFactory(job=world.job, name=f"Room {number}", **own)
        ElementFactory(room=room, label="M1", **own)
        CheckFactory(room=room, taken_by=finn, **own)
        day = real_today + timedelta(days=number % 2)
        half = ("am", "pm")[number % 2]
        crew = CrewFactory(**own)
        crew.members.add(finn)
        BookingFactory(job=world.job, room=room, crew=crew, day=day, half=half, **own)
    many, page = asked(client, reverse("today"))
    assert many == one
    assert page.count("Room ") >= 5


def test_a_room_in_its_first_heating_costs_three_queries_more(api, olive, finn, world, real_now):
    client = api(finn)
    plain, _page = asked(client, reverse("field-room", args=[world.kitchen.pk]))
    assert plain <= 14
    Energizing.objects.create(
        contractor=olive.contractor,
        room=world.kitchen,
        client_id=uuid4(),
        at=real_now - timedelta(days=2),
        decision=world.kitchen.decisions.get(),
        recorded_by=finn,
    )
    heated, page = asked(client, reverse("field-room", args=[world.kitchen.pk]))
    assert heated == plain + 3
    assert "First heating, step by step" in page
