"""Feeds behind their links: whose they are, what they show, how cheaply they are as before."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import vobject

from jobs.models import Delivery, Job, Link, Room
from scheduling.actions import calendar, feeds
from scheduling.models import Booking, CalendarEntry, Decision, Energizing, StaleCalendar, Visit
from scheduling.tasks import follow_calendars
from tests.factories import (
    BookingFactory,
    CrewFactory,
    JobFactory,
    RoomFactory,
    VisitFactory,
    VisitingTradeFactory,
    WebhookFactory,
)

DAY = timedelta(days=1)


@pytest.fixture
def job(alder) -> Job:
    return JobFactory(
        contractor=alder, street="14 Mill Lane", city="Weirtown", time_zone="Europe/Oslo"
    )


@pytest.fixture
def room(job) -> Room:
    return RoomFactory(contractor=job.contractor, job=job, name="Bathroom")


@pytest.fixture
def crew(alder):
    return CrewFactory(contractor=alder, name="North")


@pytest.fixture
def booking(job, room, crew, real_now):
    return BookingFactory(
        contractor=job.contractor,
        job=job,
        room=room,
        crew=crew,
        day=(real_now + 3 * DAY).date(),
        half="am",
        task="lay",
    )


def decided(room, likely) -> Decision:
    return Decision.objects.create(
        contractor=room.contractor,
        room=room,
        decided_at=likely,
        facts={},
        facts_digest="0" * 64,
        result={},
        may_energize=False,
        likely=likely,
    )


def address(api, olive, **body: Any) -> str:
    made = api(olive).post("/api/v1/feeds/", body)
    assert made.status_code == 201, made.content
    return made.json()["url"].removeprefix("http://testserver")


def read(api, url: str) -> list[Any]:
    response = api(None).get(url)
    assert response.status_code == 200, response.content
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    return vobject.readOne(response.content.decode()).contents.get("vevent", [])


def test_a_crew_follows_its_own_half_days(api, olive, alder, crew, booking):
    BookingFactory(contractor=alder, crew=CrewFactory(contractor=alder), job=booking.job)
    (event,) = read(api, address(api, olive, crew=str(crew.pk)))
    assert event.summary.value == "Lay: 14 Mill Lane · Bathroom"
    assert event.location.value == "14 Mill Lane, Weirtown"
    assert event.status.value == "CONFIRMED"
    assert event.dtstart.value.hour in (6, 7)  # 8 o'clock in Oslo
    assert event.url.value == f"http://testserver/jobs/{booking.job_id}/"


def test_what_is_called_off_stays_and_its_sequence_rises(api, olive, crew, booking):
    url = address(api, olive, crew=str(crew.pk))
    (before,) = read(api, url)
    headers = {"If-Match": '"1"'}
    gone = api(olive).delete(f"/api/v1/bookings/{booking.pk}/", headers=headers)
    assert gone.status_code == 200
    (after,) = read(api, url)
    assert (after.uid.value, after.status.value) == (before.uid.value, "CANCELLED")
    assert int(after.sequence.value) == int(before.sequence.value) + 1
    assert after.dtstamp.value >= before.dtstamp.value


def test_a_move_keeps_the_entry_and_another_crew_gets_its_own(api, olive, alder, crew, booking):
    other = CrewFactory(contractor=alder, name="South")
    urls = [address(api, olive, crew=str(each.pk)) for each in (crew, other)]
    (before,) = read(api, urls[0])
    Booking.objects.update(half="pm")
    (moved,) = read(api, urls[0])
    assert moved.uid.value == before.uid.value
    assert moved.dtstart.value - before.dtstart.value == timedelta(hours=5)
    Booking.objects.update(crew=other)
    assert read(api, urls[0])[0].status.value == "CANCELLED"
    assert read(api, urls[1])[0].status.value == "CONFIRMED"


def test_a_bulk_change_is_followed_too(api, olive, crew, booking):
    """As when a plan is accepted: rows are cancelled and made many at a time."""
    url = address(api, olive, crew=str(crew.pk))
    read(api, url)
    Booking.objects.filter(pk=booking.pk).update(cancelled_at=booking.booked_at)
    Booking.objects.bulk_create(
        BookingFactory.build(
            contractor=booking.contractor,
            crew=crew,
            job=booking.job,
            day=booking.day + n * DAY,
            booked_by=booking.booked_by,
            task="tile",
        )
        for n in range(1, 4)
    )
    statuses = sorted(event.status.value for event in read(api, url))
    assert statuses == ["CANCELLED", "CONFIRMED", "CONFIRMED", "CONFIRMED"]


def test_the_office_sees_all_of_its_own_and_nothing_of_others(
    api, olive, bo, booking, job, room, real_now
):
    VisitFactory(
        contractor=job.contractor, job=job, starts_at=real_now + DAY, ends_at=real_now + 2 * DAY
    )
    decided(room, real_now + 9 * DAY)
    events = read(api, address(api, olive))
    kinds = [event.categories.value for event in events]
    assert [sorted(kinds).count(k) for k in (["booking"], ["visit"], ["heat"])] == [1, 1, 1]
    assert kinds.count(["warm-up"]) > 2
    assert read(api, address(api, bo)) == []


def test_a_likely_day_is_tentative_until_heat_is_on(api, olive, room, real_now):
    url = address(api, olive)
    decision = decided(room, real_now + 9 * DAY)
    heat = next(e for e in read(api, url) if e.categories.value == ["heat"])
    assert heat.status.value == "TENTATIVE"
    assert heat.summary.value.startswith("Heat may come on, likely: 14 Mill Lane")
    assert "licensed electrician" in heat.description.value
    Energizing.objects.create(
        contractor=room.contractor,
        room=room,
        client_id=uuid4(),
        at=real_now,
        decision=decision,
        recorded_by=olive,
    )
    after = next(e for e in read(api, url) if e.categories.value == ["heat"])
    assert (after.uid.value, after.status.value) == (heat.uid.value, "CONFIRMED")
    assert int(after.sequence.value) == 1


def test_a_date_that_is_gone_calls_the_heat_and_its_steps_off(api, olive, room, real_now):
    url = address(api, olive)
    decided(room, real_now + 9 * DAY)
    before = len(read(api, url))
    decided(room, real_now + 12 * DAY)
    assert {e.sequence.value for e in read(api, url)} == {"1"}
    Decision.objects.create(
        contractor=room.contractor,
        room=room,
        decided_at=real_now,
        facts={},
        facts_digest="0" * 64,
        result={},
        may_energize=False,
        likely=None,
    )
    gone = read(api, url)
    assert len(gone) == before
    assert {e.status.value for e in gone} == {"CANCELLED"}


def owner_link(api, olive, job) -> str:
    made = api(olive).post("/api/v1/links/", {"job": str(job.pk), "purpose": "owner"}).json()
    return made["url"].removeprefix("http://testserver") + "calendar/"


def test_an_owner_follows_its_own_floor_and_nothing_else(
    api, olive, alder, job, room, booking, real_now
):
    decided(room, real_now + 9 * DAY)
    VisitFactory(contractor=alder, job=job, starts_at=real_now + DAY, ends_at=real_now + 2 * DAY)
    BookingFactory(contractor=alder)
    events = read(api, owner_link(api, olive, job))
    kinds = {event.categories.value[0] for event in events}
    assert kinds == {"booking", "heat", "warm-up"}
    assert {event.location.value for event in events} == {"14 Mill Lane, Weirtown"}
    assert not any("url" in event.contents for event in events)


def test_an_owner_is_spoken_to_in_its_language(api, olive, job, room, real_now):
    job.customer.language = "es"
    job.customer.save()
    decided(room, real_now + 9 * DAY)
    titles = [e.summary.value for e in read(api, owner_link(api, olive, job))]
    assert "El calor puede encenderse, probablemente: 14 Mill Lane · Bathroom" in titles


def test_nothing_has_changed_is_said_without_writing_the_feed(
    api, olive, crew, booking, django_assert_max_num_queries
):
    url = address(api, olive, crew=str(crew.pk))
    first = api(None).get(url)
    assert first["Cache-Control"] == "private, no-cache"
    with django_assert_max_num_queries(3):
        again = api(None).get(url, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again["ETag"] == first["ETag"]
    Room.objects.update(name="Bath", version=2)
    renamed = api(None).get(url, headers={"If-None-Match": first["ETag"]})
    assert renamed.status_code == 200
    assert b"Bath" in renamed.content


def test_the_same_feed_is_the_same_to_the_byte(api, olive, crew, booking):
    url = address(api, olive, crew=str(crew.pk))
    assert api(None).get(url).content == api(None).get(url).content


def test_what_is_long_over_is_left_out(api, olive, crew, booking):
    url = address(api, olive, crew=str(crew.pk))
    Booking.objects.update(day=booking.day - 80 * DAY)
    assert read(api, url) == []


def test_a_feed_asks_so_many_queries_for_ten_as_for_one(
    api, olive, crew, booking, django_assert_num_queries
):
    url = address(api, olive, crew=str(crew.pk))
    read(api, url)
    with django_assert_num_queries(4):
        read(api, url)
    for n in range(1, 10):
        BookingFactory(contractor=crew.contractor, crew=crew, day=booking.day + n * DAY)
    read(api, url)
    with django_assert_num_queries(4):
        assert len(read(api, url)) == 10


def test_guessed_expired_and_revoked_links_are_answered_alike(api, olive, crew, booking):
    url = address(api, olive, crew=str(crew.pk))
    guessed = api(None).get("/feed/guessed.ics")
    link = Link.objects.get(purpose="feed")
    Link.objects.update(revoked_at=link.made_at)
    revoked = api(None).get(url)
    Link.objects.update(revoked_at=None, made_at=link.made_at - 900 * DAY)
    Link.objects.update(expires_at=link.made_at - DAY)
    expired = api(None).get(url)
    for answer in (guessed, revoked, expired):
        assert answer.status_code == 404
        assert answer.content == guessed.content


def test_a_link_of_another_kind_opens_no_feed(api, olive, job):
    owner = owner_link(api, olive, job).split("/")[2]
    assert api(None).get(f"/feed/{owner}.ics").status_code == 404


def test_a_link_is_revoked_over_the_api_and_listed(api, olive, crew):
    url = address(api, olive, crew=str(crew.pk), days=30)
    (listed,) = api(olive).get("/api/v1/feeds/").json()["results"]
    assert listed["crew"] == str(crew.pk)
    (among_all,) = api(olive).get("/api/v1/links/").json()["results"]
    assert (among_all["id"], among_all["job"]) == (listed["id"], None)
    assert api(olive).delete(f"/api/v1/links/{listed['id']}/").status_code == 204
    assert api(None).get(url).status_code == 404


def test_another_contractors_crew_is_refused(api, bo, crew, problem):
    refused = api(bo).post("/api/v1/feeds/", {"crew": str(crew.pk)})
    assert problem(refused)["errors"][0]["pointer"] == "#/crew"


def test_a_name_starts_no_line_of_its_own(api, olive, job, crew, booking):
    Job.objects.update(street="14 Mill Lane\r\nEND:VEVENT\r\nATTENDEE:mailto:x@y", version=9)
    (event,) = read(api, address(api, olive, crew=str(crew.pk)))
    assert "attendee" not in event.contents
    assert "END:VEVENT" in event.summary.value


# What other systems are told


def test_other_systems_are_told_of_what_changed(olive, booking, job, real_now):
    WebhookFactory(contractor=olive.contractor, events=["booking.changed", "visit.changed"])
    calendar.bring_up_to_date(olive, at=real_now)
    Booking.objects.update(cancelled_at=real_now)
    visit = VisitFactory(contractor=olive.contractor, job=job)
    calendar.bring_up_to_date(olive, at=real_now)
    told = [(row.event, row.body) for row in Delivery.objects.order_by("pk")]
    assert [event for event, _body in told] == [
        "booking.changed",
        "visit.changed",
        "booking.changed",
    ]
    assert f'"id":"{booking.pk}"' in told[0][1]
    assert '"cancelled":true' in told[2][1]
    assert str(visit.pk) in told[1][1]


def test_marks_are_taken_once(olive, booking, real_now):
    assert StaleCalendar.objects.exists()
    assert calendar.bring_up_to_date(olive, at=real_now) == 1
    assert not StaleCalendar.objects.exists()
    assert calendar.bring_up_to_date(olive, at=real_now) == 0
    assert CalendarEntry.objects.count() == 1


def test_a_task_brings_all_contractors_up_to_date(booking, bo, real_now):
    VisitFactory(contractor=bo.contractor)
    assert follow_calendars() == 2
    assert CalendarEntry.objects.count() == 2


# The trade's own feed


def test_a_trade_follows_its_own_times(api, olive, job, real_now):
    trade = VisitingTradeFactory(contractor=job.contractor, job=job)
    made = api(olive).post(f"/api/v1/trades/{trade.pk}/link/").json()["url"]
    own = {"starts_at": real_now + DAY, "ends_at": real_now + 2 * DAY, "contractor": job.contractor}
    VisitFactory(job=job, announced_by=trade, trade="plumber", company="Weir", **own)
    VisitFactory(job=job, **own)
    (event,) = read(api, made.removeprefix("http://testserver") + "calendar/")
    assert event.summary.value == "plumber, Weir: 14 Mill Lane"
    Visit.objects.update(cancelled_at=real_now)
    (event,) = read(api, made.removeprefix("http://testserver") + "calendar/")
    assert event.status.value == "CANCELLED"


# The office's page


def test_the_office_makes_and_revokes_a_link_on_its_page(api, olive, crew, booking):
    client = api(olive)
    made = client.post("/feeds/", {"whose": str(crew.pk)}, format="multipart")
    url = made.context["url"].removeprefix("http://testserver")
    assert made.context["subscribe"].startswith("webcal://testserver/feed/")
    assert len(read(api, url)) == 1
    assert "North" in client.get("/feeds/").content.decode()
    link = Link.objects.get(purpose="feed")
    client.post(f"/feeds/{link.pk}/revoke/")
    assert api(None).get(url).status_code == 404
    assert "North</b>" not in client.get("/feeds/").content.decode()


def test_a_feed_of_everything_can_be_made(olive, real_now):
    link, url = feeds.make_feed(by=olive, crew=None, at=real_now)
    assert (link.subject_id, link.job_id) == (None, None)
    assert link.expires_at - link.made_at == feeds.LINK_LASTS
    assert len(url.split("/")[-1]) == 43 + len(".ics")
