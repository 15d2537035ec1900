"""What pages weigh as the browser counts it; later visits of the phone come from the phone."""

import pytest
from django.urls import reverse

from tests.browser.test_public import addresses
from tests.pages.world import build

KB = 1000
PHONE = {"viewport": {"width": 390, "height": 664}}


def transfers(context):
    """What a browser asks the network for from now on, its service worker too."""
    found = []
    context.on("requestfinished", lambda request: found.append(request))
    return found


def weight(requests):
    """Bytes of the answers as they came, with their heads; nothing for what the phone had."""
    total = 0
    for request in requests:
        response = request.response()
        if response is not None and not response.from_service_worker:
            sizes = request.sizes()
            total += sizes["responseBodySize"] + sizes["responseHeadersSize"]
    return total


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


def test_a_first_visit_of_the_field_page_is_light_with_all_that_it_keeps(context_of, finn, world):
    context = context_of(finn, **PHONE)
    asked = transfers(context)
    page = context.new_page()
    page.goto(reverse("today"))
    page.get_by_text("Kept on this phone: rooms").wait_for()
    shown = [request for request in asked if not request.service_worker]
    assert [request.url for request in shown if request.url.endswith(".css")]
    assert len(asked) > len(shown) + 10  # pages of today's room, for when there is no signal
    assert weight(shown) < 50 * KB
    assert weight(asked) < 150 * KB


def test_later_visits_bring_the_shell_from_the_phone_and_all_without_signal(
    context_of, finn, world
):
    context = context_of(finn, **PHONE)
    page = context.new_page()
    page.goto(reverse("today"))
    page.get_by_text("Kept on this phone: rooms").wait_for()
    page.close()
    asked = transfers(context)
    page = context.new_page()
    page.goto(reverse("field-room", args=[world.bathroom.pk]))
    page.wait_for_load_state("networkidle")
    came = [
        request.url
        for request in asked
        if not request.service_worker
        and not ((answer := request.response()) and answer.from_service_worker)
    ]
    assert came == []
    assert weight(asked) < 10 * KB  # the page itself, fetched anew by the service worker
    context.set_offline(True)
    for name, args in (("today", []), ("field-room", [world.bathroom.pk]), ("outbox", [])):
        answer = page.goto(reverse(name, args=args))
        assert answer.from_service_worker
        assert answer.status == 200
        assert page.locator("link[rel=stylesheet]").evaluate("each => each.sheet !== null")
    assert page.get_by_role("heading", name="On this phone").is_visible()


def test_what_trades_and_owners_open_is_light(context_of, olive, world, real_now):
    for address in addresses(olive, world, real_now):
        context = context_of(**PHONE)
        asked = transfers(context)
        page = context.new_page()
        page.goto(address)
        page.wait_for_load_state("networkidle")
        assert len(asked) >= 2, address
        assert weight(asked) < 100 * KB, address
