"""A value without a data sheet is marked on every page and paper that rests on it."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.actions.links import make_link
from jobs.models import Job, Material, Room
from scheduling.models import Layer
from tests.factories import BookingFactory, LayerFactory, VisitingTradeFactory
from tests.pages.world import build

LASTS = timedelta(days=1)


@pytest.fixture
def world(olive, finn, real_now, real_today):
    """A kitchen whose mortar hardens and has no sheet, and its tiles booked for today.

    It is late, and the hall of another job waits for the same mortar.
    """
    found = build(olive, finn, real_now)
    Job.objects.filter(pk=found.job.pk).update(due_on=real_today)
    LayerFactory(
        contractor=olive.contractor,
        room=Room.objects.get(job__street="2 Church Row"),
        material=Material.objects.get(name="Mortar bed"),
        placed_at=real_now - timedelta(hours=2),
        placed_by=finn,
    )
    Material.objects.filter(name="Mortar bed").update(generic=True)
    Layer.objects.filter(room=found.kitchen).update(placed_at=real_now - timedelta(hours=2))
    crew = found.job.bookings.order_by("pk").first().crew
    BookingFactory(
        contractor=olive.contractor,
        crew=crew,
        job=found.job,
        room=found.kitchen,
        task="tile",
        day=real_today,
        half="pm",
        booked_by=olive,
    )
    return found


def addresses(world, now, today):
    """Every page that shows a time which rests on the mortar."""

    def secret(purpose, subject=None):
        return make_link(job=world.job, purpose=purpose, at=now, lasts=LASTS, subject_id=subject)[1]

    kitchen = [world.kitchen.pk]
    trade = VisitingTradeFactory(contractor=world.job.contractor, job=world.job)
    owner = secret("owner")
    return {
        "plan": reverse("plan"),
        "needs you": reverse("home"),
        "board": reverse("jobs"),
        "day sheets": reverse("day-sheets", args=[today]),
        "job": reverse("job", args=[world.job.pk]),
        "lanes": reverse("job-lanes", args=[world.job.pk]),
        "room": reverse("room", args=kitchen),
        "field room": reverse("field-room", args=kitchen),
        "warm-up": reverse("warm-up", args=kitchen),
        "warm-up file": reverse("warm-up-calendar", args=kitchen),
        "owner": reverse("owner", args=[owner]),
        "owner's calendar": reverse("owner-calendar", args=[owner]),
        "trade": reverse("trade", args=[secret("trade", trade.pk)]),
        "label": reverse("label", args=[secret("label", world.kitchen.pk)]),
    }


def says_so(page):
    text = page.content.decode().replace("\r\n ", "")
    told = (
        "figures of Mortar bed are assumptions",
        "without a data sheet: Mortar bed",
        "Rests on assumptions, without a data sheet.",
        "· Assumed",
    )
    return any(each in " ".join(text.split()) for each in told)


def test_every_page_that_rests_on_an_assumption_says_so(api, olive, world, real_now, real_today):
    pages = addresses(world, real_now, real_today)
    without = [name for name, address in pages.items() if not says_so(api(olive).get(address))]
    assert without == []
    Material.objects.update(generic=False)
    Layer.objects.update(thickness_mm=9)  # a calendar is worked out anew with the next fact
    still = [name for name, address in pages.items() if says_so(api(olive).get(address))]
    assert still == []
