"""Every page by Tab alone, and what one does in a room and with a plan without a mouse."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import LayingPlan, LayingSearch
from scheduling.models import Booking
from tests.browser.addresses import field_pages, office_pages, room_pages
from tests.browser.test_public import addresses
from tests.pages.world import build

# What can be pressed or filled in, in the order of the source; of radio buttons the one that Tab
# stops at. A field of a date has stops inside, so a stop may repeat.
STOPS = """() => {
  const shown = (each) => each.checkVisibility({ visibilityProperty: true }) && !each.disabled;
  const own = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]";
  const found = [...document.querySelectorAll(own)].filter((e) => shown(e) && e.tabIndex >= 0);
  const alike = (one, other) => one.type === "radio" && one.name === other.name
    && one.form === other.form;
  const stops = found.filter((each) => {
    if (each.type !== "radio") return true;
    const group = found.filter((one) => alike(one, each));
    return each === (group.find((one) => one.checked) || group[0]);
  });
  stops.forEach((each, at) => each.setAttribute("data-stop", at));
  return stops.map((each) => each.outerHTML.slice(0, 120));
}"""
FROM_THE_TOP = """() => {
  document.body.tabIndex = -1;
  document.body.focus();
  document.body.removeAttribute("tabindex");
}"""
# Where the focus is: its number, and whether it is seen there.
FOCUS = """() => {
  const each = document.activeElement;
  if (!each || each === document.body) return null;
  const ring = (one) => {
    const style = getComputedStyle(one);
    return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 3;
  };
  const box = each.getBoundingClientRect(), big = each.closest(".big");
  return {
    at: Number(each.getAttribute("data-stop") ?? -1),
    seen: ring(each) || (big !== null && ring(big))
      || (each.matches(".grip") && parseFloat(getComputedStyle(each).strokeWidth) >= 3
        && getComputedStyle(each).strokeOpacity > 0.5),
    inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
    html: each.outerHTML.slice(0, 120),
  };
}"""


def walk(page, url):
    """Press Tab through a page until the focus leaves it; return what is wrong with the way."""
    assert page.goto(url).status == 200, url
    page.locator("[hx-trigger=load]").wait_for(state="detached")
    stops = page.evaluate(STOPS)
    page.evaluate(FROM_THE_TOP)
    wrong, way = [], []
    for _ in range(6 * len(stops) + 10):
        page.keyboard.press("Tab")
        here = page.evaluate(FOCUS)
        if here is None or (here["at"] == 0 and len(stops) - 1 in way):
            break
        if way and way[-1] == here["at"]:
            continue  # inside a field of a date, which the browser draws
        way.append(here["at"])
        if not here["seen"]:
            wrong.append(f"no ring: {here['html']}")
        if not here["inside"]:
            wrong.append(f"out of sight: {here['html']}")
    else:
        wrong.append("the focus does not leave the page")
    wrong += [f"not reached: {stops[at]}" for at in sorted(set(range(len(stops))) - set(way))]
    known = [at for at in way if at >= 0]
    if known != sorted(known):
        wrong.append(f"out of order: {way}")
    return [f"{url}: {each}" for each in wrong]


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


def test_every_page_of_the_office_and_of_a_room_can_be_walked(context_of, olive, finn, world):
    page = context_of(olive).new_page()
    urls = {**office_pages(world, finn), **room_pages(world)}.values()
    wrong = [each for url in urls for each in walk(page, url)]
    assert wrong == [], "\n".join(wrong)


def test_every_page_of_the_phone_and_behind_links_can_be_walked(
    context_of, olive, finn, world, real_now
):
    page = context_of(finn, service_workers="block").new_page()
    wrong = [each for url in field_pages(world).values() for each in walk(page, url)]
    public = context_of().new_page()
    urls = [*addresses(olive, world, real_now), reverse("login"), reverse("password-reset")]
    wrong += [each for url in urls for each in walk(public, url)]
    assert wrong == [], "\n".join(wrong)


def test_the_first_stop_leads_past_the_head_of_the_page(context_of, olive, world):
    page = context_of(olive).new_page()
    page.goto(reverse("room", args=[world.bathroom.pk]))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.innerText") == "To the page"
    assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")


def tab_to(page, css):
    """Press Tab until the focus is on what `css` finds."""
    for _ in range(120):
        page.keyboard.press("Tab")
        if page.evaluate("css => document.activeElement.matches(css)", css):
            return
    raise AssertionError(f"{css} is not reached by Tab")


def drawn_anew(page, *keys):
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        for key in keys:
            page.keyboard.press(key)
    page.wait_for_timeout(50)


def test_a_room_is_changed_and_marked_by_keyboard_alone(context_of, olive, world):
    page = context_of(olive).new_page()
    page.goto(reverse("room-edit", args=[world.bathroom.pk]))
    tab_to(page, '[data-key="move-1"]')
    drawn_anew(page, "ArrowLeft", "Shift+ArrowLeft")
    tab_to(page, "main form button.do:not([name])")
    page.keyboard.press("Enter")
    page.wait_for_url("**/rooms/*/")
    moved = world.bathroom.keep_outs.get(position=1)
    assert moved.outline[0] == [2400 - 110, 1700]

    page.goto(reverse("room-as-laid", args=[world.bathroom.pk]))
    tab_to(page, '[data-key="sensor-0"]')
    drawn_anew(page, "ArrowLeft")
    page.get_by_text("Sensor lies").wait_for()
    tab_to(page, "button.do")
    page.keyboard.press("Enter")
    page.wait_for_url("**/rooms/*/")
    assert LayingPlan.objects.latest("pk").plan["sensor"][0] == 1490


def test_a_way_to_lay_a_floor_is_looked_for_and_chosen_by_keyboard_alone(
    context_of, olive, world, real_now
):
    page = context_of(olive).new_page()
    page.goto(reverse("room-plans", args=[world.bathroom.pk]))
    tab_to(page, "main button.do")
    page.keyboard.press("Enter")
    page.get_by_role("status").wait_for()
    figures = ("heatable_m2", "covered_m2", "turns_per_m2", "mesh_share", "wire_m")
    stored = LayingPlan.objects.get(room=world.bathroom)
    LayingSearch.objects.update(
        claimed_at=real_now,
        finished_at=real_now,
        found=[{"plan": stored.plan, "measures": dict.fromkeys(figures, 1.0)}],
    )
    page.locator('button[name="choice"]').wait_for()  # without a reload
    tab_to(page, 'button[name="choice"]')
    page.keyboard.press("Enter")
    # It is no way that the solver would have found, so it is judged and refused.
    page.get_by_role("alert").wait_for()
    assert page.evaluate("document.activeElement.getAttribute('role')") == "alert"


def test_a_fault_and_a_place_to_fasten_are_found_by_keyboard_alone(context_of, olive, world):
    page = context_of(olive).new_page()
    page.goto(reverse("room-fault", args=[world.bathroom.pk]))
    for name, shows in (("loop_ohms", "100"), ("from_a_ohms", "50"), ("from_b_ohms", "70")):
        tab_to(page, f"[name={name}]")
        page.keyboard.type(shows)
    tab_to(page, "[name=construction]")
    page.keyboard.press("ArrowUp")
    tab_to(page, "[name=range]")
    page.keyboard.press("ArrowDown")
    tab_to(page, "button.do")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="m from the splice").wait_for()
    page.goto(reverse("room-fasten", args=[world.bathroom.pk]))
    tab_to(page, "[name=right]")
    page.keyboard.type("1200")
    tab_to(page, "[name=into]")
    page.keyboard.type("900")
    page.keyboard.press("Enter")
    page.wait_for_url("**right=1200&into=900**")
    assert page.locator(".say").count() == 1


def test_a_booking_is_moved_by_keyboard_alone(context_of, olive, world, real_today):
    page = context_of(olive).new_page()
    booking = Booking.objects.get(task="embed", room=world.bathroom)
    page.goto(reverse("plan"))
    tab_to(page, f'a[href="{reverse("booking", args=[booking.pk])}"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/bookings/**")
    day = real_today + timedelta(days=3)
    tab_to(page, "[name=day]")
    page.keyboard.type(f"{day:%m%d%Y}")
    tab_to(page, "button.do:not([name])")
    page.keyboard.press("Enter")
    page.wait_for_load_state()
    booking.refresh_from_db()
    said = page.locator("main").inner_text()
    assert booking.day == day or "Nearest possible" in said, said
