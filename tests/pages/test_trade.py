"""The page of a trade that tells its own times: without script, of one job, by a POST."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.models import Link
from scheduling.models import Notice, Visit, VisitingTrade
from tests.factories import JobFactory, RoomFactory, VisitFactory, VisitingTradeFactory
from tests.scheduling.test_api_visit_imports import calendar
from tests.scheduling.test_api_visits import laid

DAY = timedelta(days=1)


@pytest.fixture
def job(alder):
    return JobFactory(contractor=alder, street="14 Mill Lane", time_zone="Europe/Oslo")


@pytest.fixture
def room(job):
    return RoomFactory(contractor=job.contractor, job=job, name="Bathroom")


@pytest.fixture
def trade(job) -> VisitingTrade:
    return VisitingTradeFactory(contractor=job.contractor, job=job, company="Weir")


@pytest.fixture
def url(api, olive, trade) -> str:
    made = api(olive).post(f"/api/v1/trades/{trade.pk}/link/")
    return made.json()["url"].removeprefix("http://testserver")


def post(api, url, **body):
    return api(None).post(url, body, format="multipart")


def test_it_shows_the_floors_and_stores_nothing_when_opened(api, url, room, real_now):
    laid(room, real_now - DAY)
    shown = api(None).get(url)
    text = shown.content.decode()
    assert shown["Cache-Control"] == "private, no-store"
    assert "14 Mill Lane" in text
    assert "Keep off this floor" in text
    assert "prove it dead" in text
    assert not Visit.objects.exists()


def test_lines_are_shown_first_and_noted_by_a_second_post(api, url, trade, room, real_now):
    laid(room, real_now - DAY)
    lines = f"{(real_now + 3 * DAY).date()} 8-16 plumber"
    shown = post(api, url, lines=lines)
    assert "Note this change" in shown.content.decode()
    assert "Bathroom: Keep off this floor" in shown.content.decode()
    assert not Visit.objects.exists()
    taken = post(api, url, lines=lines, deed="take")
    assert (taken.status_code, taken["Location"]) == (302, f"{url}?#times")
    visit = Visit.objects.get()
    assert (visit.announced_by, visit.company, visit.activities) == (
        trade,
        "Weir",
        ["walking", "drilling"],
    )
    assert Notice.objects.get().visit == visit
    assert "Not then" in api(None).get(url).content.decode()


def test_a_trade_speaks_for_itself_alone(api, url, room, job, real_now):
    """Whatever a line says; and another trade's entry of the same UID is left alone."""
    other = VisitFactory(contractor=job.contractor, job=job, source_uid="pipes@weir")
    lines = f"{(real_now + 3 * DAY).date()} 8-16 mayor, Town Hall"
    post(api, url, lines=lines, deed="take")
    assert Visit.objects.get(announced_by__isnull=False).company == "Weir"
    off = calendar(real_now + DAY).replace("VCALENDAR\r\n", "VCALENDAR\r\nMETHOD:CANCEL\r\n", 1)
    post(api, url, kept=off, deed="take")
    other.refresh_from_db()
    assert other.cancelled_at is None


def test_a_calendar_is_uploaded(api, url, real_now):
    file = SimpleUploadedFile("own.ics", calendar(real_now + DAY).encode())
    kept = post(api, url, file=file).context["form"]["kept"].value()
    post(api, url, kept=kept, deed="take")
    assert Visit.objects.count() == 3


def test_a_time_is_called_off_by_a_post(api, url, trade, job, real_now):
    own = VisitFactory(
        contractor=job.contractor,
        job=job,
        announced_by=trade,
        starts_at=real_now + DAY,
        ends_at=real_now + 2 * DAY,
    )
    assert post(api, url, deed="off", visit=str(own.pk)).status_code == 302
    own.refresh_from_db()
    assert own.cancelled_at
    assert post(api, url, deed="off", visit=str(own.pk)).status_code == 302  # again: no matter


@pytest.mark.parametrize("named", ["someone else's", "nonsense", ""])
def test_only_its_own_time_is_called_off(api, url, job, named):
    other = VisitFactory(contractor=job.contractor, job=job)
    visit = str(other.pk) if named == "someone else's" else named
    assert post(api, url, deed="off", visit=visit).status_code == 404
    other.refresh_from_db()
    assert other.cancelled_at is None


def test_bad_lines_are_named_and_html_is_text(api, url):
    shown = post(api, url, lines="2027-99-01 <script>x</script>")
    text = shown.content.decode()
    assert "is no day" in text
    assert "<script>x" not in text


def test_nothing_sent_is_told(api, url):
    refused = post(api, url)
    assert refused.status_code == 422
    assert "Type a line, or choose a file." in refused.content.decode()


def test_it_speaks_the_language_of_the_trade_or_as_asked(api, url, trade):
    VisitingTrade.objects.update(language="es")
    assert "Sus horarios" in api(None).get(url).content.decode()
    assert "Your times" in api(None).get(f"{url}?lang=en").content.decode()


def test_links_that_open_nothing_are_answered_alike(api, url):
    guessed = api(None).get("/trade/guessed/")
    link = Link.objects.get()
    Link.objects.update(revoked_at=link.made_at)
    revoked = api(None).get(url)
    posted = post(api, url, lines="x", deed="take")
    Link.objects.update(revoked_at=None, made_at=link.made_at - 900 * DAY)
    Link.objects.update(expires_at=link.made_at - DAY)
    expired = api(None).get(url)
    assert {answer.status_code for answer in (guessed, revoked, expired, posted)} == {404}
    assert guessed.content == revoked.content == expired.content


def test_the_office_asks_a_trade_in_and_the_address_is_shown_once(api, olive, job):
    client = api(olive)
    body = {
        "trade": "tiler",
        "company": "Slate",
        "language": "es",
        "activities": ["walking"],
    }
    made = client.post(f"/jobs/{job.pk}/trades/new/", body, format="multipart")
    address = made.context["url"].removeprefix("http://testserver")
    assert api(None).get(address).status_code == 200
    assert "Slate tells its times itself." in client.get(f"/jobs/{job.pk}/").content.decode()
    again = client.post(f"/jobs/{job.pk}/trades/new/", body, format="multipart")
    assert again.status_code == 422
    assert "tells its times here already" in again.content.decode()
    other = client.post(f"/trades/{VisitingTrade.objects.get().pk}/link/")
    assert other.context["url"] != made.context["url"]
    assert api(None).get(address).status_code == 200
