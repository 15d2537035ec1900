"""A fragment of the room's page shows how the governing layer cures, by what is known then."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.test import Client

from readings.models import SiteTemperature
from tests.factories import LayerFactory, RoomFactory

pytestmark = pytest.mark.django_db


def test_the_chart_comes_with_its_legend(finn):
    now = datetime.now(UTC)  # noqa: TID251  the page asks the clock
    room = RoomFactory(contractor=finn.contractor)
    LayerFactory(
        contractor=finn.contractor, room=room, position=1,
        placed_at=now - timedelta(days=3), placed_by=finn,
    )  # fmt: skip
    SiteTemperature.objects.create(
        contractor_id=finn.contractor_id, job=room.job, room=room, client_id=uuid4(),
        at=now - timedelta(hours=2), celsius=11.0, source="logger", received_at=now,
        taken_by=finn,
    )  # fmt: skip
    client = Client()
    client.force_login(finn)
    page = client.get(f"/rooms/{room.pk}/curing/").content.decode()
    assert page.count('<svg xmlns="http://www.w3.org/2000/svg" class="chart"') == 1
    assert "Whole line: measured." in page
    assert "of 168 h of curing reached" in page


def test_a_room_without_layers_has_none(finn):
    room = RoomFactory(contractor=finn.contractor)
    client = Client()
    client.force_login(finn)
    assert 'class="chart"' not in client.get(f"/rooms/{room.pk}/curing/").content.decode()
