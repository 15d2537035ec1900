"""Where a page says a verdict, a hold, a date or a figure, it opens to how that was worked out."""

import re

import pytest
from django.urls import reverse

from jobs.actions.links import make_link
from scheduling.actions.notices import link_to, review_visit
from tests.factories import VisitingTradeFactory
from tests.pages.test_assumed import LASTS
from tests.pages.world import build

EXPLAINED = re.compile(r'<details class="why"><summary>[^<]*</summary>\s*<ul><li>[^<]', re.DOTALL)
CAUTION = '<div class="caution" role="note">'


@pytest.fixture
def world(olive, finn, real_now):
    found = build(olive, finn, real_now)
    found.visit.notices.all().delete()
    review_visit(visit=found.visit, at=real_now)
    return found


def of_the_record(world, now):
    """Pages with figures -> how many of their parts open to an explanation, at least."""

    def secret(purpose, subject=None):
        return make_link(job=world.job, purpose=purpose, at=now, lasts=LASTS, subject_id=subject)[1]

    kitchen, bathroom = [world.kitchen.pk], [world.bathroom.pk]
    check = world.bathroom.checks.get()
    trade = VisitingTradeFactory(contractor=world.job.contractor, job=world.job)
    notice = link_to(world.visit.notices.get(), at=now)
    return {
        reverse("room", args=kitchen): 2,
        reverse("job", args=[world.job.pk]): 1,
        reverse("job-lanes", args=[world.job.pk]): 1,
        reverse("handover", args=[world.job.pk]): 1,
        reverse("checks", args=bathroom): 1,
        reverse("verdict", args=[check.pk]): 1,
        reverse("measure-step", args=[world.kitchen.pk, "covered", 1]): 1,
        reverse("measure-step", args=[world.kitchen.pk, "covered", 2]): 1,
        reverse("what-if", args=kitchen) + "?room_c=22": 1,
        reverse("plan"): 1,
        notice[notice.index("/notice/") :]: 1,
        reverse("warm-up", args=kitchen): 1,
        reverse("owner", args=[secret("owner")]): 1,
        reverse("trade", args=[secret("trade", trade.pk)]): 1,
        reverse("label", args=[secret("label", world.kitchen.pk)]) + "?right=500&into=500": 2,
        reverse("room-fasten", args=bathroom) + "?right=500&into=500": 1,
    }


def test_figures_open_to_how_they_were_worked_out(api, olive, world, real_now):
    found = {}
    for address, least in of_the_record(world, real_now).items():
        page = api(olive).get(address).content.decode()
        if (count := len(EXPLAINED.findall(page))) < least:
            found[address] = count
    assert found == {}


def test_a_caution_stands_where_somebody_measures_connects_or_energizes(api, olive, world):
    room = world.kitchen.pk
    pages = [
        reverse("measure", args=[room, "laid"]),
        reverse("measure-step", args=[room, "laid", 1]),
        reverse("room-fault", args=[room]),
        reverse("room-circuit", args=[room]),
        reverse("install", args=[room, "control"]),
        reverse("heat-on", args=[room]),
        reverse("warm-up", args=[room]),
        reverse("field-warm-up", args=[room]),
    ]
    without = [page for page in pages if CAUTION not in api(olive).get(page).content.decode()]
    assert without == []
