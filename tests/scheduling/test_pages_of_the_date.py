"""Pages about a date: what it rests on, what it would become, what was tested before it."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from jobs.actions.links import make_link
from scheduling.actions import notices
from scheduling.actions.decisions import refresh
from scheduling.models import Energizing, Layer
from tests.factories import (
    CheckFactory,
    JobFactory,
    LayerFactory,
    MaterialFactory,
    RoomFactory,
    VisitFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime.now(UTC).replace(microsecond=0)  # noqa: TID251  the pages ask the clock
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
SAID = "The figures of Guessed mortar are assumptions"
MARKED = "Assumed</span>"


@pytest.fixture
def room(alder, finn):
    job = JobFactory(contractor=alder, assume_c=8, time_zone="UTC")
    room = RoomFactory(contractor=alder, job=job, required=[])
    material = MaterialFactory(contractor=alder, name="Guessed mortar", generic=True)
    LayerFactory(
        contractor=alder, room=room, position=1, material=material, placed_at=NOW - 3 * DAY,
        placed_by=finn, curing=material.curing,
    )  # fmt: skip
    refresh([room], at=NOW)
    return room


def text_of(response, status=200):
    assert response.status_code == status
    return response.content.decode()


@pytest.mark.parametrize("name", ["room", "field-room", "warm-up", "field-warm-up"])
def test_an_assumption_is_marked_on_each_page_of_the_room(api, olive, room, name):
    address = reverse(name, args=[room.pk])
    page = text_of(api(olive).get(address))
    assert SAID in page
    assert MARKED in page
    Layer.objects.update(curing={**Layer.objects.get().curing, "assumed": False})
    type(room.layers.get().material).objects.update(generic=False)
    assert MARKED not in text_of(api(olive).get(address))


def test_and_on_those_of_the_job_the_owner_and_another_trade(api, client, olive, finn, room):
    page = text_of(api(olive).get(reverse("job", args=[room.job_id])))
    assert "Rests on assumptions, without a data sheet: Guessed mortar" in " ".join(page.split())
    _, secret = make_link(job=room.job, purpose="owner", at=NOW, lasts=DAY)
    assert SAID in text_of(client.get(reverse("owner", args=[secret]), {"lang": "en"}))
    CheckFactory(
        contractor=room.contractor, room=room, stage="laid", outcome="pass", taken_at=NOW - 4 * DAY,
        taken_by=finn,
    )  # fmt: skip
    visit = VisitFactory(
        contractor=room.contractor, job=room.job, room=room, activities=["switching-on"],
        starts_at=NOW + HOUR, ends_at=NOW + 2 * HOUR,
    )  # fmt: skip
    assert notices.review_visit(visit=visit, at=NOW)
    secret = notices.link_to(visit.notices.get(), at=NOW).rsplit("/", 2)[1]
    assert SAID in text_of(client.get(reverse("notice", args=[secret]), {"lang": "en"}))


class TestWhatIf:
    def ask(self, api, member, room, status=200, **asked):
        return text_of(api(member).get(reverse("what-if", args=[room.pk]), asked), status)

    def test_the_room_is_warmer_from_tomorrow(self, api, vera, room):
        asked = {"room_c": "18", "warm_from": (NOW + DAY).strftime("%Y-%m-%dT07:00")}
        page = self.ask(api, vera, room, **asked)
        assert "The room is kept at 18 °C" in page
        assert "As things are:" in page
        assert SAID in page

    def test_another_material(self, api, vera, room):
        rapid = MaterialFactory(contractor=room.contractor, name="Rapid")
        rapid.curing["heat_after_hours"] = 12.0
        rapid.save()
        layer = room.layers.get()
        page = self.ask(api, vera, room, layer=str(layer.pk), material=str(rapid.pk))
        assert "Guessed mortar → Rapid" in page
        assert f'<time datetime="{NOW.date().isoformat()[:7]}' in page

    def test_another_day(self, api, vera, room):
        layer = room.layers.get()
        day = (NOW + 4 * DAY).replace(hour=10, minute=0, second=0)
        page = self.ask(
            api, vera, room, layer=str(layer.pk), placed_at=day.strftime("%Y-%m-%dT%H:%M")
        )
        assert "laid on" in page
        assert (day + 168 * HOUR).isoformat() in page  # not before the printed hours
        assert Layer.objects.get().placed_at == NOW - 3 * DAY

    @pytest.mark.parametrize(
        ("asked", "said"),
        [
            ({"room_c": "200"}, "from -40 to 160"),
            ({"room_c": "120"}, "120 °C is outside"),
            ({"placed_at": "2027-01-01T10:00"}, "Say which layer."),
        ],
    )
    def test_nonsense_is_told(self, api, vera, room, asked, said):
        assert said in self.ask(api, vera, room, status=422, **asked)

    def test_nothing_asked_is_only_a_form(self, api, vera, room):
        assert "Supposed" not in self.ask(api, vera, room)


class TestABriefTest:
    def send(self, api, member, room, minutes):
        address = reverse("heat-on", args=[room.pk])
        typed = {
            "switched_on_at": NOW.strftime("%Y-%m-%dT%H:%M"), "test_minutes": minutes,
            "client_id": "5f0c6a4e-3c1c-4a8e-9a67-0e1d7f4f8a11",
        }  # fmt: skip
        return api(member).post(address, typed, "multipart")

    def test_is_recorded_as_such(self, api, finn, room):
        assert self.send(api, finn, room, "5").status_code == 302
        assert Energizing.objects.get().test_minutes == 5
        assert "A brief test, minutes: 5;" in text_of(
            api(finn).get(reverse("room", args=[room.pk]))
        )

    def test_is_bounded(self, api, finn, room):
        answer = self.send(api, finn, room, "11")
        assert "at most 10 minutes" in text_of(answer, 422)
        assert not Energizing.objects.exists()
