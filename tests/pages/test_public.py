"""What a private link shows: enough, to the right people, in their language, without an account."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from icalendar import Calendar

from jobs.actions.links import OWNER_LINK_LASTS, make_link, revoke_link
from jobs.actions.pictures import stored_picture
from jobs.drawing import room_point
from scheduling.actions.notices import link_to, review_visit
from scheduling.models import Notice
from tests.factories import (
    CheckFactory,
    ElementFactory,
    LayerFactory,
    RoomFactory,
    VisitingTradeFactory,
)
from tests.pages.world import build
from tests.scheduling.finished import Finished


@pytest.fixture
def world(olive, finn, real_now):
    world = build(olive, finn, real_now)
    world.visit.notices.all().delete()
    review_visit(visit=world.visit, at=real_now)
    return world


@pytest.fixture
def notice_url(world, real_now):
    url = link_to(Notice.objects.get(visit=world.visit), at=real_now)
    return url[url.index("/notice/") :]


def owner_url(job, at):
    _, secret = make_link(job=job, purpose="owner", at=at, lasts=OWNER_LINK_LASTS)
    return reverse("owner", args=[secret])


def words(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_a_trade_reads_what_lies_where_and_until_when(client, notice_url):
    page = client.get(notice_url)
    said = words(page)
    assert "Keep off this floor" in said
    assert "A heating cable lies bare on it." in said
    assert "14 Mill Lane" in said
    assert "+47 55 00 00 01" in said
    assert "prove it dead" in said


def test_opening_acknowledges_nothing(client, notice_url):
    client.get(notice_url)
    client.get(notice_url)
    assert Notice.objects.get().acknowledged_at is None


def test_a_name_acknowledges_and_is_shown(client, notice_url):
    assert client.post(notice_url, {"name": ""}).status_code == 422
    assert client.post(notice_url, {"name": "Tam Plumber"}).status_code == 302
    assert Notice.objects.get().acknowledged_by == "Tam Plumber"
    assert "Read by Tam Plumber" in words(client.get(notice_url))


def test_the_first_name_stays(client, notice_url):
    client.post(notice_url, {"name": "Tam Plumber"})
    assert client.post(notice_url, {"name": "Somebody Else"}).status_code == 422
    assert Notice.objects.get().acknowledged_by == "Tam Plumber"


def test_the_page_speaks_the_language_of_the_trade_or_the_one_asked_for(client, notice_url, world):
    assert 'lang="en"' in client.get(notice_url).content.decode()[:100]
    assert 'lang="es"' in client.get(notice_url + "?lang=es").content.decode()[:100]
    world.visit.language = "es"
    world.visit.save()
    assert 'lang="es"' in client.get(notice_url).content.decode()[:100]


@pytest.mark.parametrize(
    ("right", "into", "answer"),
    [("1000", "600", "Keep out"), ("2000", "2300", "No cable recorded here")],
)
def test_fastening_is_answered_for_two_distances(client, notice_url, world, right, into, answer):
    asked = {"room": str(world.bathroom.pk), "right": right, "into": into}
    said = words(client.get(notice_url, asked))
    assert answer in said
    assert " yes." not in said.lower()


def pixels(room, right, into):
    """Where on the touched plan a place of the room is seen."""
    shown = stored_picture(room, room)
    x0, y0 = room_point(shown, 0, 0, width=288)
    x1, y1 = room_point(shown, 1, 1, width=288)
    x, y = (right - x0) / (x1 - x0), (into - y0) / (y1 - y0)
    return {"at288.x": str(round(x)), "at288.y": str(round(y))}


def test_a_touch_counts_as_less_exact_than_a_tape(client, notice_url, world):
    asked = {"room": str(world.bathroom.pk)}
    by_tape = words(client.get(notice_url, asked | {"right": "2000", "into": "1690"}))
    touched = words(client.get(notice_url, asked | pixels(world.bathroom, 2000, 1690)))
    assert "No cable recorded here" in by_tape
    assert "Only after locating on site" in touched


def test_what_cannot_be_read_is_told_at_the_field(client, notice_url, world):
    page = client.get(notice_url, {"room": str(world.bathroom.pk), "right": "x", "into": "2"})
    assert "thing to mend" in words(page)


def test_the_drawing_marks_the_asked_place(client, notice_url, world):
    assert b'class="asked"' not in client.get(notice_url).content
    asked = {"room": str(world.bathroom.pk), "right": "900", "into": "900"}
    assert b'class="asked"' in client.get(notice_url, asked).content


def test_a_notice_that_was_withdrawn_says_so(client, notice_url, real_now):
    Notice.objects.update(withdrawn_at=real_now)
    said = words(client.get(notice_url))
    assert "This notice no longer holds." in said
    assert "I have read it" not in said


def test_the_owner_reads_the_date_the_floor_and_the_first_days(client, world, real_now):
    said = words(client.get(owner_url(world.job, real_now)))
    assert "The first days of heat" in said
    assert "18 °C" in said.replace("\N{NO-BREAK SPACE}", " ")
    assert "Keep off this floor." in said
    assert "The certificate appears here when the floor is finished." in said
    assert "9 Elm Court" not in said


@pytest.mark.parametrize(
    ("days", "said"), [(1, "Raise it a little each day"), (20, "The first days are over.")]
)
def test_a_floor_that_is_warm_says_what_to_do_with_it(client, olive, real_now, days, said):
    site = Finished(olive, real_now + timedelta(days=9 - days))  # warm for so many days
    assert said in words(client.get(owner_url(site.job, real_now)))


def test_living_with_the_floor_and_whom_to_call_are_said(client, world, real_now):
    said = words(client.get(owner_url(world.job, real_now)))
    assert "No thick rugs" in said
    assert "test button of the leakage protection" in said
    assert "Never drill, nail or screw" in said
    assert f"Call {world.job.contractor.name}, {world.job.contractor.phone}" in said


@pytest.mark.parametrize("purpose", ["owner", "trade", "label"])
def test_a_private_page_asks_as_often_for_many_rooms_as_for_few(
    client, world, finn, real_now, django_assert_max_num_queries, purpose
):
    own = {"contractor": world.job.contractor}
    subjects = {
        "owner": None,
        "trade": VisitingTradeFactory(job=world.job, **own).pk,
        "label": world.kitchen.pk,
    }
    lasts, subject = OWNER_LINK_LASTS, subjects[purpose]
    _, secret = make_link(
        job=world.job, purpose=purpose, at=real_now, lasts=lasts, subject_id=subject
    )
    counts = []
    for _ in range(2):
        with django_assert_max_num_queries(12) as asked:
            assert client.get(reverse(purpose, args=[secret])).status_code == 200
        counts.append(len(asked))
        room = RoomFactory(job=world.job, **own)
        LayerFactory(room=room, placed_at=real_now, placed_by=finn, **own)
        CheckFactory(room=room, stage="laid", outcome="pass", taken_at=real_now, **own)
        ElementFactory(room=room, **own)
    assert counts[0] == counts[1]


def test_the_owner_can_put_the_day_into_a_calendar(client, world, real_now):
    page = client.get(owner_url(world.job, real_now) + "calendar/")
    events = Calendar.from_ical(page.content).walk("VEVENT")
    titles = [str(event["SUMMARY"]) for event in events]
    assert any("eat may come on" in title and "Kitchen" in title for title in titles), titles
    assert {str(event["LOCATION"]) for event in events} == {"14 Mill Lane, Nordby"}


def test_unknown_expired_and_revoked_links_are_told_the_same(client, world, real_now):
    long_ago = real_now - timedelta(days=400)
    expired = owner_url(world.job, long_ago)
    link, secret = make_link(job=world.job, purpose="owner", at=real_now, lasts=OWNER_LINK_LASTS)
    revoke_link(link=link, at=real_now)
    certificate = make_link(
        job=world.job, purpose="certificate", at=real_now, lasts=OWNER_LINK_LASTS
    )
    addresses = [
        reverse("owner", args=["unknown"]),
        expired,
        reverse("owner", args=[secret]),
        reverse("owner", args=[certificate[1]]),
        reverse("notice", args=[secret]),
        reverse("owner", args=["ü" * 300]),
    ]
    found = [client.get(address) for address in addresses]
    assert [page.status_code for page in found] == [404] * len(found)
    assert len({page.content for page in found}) == 1
    assert "This link does not open anything now." in words(found[0])


@pytest.mark.parametrize("which", ["notice", "owner"])
def test_pages_behind_links_are_small_and_kept_by_nobody(
    client, world, notice_url, real_now, which
):
    page = client.get(notice_url if which == "notice" else owner_url(world.job, real_now))
    assert len(page.content) < 100_000
    assert page["Cache-Control"] == "private, no-store"
    assert page["Referrer-Policy"] == "same-origin"
    assert page["X-Robots-Tag"] == "noindex"
    assert b"<script" not in page.content


def test_names_cannot_become_markup(client, notice_url, world):
    world.job.contractor.name = "<script>alert(1)</script>"
    world.job.contractor.save()
    assert b"<script" not in client.get(notice_url).content


def test_pages_are_compressed_for_whoever_takes_that_and_nothing_else_is(client, db):
    packed = client.get("/offline/", headers={"accept-encoding": "gzip"})
    assert packed["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed["Vary"]
    assert "Content-Encoding" not in client.get("/offline/")
    worker = client.get("/service-worker.js", headers={"accept-encoding": "gzip"})
    assert "Content-Encoding" not in worker
