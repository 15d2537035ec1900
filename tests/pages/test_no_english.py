"""Spanish readers: no page says a word of English but what people typed."""

import re
from html import unescape
from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.models import Material
from scheduling.actions.notices import review_visit
from scheduling.models import Energizing, WarmUpStep
from tests.factories import JobFactory, LayingSearchFactory
from tests.pages.test_help import of_the_record
from tests.pages.world import build
from tests.test_access import ACCESS, things  # noqa: F401 - a fixture

# Words that any English sentence has some of, and that are none in Spanish.
TELLING = (
    "the of and is are was were be with not for from this it its that at on but or an to by if "
    "than has have when what which who where only yet then they you your here there"
)
WORD = re.compile(rf"(?<![\w’'-])(?:{TELLING.replace(' ', '|')})(?![\w’'-])", re.IGNORECASE)
ENGLISH = {"problem-type"}  # of the API, which speaks English


@pytest.fixture
def world(olive, finn, real_now):
    olive.language = "es"
    olive.save()
    found = build(olive, finn, real_now)
    JobFactory.reset_sequence(100, force=True)  # beyond the numbers of the world's jobs
    return found


def english(response):
    """The pieces of text of a page that have English in them."""
    page = re.sub(r"<(script|style).*?</\1>", "", response.content.decode(), flags=re.DOTALL)
    page = re.sub(r"<[^>]* (?:aria-label|alt|title)=\"([^\"]*)\"", r"<>\1<", page)
    pieces = (" ".join(unescape(piece).split()) for piece in re.split(r"<[^>]*>", page))
    return {piece for piece in pieces if WORD.search(piece)}


def test_no_page_says_english_to_a_spanish_reader(api, olive, world, things):  # noqa: F811
    found = set()
    for method, route in ACCESS:
        if method != "GET" or route.startswith("api-") or route in ENGLISH:
            continue
        given = things.get(route) or {}
        rooms = (world.bathroom.pk, world.kitchen.pk) if "room_id" in given else (None,)
        for room in rooms:
            kwargs = given | ({"room_id": room} if room else {})
            kwargs |= {"job_id": world.job.pk} if "job_id" in given else {}
            answer = api(olive).get(reverse(route, kwargs=kwargs), HTTP_ACCEPT_LANGUAGE="es")
            if answer["Content-Type"].startswith("text/html"):
                found |= {f"{route}: {piece}" for piece in english(answer)}
    found |= english(api(olive).get(reverse("password-change")))  # by the member, not the browser
    assert sorted(found) == []


def test_what_was_stored_in_english_is_said_in_spanish(api, olive, world, real_now):
    kitchen, of_alder = world.kitchen, {"contractor": olive.contractor}
    world.visit.notices.all().delete()
    review_visit(visit=world.visit, at=real_now)
    Material.objects.update(generic=True)
    small = "The heatable floor is 0.42 m², less than the smallest element of the catalogue needs"
    LayingSearchFactory(
        room=kitchen, asked_by=olive, finished_at=real_now, refused=f"{small} (about 1.65 m²).",
        problem={"elements": []}, **of_alder,
    )  # fmt: skip
    element = world.bathroom.elements.get()
    fault = (
        f"?element={element.pk}&method=core_to_ground&construction=twin-equal&ends=known"
        "&loop_ohms=98&from_a_ohms=40&from_b_ohms=70"
    )
    pages = [
        *of_the_record(world, real_now),
        reverse("room-plans", args=[kitchen.pk]),
        reverse("room-fault", args=[world.bathroom.pk]) + fault,
    ]
    found = {f"{at}: {piece}" for at in pages for piece in english(in_spanish(api(olive), at))}
    heat = Energizing.objects.create(
        room=kitchen, at=real_now, recorded_by=olive, client_id=uuid4(),
        decision=kitchen.decisions.get(), **of_alder,
    )  # fmt: skip
    WarmUpStep.objects.create(
        energizing=heat, step=1, done_at=real_now, recorded_by=olive, **of_alder,
        stopped_because="The floor is at 31 °C, above its limit of 27 °C. Switch off and look at "
        "the control and the sensor.",
    )  # fmt: skip
    for at in (reverse("home"), reverse("handover", args=[world.job.pk])):
        page = in_spanish(api(olive), at)
        assert "31 °C" in page.content.decode(), at
        found |= english(page)
    assert sorted(found) == []


def in_spanish(client, address):
    return client.get(address + ("&" if "?" in address else "?") + "lang=es")
