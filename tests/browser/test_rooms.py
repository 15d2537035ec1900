"""A room in a browser: dragged and moved by keys as well as typed; a photo touched."""

from io import BytesIO

import pytest
from django.urls import reverse
from PIL import Image

from jobs.models import KeepOut, LayingPlan, Room
from tests.browser.addresses import room_pages
from tests.pages.world import build


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


def middle(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page, start, by):
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(start[0] + by[0], start[1] + by[1], steps=4)
    page.mouse.up()


def drawn_anew(page, act):
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        act()
    page.wait_for_timeout(50)


def test_what_stands_in_a_room_is_dragged_drawn_and_moved_by_keys(context_of, looker, olive, world):
    page = context_of(olive).new_page()
    complaints = looker(page).complaints
    page.goto(reverse("room-edit", args=[world.bathroom.pk]))
    right, up = page.locator("#id_keep-1-right"), page.locator("#id_keep-1-up")
    width = page.locator("svg.plan").bounding_box()["width"]
    mm = 3750 / width  # the drawing is 1000 units wide, the room 800 of them
    toilet = page.locator('[data-key="move-1"]')
    assert (right.input_value(), up.input_value()) == ("2400", "1700")
    drawn_anew(page, lambda: drag(page, middle(toilet), (-100, 60)))
    assert float(right.input_value()) == pytest.approx(2400 - 100 * mm, abs=mm + 1)
    assert float(up.input_value()) == pytest.approx(1700 - 60 * mm, abs=mm + 1)
    # The drawing is another one now; the grip keeps the focus, and keys go on from there.
    before = float(right.input_value())
    assert page.evaluate("document.activeElement.dataset.key") == "move-1"
    drawn_anew(page, lambda: page.keyboard.press("Shift+ArrowRight"))
    assert float(right.input_value()) == before + 100
    size = page.locator('[data-key="size-1"]')
    size.focus()
    drawn_anew(page, lambda: page.keyboard.press("ArrowUp"))
    assert page.locator("#id_keep-1-depth").input_value() == "410"
    # A shape that is drawn goes into the first empty row.
    page.get_by_role("button", name="Draw a shape on the plan").click()
    box = page.locator("svg.plan").bounding_box()
    start = (box["x"] + box["width"] * 0.3, box["y"] + box["height"] * 0.6)
    drawn_anew(page, lambda: drag(page, start, (80, 40)))
    assert page.locator("#id_keep-2-kind").input_value() == "fixture"
    assert float(page.locator("#id_keep-2-width").input_value()) == pytest.approx(80 * mm, abs=3)
    page.get_by_role("button", name="Keep the room").click()
    page.wait_for_url("**/rooms/*/")
    assert KeepOut.objects.filter(room=world.bathroom).count() == 3
    assert complaints == []


def test_walls_are_drawn_while_they_are_typed_with_what_they_miss(context_of, olive, world):
    page = context_of(olive).new_page()
    page.goto(reverse("room-add", args=[world.job.pk]))
    page.get_by_label("Name of the room").fill("Hall")
    page.get_by_label("Wall by wall").check()
    walls = page.get_by_label("Its walls")
    assert page.get_by_label("Width", exact=True).is_hidden()
    walls.fill("3000 left\n2400 left\n3000 left\n2000 left")
    drawn_anew(page, lambda: walls.blur())
    page.get_by_text("misses the start by 400 mm").first.wait_for()
    assert page.locator("#picture path.fault").count() == 1
    walls.fill("3000 left\n2400 left\n3000 left\n2390 left")
    drawn_anew(page, lambda: walls.blur())
    page.get_by_text("it was spread over the walls").wait_for()
    page.get_by_role("button", name="Keep the room").click()
    page.wait_for_url("**/rooms/*/")
    assert len(Room.objects.get(name="Hall", job=world.job).outline) == 4


def test_a_mark_is_dragged_and_what_differs_is_told(context_of, looker, finn, world):
    page = context_of(finn).new_page()
    watcher = looker(page)
    page.goto(reverse("room-as-laid", args=[world.bathroom.pk]))
    sensor = page.locator('[data-key="sensor-0"]')
    drawn_anew(page, lambda: drag(page, middle(sensor), (-60, 0)))
    page.get_by_text("Sensor lies").wait_for()
    page.locator('button[data-place="J"]').click()
    splice = middle(page.locator('[data-key="splice-0"]'))
    drawn_anew(page, lambda: page.mouse.click(*splice))
    page.get_by_text("A joint lies 0.0").wait_for()
    watcher.check("as-laid")
    page.set_viewport_size({"width": 1280, "height": 900})
    page.get_by_role("button", name="Keep as laid").click()
    page.wait_for_url("**/rooms/*/")
    laid = LayingPlan.objects.order_by("-pk").first()
    assert laid.plan["sensor"][0] < 1400
    assert len(laid.plan["elements"][0]["joints"]) == 1
    assert watcher.complaints == []


def test_a_photo_is_taken_in_and_touched(context_of, looker, finn, world):
    file = BytesIO()
    Image.new("RGB", (1500, 1200), "grey").save(file, "JPEG")
    page = context_of(finn, viewport={"width": 390, "height": 844}).new_page()
    watcher = looker(page)
    page.goto(reverse("room-photos", args=[world.bathroom.pk]))
    page.get_by_label("Photo of the floor").set_input_files(
        {"name": "floor.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}
    )
    page.get_by_role("button", name="Keep the photo").click()
    page.wait_for_url("**/photos/*/")
    assert page.locator("img").count() == 0
    page.get_by_role("link", name="Show photo").click()
    page.locator("img[data-photo]").wait_for()
    assert page.evaluate("document.images[0].decode().then(() => document.images[0].naturalWidth)")
    page.locator('button[data-photo="1"]').first.click()
    page.locator("img[data-photo]").click(position={"x": 50, "y": 40})
    scale = 1500 / page.locator("img[data-photo]").bounding_box()["width"]
    assert float(page.locator("#id_x-0").input_value()) == pytest.approx(50 * scale, abs=scale + 1)
    assert float(page.locator("#id_y-0").input_value()) == pytest.approx(40 * scale, abs=scale + 1)
    watcher.check("photo")
    assert watcher.complaints == []


def test_every_other_page_of_a_room_can_be_read(context_of, looker, olive, world):
    look = looker(context_of(olive).new_page()).look
    for name, url in room_pages(world).items():
        look(url, f"room-{name}")
    assert look.__self__.complaints == []
