"""The pages of the office as a browser shows them: four widths, two schemes, axe, no complaints."""

from django.urls import reverse

from tests.factories import DeliveryFactory
from tests.pages.world import build


def test_every_page_of_the_office_can_be_read(context_of, looker, olive, finn, real_now):
    world = build(olive, finn, real_now)
    delivery = DeliveryFactory(contractor=olive.contractor)
    look = looker(context_of(olive).new_page()).look
    material = world.bathroom.elements.get().material_id
    pages = {
        "needs": reverse("home"),
        "board": reverse("jobs"),
        "job": reverse("job", args=[world.job.pk]),
        "lanes": reverse("job-lanes", args=[world.job.pk]),
        "room": reverse("room", args=[world.bathroom.pk]),
        "room-form": reverse("room-edit", args=[world.bathroom.pk]),
        "readings": reverse("checks", args=[world.bathroom.pk]),
        "plan": reverse("plan"),
        "customers": reverse("customers"),
        "customer": reverse("customer", args=[world.job.customer_id]),
        "job-form": reverse("job-add") + f"?customer={world.job.customer_id}",
        "catalogue": reverse("catalogue"),
        "material": reverse("material", args=[material]),
        "people": reverse("people"),
        "search": reverse("search") + "?q=Mill",
        "settings": reverse("own-settings"),
        "devices": reverse("devices"),
        "invite": reverse("invite"),
        "member": reverse("member-edit", args=[finn.pk]),
        "company": reverse("company"),
        "sheet": reverse("material-add", args=["mortar"]),
        "generic": reverse("generic-add"),
        "meters": reverse("meters"),
        "meter": reverse("meter", args=[world.meter.instrument_id]),
        "crews": reverse("crews"),
        "crew-form": reverse("crew-add"),
        "job-lists": reverse("job-lists"),
        "visits-import": reverse("visits-import", args=[world.job.pk]),
        "trade-form": reverse("trade-add", args=[world.job.pk]),
        "feeds": reverse("feeds"),
        "webhooks": reverse("webhooks"),
        "webhook": reverse("webhook", args=[delivery.webhook_id]),
        "delivery": reverse("delivery", args=[delivery.pk]),
    }
    for name, url in pages.items():
        look(url, name)
    assert look.__self__.complaints == []


def test_log_in_by_keyboard_and_out_again(context_of, looker, olive):
    olive.set_password("a long enough one")
    olive.save()
    page = context_of().new_page()
    watcher = looker(page)
    page.goto("/")
    assert page.url.endswith("/login/?next=%2F")
    watcher.check("login")
    page.reload()
    page.keyboard.type("olive@alder.example")
    page.keyboard.press("Tab")
    page.keyboard.type("not this one")
    page.keyboard.press("Enter")
    page.get_by_role("alert").wait_for()
    watcher.check("login-wrong")
    page.get_by_label("Password").fill("a long enough one")
    page.keyboard.press("Enter")
    page.wait_for_url("**/")
    assert page.get_by_role("heading", level=1).inner_text() == "No open jobs yet"
    watcher.check("needs-empty")
    page.goto("/settings/")
    page.get_by_role("button", name="Log out").click()
    page.wait_for_url("**/login/")
    assert watcher.complaints == []
