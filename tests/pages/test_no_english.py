"""Spanish readers: no page says a word of English but what people typed."""

import re
from html import unescape

import pytest
from django.urls import reverse

from tests.factories import JobFactory
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
