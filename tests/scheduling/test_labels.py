"""Labels: both languages, codes that can be read, a page that tells of one room, and an end."""

import io
import subprocess

import page
import pytest
import zxingcpp
from django.template.loader import render_to_string
from django.test import Client
from PIL import Image

from config import paper
from jobs.labels import PAPERS, label_sheet
from jobs.models import Link
from scheduling.actions.labels import link_for_labels
from tests.factories import RoomFactory
from tests.scheduling.finished import Finished
from tests.scheduling.records import ISSUED_AT

URL = "https://floors.alder.example/label/" + "aB3-_xY" * 6 + "q/"
DPI = 150


def sheet(**changes):
    return label_sheet(
        **{
            "url": URL,
            "street": "14 Mill Lane",
            "room": "Bathroom",
            "contractor": "Alder Floors",
            "phone": "+47 55 00 00 01",
            "paper": "a4",
            **changes,
        }
    )


def pdf_of(said):
    html = render_to_string("scheduling/label_sheet.html", {"sheet": said})
    return paper.pdf(html, identifier=b"x" * 16, made_at=ISSUED_AT, style="labels.css")


def seen(pdf):
    """The only page of a PDF as a picture."""
    command = ["pdftoppm", "-r", str(DPI), "-png", "-"]
    picture = subprocess.run(command, input=pdf, capture_output=True, check=True, timeout=60).stdout
    assert picture.count(b"IEND") == 1
    return Image.open(io.BytesIO(picture))


def width_mm(code):
    corners = code.position
    return (corners.top_right.x - corners.top_left.x) / DPI * 25.4


@pytest.mark.parametrize("size", PAPERS)
def test_every_code_can_be_read_from_the_printed_sheet(size):
    codes = zxingcpp.read_barcodes(seen(pdf_of(sheet(paper=size))))
    assert [code.text for code in codes] == [URL] * 7
    assert {code.ec_level for code in codes} == {"M"}
    widths = sorted(width_mm(code) for code in codes)
    assert widths[-1] == pytest.approx(42, abs=0.5)
    assert widths[:-1] == pytest.approx([22] * 6, abs=0.5)


@pytest.mark.parametrize("size", PAPERS)
def test_long_names_leave_the_sheet_on_one_page(size):
    long = {
        "street": "1234 Upper Meadow Lane West, back house",
        "room": "Guest bathroom, 2nd floor",
    }
    codes = zxingcpp.read_barcodes(
        seen(pdf_of(sheet(paper=size, contractor="Alder & Daughters, Floors and Heat", **long)))
    )
    assert len(codes) == 7


def test_both_languages_stand_on_every_label():
    html = render_to_string("scheduling/label_sheet.html", {"sheet": sheet()})
    assert (
        html.count("Heating cable in this floor")
        == html.count("Cable calefactor en este piso")
        == 7
    )
    assert html.count("before work.") == html.count("antes de trabajar.") == 6
    assert html.count("General warning sign") == 7


@pytest.mark.parametrize("profile", ["3a", "ua1"])
def test_a_validator_finds_the_sheet_archival_and_accessible(profile):
    found = page.validate_pdf_bytes(pdf_of(sheet()), profile=profile)
    assert [(each.rule_id, each.message) for each in found.failures] == []


# The link


@pytest.fixture
def site(olive, real_now):
    return Finished(olive, real_now)


@pytest.fixture
def made(api, olive, site):
    answer = api(olive).post(f"/api/v1/rooms/{site.room.pk}/labels/", {})
    assert answer.status_code == 201
    return answer.json()


def opened(url):
    return Client().get(url.removeprefix("http://testserver"))


@pytest.mark.django_db
def test_a_label_opens_a_page_of_its_room_and_nothing_else(made, site):
    answer = opened(made["url"])
    assert answer.status_code == 200
    said = answer.content.decode()
    for words in ("Bathroom", "14 Mill Lane", "Nothing may go into this floor", "Alder Floors"):
        assert words in said
    assert site.job.customer.name not in said
    assert site.job.title not in said
    assert answer["Cache-Control"] == "private, no-store"
    assert made["url"].rstrip("/").rpartition("/")[2] not in str(Link.objects.values().get())


@pytest.mark.django_db
def test_it_answers_whether_one_may_fasten(made):
    said = opened(f"{made['url']}?right=1500&into=1000").content.decode()
    assert "Keep out" in said or "Only after locating" in said
    assert "prove it dead" in said


@pytest.mark.django_db
@pytest.mark.parametrize("size", PAPERS)
def test_its_sheets_bear_its_address(made, size):
    (url,) = [each["url"] for each in made["sheets"] if each["paper"] == size]
    answer = opened(url)
    assert answer["Content-Type"] == "application/pdf"
    codes = zxingcpp.read_barcodes(seen(answer.content))
    assert {code.text for code in codes} == {made["url"]}


@pytest.mark.django_db
def test_once_revoked_it_says_that_it_opens_nothing(api, olive, made):
    assert api(olive).delete(f"/api/v1/links/{made['id']}/").status_code == 204
    for url in (made["url"], made["sheets"][0]["url"]):
        answer = Client().get(
            url.removeprefix("http://testserver"), headers={"Accept": "text/html"}
        )
        assert answer.status_code == 404
        said = answer.content.decode()
        assert "This link does not open anything now." in said
        assert "Ask the contractor named on the label" in said


@pytest.mark.django_db
def test_a_sheet_is_of_a_paper_that_is_there(made):
    assert opened(f"{made['url']}sheet/?paper=a0").status_code == 404


@pytest.mark.django_db
def test_the_office_makes_and_ends_them_on_a_page(api, olive, site, real_now):
    office, url = api(olive), f"/rooms/{site.room.pk}/labels/"
    said = office.post(url, {}, format="multipart").content.decode()
    link = Link.objects.get(purpose="label")
    assert (link.subject_id, link.job_id) == (site.room.pk, site.job.pk)
    assert "/sheet/?paper=a4" in said
    assert "/sheet/?paper=letter" in said
    assert office.post(url, {"end": "no id"}, format="multipart").status_code == 302
    link.refresh_from_db()
    assert link.revoked_at is None
    assert office.post(url, {"end": str(link.pk)}, format="multipart").status_code == 302
    link.refresh_from_db()
    assert link.revoked_at is not None


@pytest.mark.django_db
def test_no_label_of_another_room_is_ended_there(api, olive, site, real_now):
    other = RoomFactory(contractor=olive.contractor, job=site.job)
    link, _secret = link_for_labels(room=other, at=real_now)
    answer = api(olive).post(
        f"/rooms/{site.room.pk}/labels/", {"end": str(link.pk)}, format="multipart"
    )
    assert answer.status_code == 404
    link.refresh_from_db()
    assert link.revoked_at is None
