"""Visits of other trades: conflicts, notices, acknowledgement."""

from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.utils import timezone

from readings.models import Check
from scheduling import tasks
from scheduling.actions import notices
from scheduling.models import Booking, Notice, Visit
from scheduling.notice import says_the_same, shown
from tests.factories import BookingFactory, JobFactory, MemberFactory, RoomFactory

HOUR = timedelta(hours=1)


@pytest.fixture
def at():
    """A moment from now: what the API does in a test is before it."""
    return timezone.now() + timedelta(seconds=10)  # noqa: TID251 (the API reads the clock too)


@pytest.fixture
def room(alder):
    return RoomFactory(contractor=alder, name="Bathroom")


def laid(room, at):
    """The record that a cable was laid in this room then."""
    return Check.objects.create(
        contractor=room.contractor,
        room=room,
        client_id="0b7a7e3c-52f5-4a86-bb6f-7d20a44d8a01",
        sequence=1,
        stage="laid",
        taken_at=at,
        received_at=at,
        taken_by=MemberFactory(contractor=room.contractor),
        outcome="pass",
        content={},
        digest="0" * 64,
    )


@pytest.fixture
def body(room, at) -> dict[str, Any]:
    return {
        "job": str(room.job_id),
        "room": str(room.pk),
        "trade": "plumber",
        "company": "Brook & Weir",
        "email": "brook@weir.example",
        "activities": ["walking", "drilling"],
        "starts_at": (at + 5 * HOUR).isoformat(),
        "ends_at": (at + 7 * HOUR).isoformat(),
    }


def test_a_visit_before_any_cable_meets_nothing(api, olive, body):
    made = api(olive).post("/api/v1/visits/", body)
    assert made.status_code == 201, made.content
    assert made.json()["conflicts"] == []
    assert Notice.objects.count() == 0


def test_a_visit_on_a_bare_cable_is_a_conflict_with_its_rule(api, olive, body, room, at):
    laid(room, at - HOUR)
    conflict = api(olive).post("/api/v1/visits/", body).json()["conflicts"][0]
    assert conflict["state"] == "bare"
    assert conflict["forbidden"] == ["walking", "drilling"]
    assert conflict["because"] == "A heating cable lies bare. Keep off this floor."
    assert Notice.objects.get().content["conflicts"][0]["room_name"] == "Bathroom"


def test_a_visit_to_all_rooms_meets_each(api, olive, body, room, at):
    laid(room, at - HOUR)
    RoomFactory(contractor=room.contractor, job=room.job)
    made = api(olive).post("/api/v1/visits/", {**body, "room": None}).json()
    assert [conflict["room"] for conflict in made["conflicts"]] == [str(room.pk)]


def test_a_booked_laying_counts_as_likely(api, olive, body, room, at):
    day = (at + timedelta(days=1)).date()
    BookingFactory(
        contractor=room.contractor, job=room.job, room=room, day=day, half="am", task="lay"
    )
    late = {
        "starts_at": (at + timedelta(days=3)).isoformat(),
        "ends_at": (at + timedelta(days=3, hours=1)).isoformat(),
    }
    conflict = api(olive).post("/api/v1/visits/", {**body, **late}).json()["conflicts"][0]
    assert (conflict["state"], conflict["likely"]) == ("bare", True)
    assert Booking.objects.count() == 1


def test_a_visit_ends_after_it_starts(api, olive, body, problem):
    refused = api(olive).post("/api/v1/visits/", {**body, "ends_at": body["starts_at"]})
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == "#/ends_at"


def test_a_room_of_another_job_is_refused(api, olive, body, alder, problem):
    refused = api(olive).post(
        "/api/v1/visits/", {**body, "job": str(JobFactory(contractor=alder).pk)}
    )
    assert problem(refused)["errors"][0]["pointer"] == "#/room"


def test_moving_the_visit_out_of_the_way_withdraws_its_notice(api, olive, body, room, at):
    laid(room, at - HOUR)
    made = api(olive).post("/api/v1/visits/", body).json()
    earlier = {
        "starts_at": (at - 3 * HOUR).isoformat(),
        "ends_at": (at - 2 * HOUR).isoformat(),
    }
    moved = api(olive).patch(f"/api/v1/visits/{made['id']}/", earlier, headers={"If-Match": '"1"'})
    assert moved.json()["conflicts"] == []
    assert Notice.objects.get().withdrawn_at is not None


def test_a_notice_that_says_something_else_replaces_the_old_one(api, olive, body, room, at):
    laid(room, at - HOUR)
    made = api(olive).post("/api/v1/visits/", body).json()
    api(olive).patch(
        f"/api/v1/visits/{made['id']}/",
        {"activities": ["walking"]},
        headers={"If-Match": '"1"'},
    )
    old, new = Notice.objects.order_by("id")
    assert new.replaces == old
    assert old.withdrawn_at is not None
    assert new.acknowledged_at is None


def test_the_same_conflict_keeps_its_notice_and_its_answer(api, olive, body, room, at):
    laid(room, at - HOUR)
    made = api(olive).post("/api/v1/visits/", body).json()
    notices.acknowledge(row=Notice.objects.get(), name="Una Weir", at=at)
    notices.review_visit(visit=Visit.objects.get(pk=made["id"]), at=at)
    assert Notice.objects.get().acknowledged_by == "Una Weir"


def test_laying_the_cable_later_warns_a_visit_that_was_clear_before(api, olive, body, room, at):
    """The check comes in after the visit was planned; the worker holds the visit against it."""
    assert api(olive).post("/api/v1/visits/", body).json()["conflicts"] == []
    laid(room, at - HOUR)
    tasks.refresh_job(str(room.job_id))
    assert Notice.objects.get().content["conflicts"][0]["state"] == "bare"


@pytest.mark.parametrize(("hours", "stands"), [(11, True), (13, False)])
def test_an_answer_stands_while_an_end_moves_by_less_than_half_a_day(at, hours, stands):
    conflict = dict.fromkeys(("room", "room_name", "state", "forbidden", "because"), "as it was")
    said = {"conflicts": [{**conflict, "until": shown(at)}], "nearest_start_at": None}
    now = {"conflicts": [{**conflict, "until": shown(at + hours * HOUR)}], "nearest_start_at": 1}
    assert says_the_same(said, now) is stands
    assert not says_the_same(said, {**now, "address": "elsewhere"})


def test_cancelling_the_visit_withdraws_its_notice(api, olive, body, room, at):
    laid(room, at - HOUR)
    made = api(olive).post("/api/v1/visits/", body).json()
    gone = api(olive).delete(f"/api/v1/visits/{made['id']}/", headers={"If-Match": '"1"'})
    assert gone.json()["cancelled_at"] is not None
    assert Notice.objects.get().withdrawn_at is not None


# The notice behind its link


@pytest.fixture
def link(api, olive, body, room, at) -> str:
    laid(room, at - HOUR)
    api(olive).post("/api/v1/visits/", body)
    made = api(olive).post(f"/api/v1/notices/{Notice.objects.get().pk}/link/")
    assert made.status_code == 201, made.content
    return made.json()["url"].split("/notice/")[1].strip("/")


def test_opening_a_notice_acknowledges_nothing(api, link):
    shown = api(None).get(f"/api/v1/public/notices/{link}/")
    assert shown.status_code == 200
    assert shown.json()["content"]["conflicts"][0]["state"] == "bare"
    assert "prove it dead" in shown.json()["caution"]
    assert Notice.objects.get().acknowledged_at is None


def test_a_trade_acknowledges_with_a_name(api, olive, link):
    answered = api(None).post(f"/api/v1/public/notices/{link}/", {"name": "Una Weir"})
    assert answered.status_code == 200
    assert answered.json()["acknowledged_by"] == "Una Weir"
    listed = api(olive).get("/api/v1/notices/", {"open": False}).json()["results"]
    assert listed[0]["acknowledged_by"] == "Una Weir"
    assert api(olive).get("/api/v1/notices/", {"open": True}).json()["results"] == []


def test_the_first_name_stays(api, link, problem):
    api(None).post(f"/api/v1/public/notices/{link}/", {"name": "Una Weir"})
    again = api(None).post(f"/api/v1/public/notices/{link}/", {"name": "Una Weir"})
    assert again.status_code == 200
    other = api(None).post(f"/api/v1/public/notices/{link}/", {"name": "Ulf Brook"})
    assert other.status_code == 409
    assert problem(other)["detail"] == "Una Weir has acknowledged this notice already."


@pytest.mark.parametrize("name", ["", "   ", 7, None])
def test_an_acknowledgement_needs_a_name(api, link, problem, name):
    refused = api(None).post(f"/api/v1/public/notices/{link}/", {"name": name})
    assert problem(refused)["errors"][0]["pointer"] == "#/name"
    assert Notice.objects.get().acknowledged_at is None


def test_unknown_expired_and_revoked_links_are_answered_alike(api, link, room):
    from jobs.models import Link

    unknown = api(None).get("/api/v1/public/notices/guessed/")
    row = Link.objects.get()
    Link.objects.update(revoked_at=row.made_at)
    revoked = api(None).get(f"/api/v1/public/notices/{link}/")
    Link.objects.update(revoked_at=None, made_at=row.made_at - 90 * 24 * HOUR)
    Link.objects.update(expires_at=row.made_at - HOUR)
    expired = api(None).get(f"/api/v1/public/notices/{link}/")
    assert unknown.status_code == revoked.status_code == expired.status_code == 404
    assert unknown.json() == revoked.json() == expired.json()


# Sending


@pytest.fixture
def notice(body, api, olive, room, at) -> Notice:
    laid(room, at - HOUR)
    api(olive).post("/api/v1/visits/", body)
    return Notice.objects.get()


def test_a_notice_goes_out_once_in_both_forms(notice, at):
    assert notices.send_notice(notice_id=notice.pk, at=at + HOUR)
    assert not notices.send_notice(notice_id=notice.pk, at=at + HOUR)
    (sent,) = mail.outbox
    assert sent.to == ["brook@weir.example"]
    assert "Keep off this floor" in sent.body
    assert "http://testserver/notice/" in sent.body
    assert sent.alternatives[0][1] == "text/html"
    assert sent.extra_headers["Message-ID"] == f"<notice-{notice.pk}@testserver>"


def test_a_name_cannot_smuggle_headers_or_html(api, olive, body, room, at):
    laid(room, at - HOUR)
    evil = {**body, "company": "X<script>\nBcc: all@weir.example"}
    made = api(olive).post("/api/v1/visits/", evil)
    assert made.status_code == 201
    notices.send_notice(notice_id=Notice.objects.get().pk, at=at + HOUR)
    (sent,) = mail.outbox
    assert "\n" not in sent.subject
    assert sent.recipients() == ["brook@weir.example"]
    assert "<script>" not in sent.alternatives[0][0]


def test_a_mail_server_that_is_down_is_tried_again_later(notice, at, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9
    assert not notices.send_notice(notice_id=notice.pk, at=at + HOUR)
    notice.refresh_from_db()
    assert notice.attempts == 1
    assert "Connection refused" in notice.last_error
    assert not Notice.objects.due(at + HOUR).exists()
    assert Notice.objects.due(at + HOUR + timedelta(minutes=1)).exists()


def test_a_worker_that_died_leaves_the_notice_to_the_next(notice, at):
    assert Notice.objects.claim(notice.pk, at=at + HOUR)
    assert not Notice.objects.claim(notice.pk, at=at + HOUR)
    assert Notice.objects.claim(notice.pk, at=at + HOUR + timedelta(seconds=61))


def test_an_unanswered_notice_is_repeated_and_then_raised(notice, at):
    far = at + timedelta(days=9)
    Visit.objects.update(starts_at=far, ends_at=far + HOUR)
    when = at
    for repeat in (1, 2):
        notices.send_notice(notice_id=notice.pk, at=when)
        when += timedelta(hours=25)
        assert notices.remind(at=when) == 1
        notice.refresh_from_db()
        assert (notice.repeated, notice.sent_at, notice.raised_at) == (repeat, None, None)
    notices.send_notice(notice_id=notice.pk, at=when)
    notices.remind(at=when + timedelta(hours=25))
    notice.refresh_from_db()
    assert notice.raised_at is not None
    assert len(mail.outbox) == 3


def test_a_near_visit_is_the_offices_at_once(notice, at):
    notices.send_notice(notice_id=notice.pk, at=at)
    notices.remind(at=at)
    notice.refresh_from_db()
    assert notice.raised_at == at
    assert notice.repeated == 0


def test_an_acknowledged_notice_is_left_alone(notice, at):
    notices.send_notice(notice_id=notice.pk, at=at)
    notices.acknowledge(row=notice, name="Una Weir", at=at)
    assert notices.remind(at=at + timedelta(days=3)) == 0


def test_spanish_is_spoken_to_those_who_speak_it(api, olive, body, room, at):
    laid(room, at - HOUR)
    api(olive).post("/api/v1/visits/", {**body, "language": "es"})
    notices.send_notice(notice_id=Notice.objects.get().pk, at=at + HOUR)
    assert "No pise este piso" in mail.outbox[0].body


def test_the_windows_of_a_room(api, vera, room, at):
    laid(room, at - HOUR)
    shown = api(vera).get(f"/api/v1/rooms/{room.pk}/exposure/").json()["windows"]
    assert [window["state"] for window in shown] == ["none", "bare"]
    assert shown[1]["until"] is None
