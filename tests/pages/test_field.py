"""Today on the phone: quick however many rooms are booked, and in the words of the records."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scheduling.actions.decisions import refresh
from scheduling.models import Energizing
from tests.factories import (
    BookingFactory,
    CheckFactory,
    CrewFactory,
    ElementFactory,
    FaultFoundFactory,
    RoomFactory,
)
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


def test_a_room_with_a_fault_in_its_first_heating_keeps_to_the_budget(
    api, olive, finn, world, real_now, real_today
):
    client = api(finn)
    room, own = world.bathroom, {"contractor": olive.contractor}
    address = reverse("field-room", args=[room.pk])
    plain, page = asked(client, address)
    assert "Faults found" not in page
    found_at = real_now - timedelta(hours=1)
    FaultFoundFactory(element=room.elements.get(), found_by=finn, found_at=found_at, **own)
    refresh([room], at=real_now)
    Energizing.objects.create(
        room=room,
        client_id=uuid4(),
        at=real_now - timedelta(days=2),
        decision=room.decisions.latest("pk"),
        recorded_by=finn,
        **own,
    )
    full, page = asked(client, address)
    assert plain < full <= MOST_QUERIES
    assert "First heating, step by step" in page
    assert page.count('class="fault"') == 2  # its band and its cross
    assert "Mend the fault first" in page
    assert f'href="{reverse("room-fault", args=[room.pk])}"' in page
    today, page = asked(client, reverse("today"))
    assert today <= MOST_QUERIES
    assert "mend the fault first" in page
