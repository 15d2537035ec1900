"""The phone on site: one hand, bad signal, a battery that dies, an answer that is lost."""

import re
from io import BytesIO

from django.urls import reverse
from PIL import Image

from jobs.models import RoomPhoto
from readings.models import Check, Reading, SiteTemperature
from tests.browser.addresses import field_pages
from tests.pages.world import build

PHONE = {"viewport": {"width": 390, "height": 664}, "has_touch": True}


def step_url(world, stage="laid", number=1):
    return reverse("measure-step", args=[world.bathroom.pk, stage, number])


def unsent(page):
    return page.locator("#queue").inner_text()


def test_the_pages_of_the_phone_can_be_read(context_of, looker, olive, finn, real_now):
    world = build(olive, finn, real_now)
    look = looker(context_of(finn, service_workers="block").new_page())
    for name, url in field_pages(world).items():
        look.look(url, name)
    assert look.complaints == []


def test_a_reading_is_judged_at_once_and_the_next_one_offered(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    page = context_of(finn, service_workers="block", **PHONE).new_page()
    page.goto(reverse("measure", args=[world.bathroom.pk, "laid"]))
    page.get_by_role("link", name="It is off and dead: measure").tap()
    assert page.get_by_role("heading", level=1).inner_text().startswith("2 of 4")
    page.get_by_role("button", name="Meter shows over-range").tap()
    page.wait_for_url("**/field/checks/**")
    assert page.get_by_role("heading", level=1).inner_text() == "Pass"
    page.get_by_role("link", name="Next reading").tap()
    page.get_by_label("What does the meter show?").fill("12,5")
    page.get_by_role("button", name="Check this reading").tap()
    page.wait_for_url("**/field/checks/**")
    assert page.get_by_role("heading", level=1).inner_text() == "Fail"
    assert page.get_by_text("Do not cover. Do not switch on.").first.is_visible()
    readings = Reading.objects.filter(visit__room=world.bathroom).order_by("pk")
    assert [(r.kind, r.value, r.over_range) for r in readings][1:] == [
        ("lead_to_ground", None, True),
        ("lead_to_ground", 12.5, False),
    ]


def test_a_number_that_is_none_is_told_and_kept(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    page = context_of(finn, service_workers="block", **PHONE).new_page()
    page.goto(step_url(world))
    page.get_by_label("What does the meter show?").fill("98.0.1")
    page.get_by_role("button", name="Check this reading").tap()
    page.get_by_role("alert").wait_for()
    assert page.get_by_label("What does the meter show?").input_value() == "98.0.1"


def test_without_script_the_same_form_does_the_same(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    page = context_of(finn, java_script_enabled=False, **PHONE).new_page()
    page.goto(step_url(world))
    page.get_by_label("What does the meter show?").fill("100.4")
    page.get_by_role("button", name="Check this reading").tap()
    page.wait_for_url("**/field/checks/**")
    assert page.get_by_role("heading", level=1).inner_text() == "Pass"


def test_what_is_measured_without_signal_outlives_the_tab_and_is_sent_once(
    context_of, olive, finn, real_now
):
    world = build(olive, finn, real_now)
    context = context_of(finn, **PHONE)
    page = context.new_page()
    page.goto(reverse("today"))
    page.get_by_text("Kept on this phone").wait_for()
    before = Check.objects.count()
    context.set_offline(True)
    page.goto(step_url(world))
    page.get_by_label("What does the meter show?").fill("100.2")
    page.get_by_role("button", name="Check this reading").tap()
    page.get_by_role("heading", name="Pass: 100.2 Ω").wait_for()
    assert "1 not sent yet" in unsent(page)
    page.goto(step_url(world, number=2))
    page.get_by_label("What does the meter show?").fill("5")
    page.get_by_role("button", name="Check this reading").tap()
    page.get_by_role("heading", name="Fail: 5 Ω").wait_for()
    page.close()  # the battery dies
    page = context.new_page()
    page.goto(reverse("outbox"))
    page.get_by_text("Waits for signal").nth(1).wait_for()
    page.goto(reverse("measure", args=[world.kitchen.pk, "service"]))
    assert page.get_by_role("heading", level=1).inner_text() == "Not on this phone"
    assert Check.objects.count() == before
    context.set_offline(False)
    page.goto(reverse("outbox"))
    page.get_by_text("Sent and received").nth(1).wait_for()
    assert "All readings sent" in unsent(page)
    found = Reading.objects.filter(visit__room=world.bathroom).order_by("visit__sequence")
    assert [reading.value for reading in found] == [100.2, 100.2, 5.0]


def test_a_lost_answer_and_two_open_pages_make_no_second_check(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    context = context_of(finn, service_workers="block", **PHONE)
    page = context.new_page()
    lost = []

    def lose(route):
        if lost:
            route.continue_()
        else:
            lost.append(route.fetch())  # the server took it, the answer is gone
            route.abort("connectionreset")

    context.route(re.compile("/api/v1/checks/"), lose)
    before = Check.objects.count()
    page.goto(step_url(world))
    page.get_by_label("What does the meter show?").fill("99.9")
    page.get_by_role("button", name="Check this reading").tap()
    page.get_by_role("heading", name="Pass: 99.9 Ω").wait_for()
    assert lost[0].status == 201
    others = [context.new_page(), context.new_page()]
    for other in others:
        other.goto(reverse("outbox"))
    others[0].get_by_text("Sent and received").wait_for()
    assert Check.objects.count() == before + 1


def test_two_phones_in_one_room_lose_nothing_and_both_sets_can_be_compared(
    context_of, olive, finn, real_now
):
    world = build(olive, finn, real_now)
    before = Check.objects.count()
    phones = [context_of(who, service_workers="block", **PHONE) for who in (finn, olive)]
    for phone, shows in zip(phones, ("100.1", "104.9"), strict=True):
        page = phone.new_page()
        page.goto(step_url(world))
        phone.set_offline(True)
        page.get_by_label("What does the meter show?").fill(shows)
        page.get_by_role("button", name="Check this reading").tap()
        page.get_by_role("heading", name=f"Pass: {shows} Ω").wait_for()
    for phone in phones:
        phone.set_offline(False)
        page = phone.new_page()
        page.goto(reverse("outbox"))
        page.locator("[data-label]").first.wait_for()
    page.get_by_text("Two phones measured this. Both are kept.").wait_for()
    assert "1 measured twice" in unsent(page)
    page.get_by_role("link", name="Compare the two").tap()
    said = page.locator("main").inner_text()
    assert "100.1" in said
    assert "104.9" in said
    assert "Measured twice" in said
    assert Check.objects.count() == before + 2


def test_a_reading_is_taken_by_keyboard_alone(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    page = context_of(finn, service_workers="block").new_page()
    page.goto(reverse("measure", args=[world.bathroom.pk, "laid"]))
    press_until(page, "It is off and dead: measure")
    page.wait_for_url("**/laid/*/")
    field = page.get_by_label("What does the meter show?")
    for _ in range(20):
        if field.evaluate("each => each === document.activeElement"):
            break
        page.keyboard.press("Tab")
    page.keyboard.type("501")
    press_until(page, "Meter shows over-range")
    page.wait_for_url("**/field/checks/**")
    press_until(page, "Next reading")
    page.wait_for_url("**/laid/*/")


def press_until(page, name):
    """Go to a link or button by Tab, as far as it takes, and press it."""
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText").strip() == name:
            page.keyboard.press("Enter")
            return
    raise AssertionError(f"{name} is not reached by Tab")


def test_what_the_server_does_not_take_stays_and_says_why(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    page = context_of(finn, service_workers="block", **PHONE).new_page()
    page.goto(step_url(world))
    page.get_by_label("What does the meter show?").fill("50000")
    page.get_by_role("button", name="Check this reading").tap()
    page.wait_for_selector("#queue.stop")
    assert "1 could not be taken" in unsent(page)
    page.goto(reverse("outbox"))
    assert "200 Ω" in page.locator("[data-why]").first.inner_text()
    page.get_by_role("button", name="throw this away").tap()
    page.wait_for_selector("#queue.off")


def test_a_thermometer_without_signal_waits_too(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    context = context_of(finn, service_workers="block", **PHONE)
    page = context.new_page()
    page.goto(reverse("thermometer", args=[world.kitchen.pk]))
    context.set_offline(True)
    page.get_by_label("What does the thermometer show?").fill("13,5")
    page.get_by_role("button", name="Keep this temperature").tap()
    page.get_by_role("heading", name="Not sent: 13.5 °C").wait_for()
    assert not SiteTemperature.objects.filter(room=world.kitchen).exists()
    context.set_offline(False)
    page.goto(reverse("outbox"))
    page.get_by_text("Sent and received").wait_for()
    assert SiteTemperature.objects.get(room=world.kitchen).celsius == 13.5


def test_a_tab_killed_in_mid_request_sends_once_more_and_makes_no_second_check(
    context_of, olive, finn, real_now
):
    world = build(olive, finn, real_now)
    context = context_of(finn, service_workers="block", **PHONE)
    page = context.new_page()
    taken = []
    context.route(re.compile("/api/v1/checks/"), lambda route: taken.append(route.fetch()))
    before = Check.objects.count()
    page.goto(step_url(world))
    page.get_by_label("What does the meter show?").fill("98.8")
    page.get_by_role("button", name="Check this reading").tap()
    for _ in range(100):
        if taken:
            break
        page.wait_for_timeout(50)
    page.close()
    assert taken[0].status == 201
    context.unroute_all()
    page = context.new_page()
    page.goto(reverse("outbox"))
    page.get_by_text("Sent and received").wait_for()
    assert Check.objects.count() == before + 1


def test_a_photo_without_signal_waits_on_the_phone_and_goes_out_small(
    context_of, looker, olive, finn, real_now
):
    world = build(olive, finn, real_now)
    file = BytesIO()
    Image.effect_noise((3200, 2400), 90).save(file, "JPEG")
    context = context_of(finn, service_workers="block", **PHONE)
    page = context.new_page()
    watcher = looker(page)
    page.goto(reverse("field-room", args=[world.bathroom.pk]))
    context.set_offline(True)
    page.get_by_label("Photo of the floor").set_input_files(
        {"name": "floor.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}
    )
    page.get_by_role("button", name="Keep the photo").tap()
    page.get_by_role("heading", name="Not sent: photo").wait_for()
    assert "1 not sent yet" in unsent(page)
    watcher.complaints.clear()  # that there is no network
    watcher.check("photo-kept")
    page.close()  # the battery dies
    context.set_offline(False)
    sent = []
    context.on("request", lambda request: sent.append(request))
    page = context.new_page()
    page.goto(reverse("outbox"))
    page.get_by_text("Sent and received").wait_for()
    kept = RoomPhoto.objects.get(room=world.bathroom)
    assert (kept.width_px, kept.height_px) == (1600, 1200)
    (post,) = [request for request in sent if request.method == "POST"]
    assert len(post.post_data_buffer or b"") < len(file.getvalue()) / 3
    assert watcher.complaints == []


def test_a_photo_with_signal_is_told_as_kept(context_of, olive, finn, real_now):
    world = build(olive, finn, real_now)
    file = BytesIO()
    Image.new("RGB", (1500, 1200), "grey").save(file, "JPEG")
    page = context_of(finn, service_workers="block", **PHONE).new_page()
    page.goto(reverse("field-room", args=[world.bathroom.pk]))
    page.get_by_label("Photo of the floor").set_input_files(
        {"name": "floor.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}
    )
    page.get_by_role("button", name="Keep the photo").tap()
    page.get_by_text("The photo is kept, without its place and camera.").wait_for()
    assert RoomPhoto.objects.filter(room=world.bathroom).count() == 1
