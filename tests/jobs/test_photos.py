"""Photos of a floor: kept without place and camera, once, and set against the outline."""

from io import BytesIO
from struct import pack
from zlib import crc32

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from PIL import Image

from config.tenancy import violated
from jobs import photo
from jobs.models import LayingPlan, PhotoScale, RoomPhoto
from tests.pages.world import build

GPS, MAKER = 0x8825, 0x010F
CORNERS = [(0, 0), (3000, 0), (3000, 2400), (0, 2400), (1500, 1200)]


def picture(*, size=(2000, 1500), form="JPEG", orientation=1, colour="grey"):
    """A picture as a phone writes it: with its place, its camera and a comment."""
    image = Image.new("RGB", size, colour)
    image.paste("white", (0, 0, size[0] // 2, size[1] // 4))
    exif = Image.Exif()
    exif[MAKER] = "Invented Phone"
    exif[0x0112] = orientation
    exif.get_ifd(GPS)[2] = (59.0, 54.0, 0.0)
    file = BytesIO()
    more = {"comment": b"Ada lives here"} if form == "JPEG" else {}
    image.save(file, form, exif=exif, **more)
    return file.getvalue()


def header(width, height):
    """The beginning of a PNG that says how much it would unpack to."""
    end = pack(">I", 0) + b"IDAT" + pack(">I", crc32(b"IDAT"))
    said = b"IHDR" + pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + pack(">I", 13) + said + pack(">I", crc32(said)) + end


def pixel(x, y):
    """A camera that looks down: 2 mm to a pixel, upside down."""
    return [x / 2, (2400 - y) / 2]


@pytest.mark.parametrize("form", photo.FORMATS)
def test_what_is_kept_tells_no_place_and_no_camera(form):
    sent = picture(form=form)
    assert b"Invented Phone" in sent
    kept = photo.cleaned(sent)
    with Image.open(BytesIO(kept.jpeg)) as image:
        assert (image.format, dict(image.getexif())) == ("JPEG", {})
        assert {"comment", "exif", "xmp", "icc_profile"} & set(image.info) == set()
    assert b"Ada" not in kept.jpeg
    assert b"Invented" not in kept.jpeg
    assert (kept.width_px, kept.height_px) == (1600, 1200)


def test_a_photo_taken_upright_is_kept_upright():
    kept = photo.cleaned(picture(orientation=6))
    assert (kept.width_px, kept.height_px) == (1200, 1600)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no photo that can be read"),
        (b"<svg onload='alert(1)'/>", "no photo that can be read"),
        (picture()[:300], "no photo that can be read"),
        (b"GIF89a" + bytes(100), "no photo that can be read"),
        (header(10_000, 8_001), "too many pixels"),
        (header(30_000, 30_000), "too many pixels"),
        (bytes(photo.MOST_BYTES + 1), "more than 20 MB"),
    ],
    ids=["empty", "svg", "cut off", "another format", "many", "a bomb", "too large"],
)
def test_what_is_no_photo_is_refused(data, says):
    with pytest.raises(photo.UnusablePhoto, match=says):
        photo.cleaned(data)


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


def sent(name="floor.jpg", **options):
    return SimpleUploadedFile(name, picture(**options), content_type="image/jpeg")


@pytest.fixture
def kept(api, finn, world):
    at = f"/api/v1/rooms/{world.bathroom.pk}/photos/"
    answer = api(finn).post(at, {"image": sent()}, format="multipart")
    assert answer.status_code == 201, answer.content
    return answer.json()


def test_the_same_photo_sent_twice_is_one(api, finn, vera, world, kept):
    at = f"/api/v1/rooms/{world.bathroom.pk}/photos/"
    again = api(finn).post(at, {"image": sent("other.jpg")}, format="multipart")
    assert again.json()["id"] == kept["id"]
    listed = api(vera).get(at).json()["results"]
    assert [row["id"] for row in listed] == [kept["id"]]


def test_only_its_own_company_sees_a_photo(api, vera, bo, kept):
    image = api(vera).get(kept["image"])
    assert image["Content-Type"] == "image/jpeg"
    assert image["X-Content-Type-Options"] == "nosniff"
    assert "private" in image["Cache-Control"]
    assert len(image.content) == kept["size_bytes"]
    assert api(bo).get(kept["image"]).status_code == 404
    assert api(None).get(kept["image"]).status_code == 401


def test_a_file_that_is_none_is_told(api, finn, world, problem):
    at = f"/api/v1/rooms/{world.bathroom.pk}/photos/"
    file = SimpleUploadedFile("floor.jpg", b"no picture", content_type="image/jpeg")
    refused = api(finn).post(at, {"image": file}, format="multipart")
    assert (refused.status_code, problem(refused)["errors"][0]["pointer"]) == (422, "#/image")


@pytest.mark.parametrize("rows", [PhotoScale.objects, RoomPhoto.objects])
def test_photos_and_their_points_are_never_edited(api, finn, kept, rows):
    if rows is PhotoScale.objects:
        scaled(api, finn, kept)
    for change in (rows.all().delete, lambda: rows.update(contractor=None)):
        with pytest.raises(IntegrityError) as refused, transaction.atomic():
            change()
        assert violated(refused.value) == f"{rows.model.__name__.lower()}_never_edited"


def scaled(api, finn, kept):
    points = [{"pixel": pixel(x, y), "floor_mm": [x, y]} for x, y in CORNERS]
    answer = api(finn).post(f"/api/v1/photos/{kept['id']}/scales/", {"points": points})
    assert answer.status_code == 201, answer.content
    return answer.json()


def test_marks_on_a_photo_become_the_plan_as_laid(api, finn, world, kept):
    scale = scaled(api, finn, kept)
    assert scale["tolerance_mm"] == 10  # the least that any record has
    body = {
        "changes": [{"part": "sensor", "at_pixel": pixel(1450, 500)}],
        "photo": {"scale": scale["id"]},
    }
    laid = api(finn).post(f"/api/v1/rooms/{world.bathroom.pk}/as-laid/", body).json()
    assert laid["plan"]["sensor"] == pytest.approx([1450, 500], abs=0.1)
    assert (laid["tolerance_mm"], laid["scale"]) == (10, scale["id"])


def test_another_rooms_photo_is_no_scale(api, finn, world, kept, problem):
    scale = scaled(api, finn, kept)
    body = {"changes": [], "photo": {"scale": scale["id"]}}
    refused = api(finn).post(f"/api/v1/rooms/{world.kitchen.pk}/as-laid/", body)
    assert problem(refused)["errors"][0]["pointer"] == "#/photo/scale"


def words(response):
    return response.content.decode()


def test_a_photo_goes_the_whole_way_on_pages(api, finn, world):
    page = api(finn)
    at = f"/rooms/{world.bathroom.pk}/photos/"
    assert 'capture="environment"' in words(page.get(at))
    bad = page.post(at, {"image": SimpleUploadedFile("x.jpg", b"x")}, format="multipart")
    assert (bad.status_code, "no photo that can be read" in words(bad)) == (422, True)
    photo_at = page.post(at, {"image": sent()}, format="multipart")["Location"]
    shown = words(page.get(photo_at))
    assert "<img" not in shown  # loads when asked for
    assert "Show photo, " in shown
    assert "<img" in words(page.get(f"{photo_at}?show=1"))
    rows = {}
    for row, (x, y) in enumerate(CORNERS):
        u, v = pixel(x, y)
        rows |= {f"x-{row}": u, f"y-{row}": v, f"right-{row}": x, f"into-{row}": y}
    few = page.post(photo_at, {name: v for name, v in rows.items() if name[-1] in "012"},
                    format="multipart")  # fmt: skip
    assert (few.status_code, "at least 4 points" in words(few)) == (422, True)
    assert page.post(photo_at, rows, format="multipart").status_code == 302
    assert "true to ±10" in words(page.get(photo_at))
    u, v = pixel(1450, 500)
    marked = page.post(f"{photo_at}marks/", {"sensor-0-x": u, "sensor-0-y": v}, format="multipart")
    assert marked.status_code == 302, words(marked)
    laid = LayingPlan.objects.get(scale__isnull=False)
    assert laid.plan["sensor"] == pytest.approx([1450, 500], abs=0.1)
    nothing = page.post(f"{photo_at}marks/", {}, format="multipart")
    assert (nothing.status_code, "Nothing is marked" in words(nothing)) == (422, True)
