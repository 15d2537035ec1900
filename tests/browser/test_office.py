"""The pages of the office as a browser shows them: four widths, two schemes, axe, no complaints."""

from tests.browser.addresses import office_pages
from tests.pages.world import build


def test_every_page_of_the_office_can_be_read(context_of, looker, olive, finn, real_now):
    world = build(olive, finn, real_now)
    look = looker(context_of(olive).new_page()).look
    for name, url in office_pages(world, finn).items():
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
    page.locator("[name=username]:focus").wait_for()  # by itself, shortly after it is loaded
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
