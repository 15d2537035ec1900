"""Visits from calendars and lines over the API and the office's page."""

from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection

from jobs.models import Job
from scheduling.actions import visit_imports
from scheduling.actions.visit_imports import MOST_TO_COME, Source
from scheduling.models import Notice, Visit
from tests.factories import JobFactory, RoomFactory, VisitFactory
from tests.scheduling.test_api_visits import laid

URL = "/api/v1/visits/import/"
DAY = timedelta(days=1)


@pytest.fixture
def job(alder) -> Job:
    return JobFactory(contractor=alder, time_zone="Europe/Oslo")


@pytest.fixture
def room(job):
    return RoomFactory(contractor=job.contractor, job=job, name="Bathroom")


@pytest.fixture
def body(job):
    return {
        "job": str(job.pk),
        "trade": "plumber",
        "company": "Brook & Weir",
        "email": "brook@weir.example",
        "activities": ["walking", "drilling"],
    }


def calendar(at, *, uid="pipes@weir", sequence=0, more=""):
    """Two hours a day from `at` on, three times."""
    return (
        "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n"
        f"UID:{uid}\r\nSEQUENCE:{sequence}\r\nSUMMARY:Pipes\r\n"
        f"DTSTART:{at:%Y%m%dT%H%M%SZ}\r\nDURATION:PT2H\r\nRRULE:FREQ=DAILY;COUNT=3\r\n{more}"
        "END:VEVENT\r\nEND:VCALENDAR\r\n"
    )


def deeds(response) -> list[str]:
    assert response.status_code == 200, response.content
    return [visit["deed"] for visit in response.json()["visits"]]


def test_a_calendar_is_taken_and_held_against_the_floors(api, olive, body, room, real_now):
    laid(room, real_now - DAY)
    sent = {**body, "calendar": calendar(real_now + DAY)}
    answer = api(olive).post(URL, sent)
    assert deeds(answer) == ["new"] * 3
    first = answer.json()["visits"][0]
    assert (first["title"], first["conflicts"][0]["state"]) == ("Pipes", "bare")
    visits = Visit.objects.order_by("starts_at")
    assert {visit.trade for visit in visits} == {"plumber"}
    assert visits[0].source_uid == f"pipes@weir/{real_now + DAY:%Y%m%dT%H%M%SZ}"
    assert Notice.objects.count() == 3


def test_a_preview_stores_nothing(api, olive, body, room, real_now):
    laid(room, real_now - DAY)
    sent = {**body, "calendar": calendar(real_now + DAY), "preview": True}
    answer = api(olive).post(URL, sent)
    assert deeds(answer) == ["new"] * 3
    assert answer.json()["visits"][0]["conflicts"]
    assert not Visit.objects.exists()
    assert not Notice.objects.exists()


def test_the_same_calendar_again_doubles_nothing(api, olive, body, real_now):
    sent = {**body, "calendar": calendar(real_now + DAY)}
    api(olive).post(URL, sent)
    assert deeds(api(olive).post(URL, sent)) == ["same"] * 3
    assert Visit.objects.count() == 3


def test_what_has_moved_moves_and_what_is_gone_is_called_off(api, olive, body, real_now):
    api(olive).post(URL, {**body, "calendar": calendar(real_now + DAY)})
    off = f"EXDATE:{real_now + 2 * DAY:%Y%m%dT%H%M%SZ}\r\n"
    longer = calendar(real_now + DAY, sequence=1, more=off).replace("PT2H", "PT3H")
    assert deeds(api(olive).post(URL, {**body, "calendar": longer})) == ["moved", "gone", "moved"]
    hours = {v.ends_at - v.starts_at for v in Visit.objects.filter(cancelled_at=None)}
    assert hours == {timedelta(hours=3)}
    assert Visit.objects.exclude(cancelled_at=None).count() == 1


def test_an_older_calendar_changes_nothing(api, olive, body, real_now):
    api(olive).post(URL, {**body, "calendar": calendar(real_now + DAY, sequence=4)})
    older = calendar(real_now + DAY, sequence=3).replace("PT2H", "PT3H")
    assert deeds(api(olive).post(URL, {**body, "calendar": older})) == ["older"] * 3


def test_a_calendar_that_calls_off_calls_off_its_own(api, olive, body, job, real_now):
    VisitFactory(contractor=job.contractor, job=job, source_uid="other@weir")
    api(olive).post(URL, {**body, "calendar": calendar(real_now + DAY)})
    off = calendar(real_now + DAY, sequence=1).replace(
        "VCALENDAR\r\n", "VCALENDAR\r\nMETHOD:CANCEL\r\n", 1
    )
    assert deeds(api(olive).post(URL, {**body, "calendar": off})) == ["gone"] * 3
    assert Visit.objects.filter(cancelled_at=None).count() == 1


def test_what_the_office_called_off_stays_so(api, olive, body, real_now):
    sent = {**body, "calendar": calendar(real_now + DAY)}
    api(olive).post(URL, sent)
    Visit.objects.update(cancelled_at=real_now)
    assert deeds(api(olive).post(URL, sent)) == ["same"] * 3
    assert not Visit.objects.filter(cancelled_at=None).exists()


def test_lines_are_taken_with_their_own_words_and_the_bad_ones_named(
    api, olive, body, room, real_now
):
    day = (real_now + 5 * DAY).date()
    lines = f"{day} 8-16 tiler, Slate @ bathroom: walking\n{day} 25-26 tiler\n{day} am painter"
    answer = api(olive).post(URL, {**body, "lines": lines}).json()
    assert [(v["trade"], v["company"], v["room"]) for v in answer["visits"]] == [
        ("painter", "Brook & Weir", None),
        ("tiler", "Slate", str(room.pk)),
    ]
    assert answer["wrongs"] == [{"where": f"2: {day} 25-26 tiler", "why": "“25” is no time."}]
    assert Visit.objects.get(trade="tiler").activities == ["walking"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({}, "#/lines"),
        ({"calendar": "x", "lines": "y"}, "#/lines"),
        ({"calendar": "BEGIN:VCALENDAR", "trade": None}, "#/trade"),
        ({"calendar": "<html>"}, "#/calendar"),
        ({"lines": "2027-01-01 x\n" * 501}, "#/lines"),
        ({"calendar": 7}, "#/calendar"),
    ],
)
def test_what_is_neither_is_refused(api, olive, body, problem, change, pointer):
    sent = {name: value for name, value in {**body, **change}.items() if value is not None}
    refused = api(olive).post(URL, sent)
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == pointer


def test_a_room_of_another_job_is_refused(api, olive, body, alder, problem):
    other = RoomFactory(contractor=alder)
    refused = api(olive).post(URL, {**body, "room": str(other.pk), "lines": "x"})
    assert problem(refused)["errors"][0]["pointer"] == "#/room"


def test_more_than_a_job_can_hold_is_refused(api, olive, body, job, problem, real_now):
    Visit.objects.bulk_create(
        VisitFactory.build(
            contractor=job.contractor,
            job=job,
            starts_at=real_now + DAY,
            ends_at=real_now + 2 * DAY,
        )
        for _ in range(MOST_TO_COME - 2)
    )
    refused = api(olive).post(URL, {**body, "calendar": calendar(real_now + DAY)})
    assert f"more than {MOST_TO_COME}" in problem(refused)["detail"]


@pytest.mark.django_db(transaction=True)
def test_the_same_file_twice_at_once_is_taken_once(job, olive, real_now):
    source = Source(
        job=job,
        calendar=calendar(real_now + DAY),
        fields={"trade": "plumber", "company": "Weir", "activities": ["walking"]},
    )
    barrier = Barrier(2)

    def take():
        barrier.wait()
        visit_imports.take(source, at=real_now)
        connection.close()

    threads = [Thread(target=take) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Visit.objects.count() == 3


# The office's page


def page_body(**more):
    return {"trade": "plumber", "language": "en", "activities": ["walking"], **more}


def test_the_page_shows_first_and_takes_then(api, olive, job, real_now):
    client, url = api(olive), f"/jobs/{job.pk}/visits/import/"
    file = SimpleUploadedFile("pipes.ics", calendar(real_now + DAY).encode())
    shown = client.post(url, page_body(file=file), format="multipart")
    assert shown.status_code == 200
    text = shown.content.decode()
    assert text.count("Pipes") >= 3
    assert "Note these 3 changes" in text
    assert not Visit.objects.exists()
    kept = shown.context["form"]["kept"].value()
    taken = client.post(url, page_body(kept=kept, deed="take"), format="multipart")
    assert (taken.status_code, taken["Location"]) == (302, f"/jobs/{job.pk}/")
    assert Visit.objects.count() == 3


def test_the_page_names_bad_lines_and_keeps_what_was_typed(api, olive, job, real_now):
    day = (real_now + DAY).date()
    lines = f"{day} 8-16 <b>tiler</b>\n{day} 25-26 <script>"
    shown = api(olive).post(
        f"/jobs/{job.pk}/visits/import/", page_body(lines=lines), format="multipart"
    )
    text = shown.content.decode()
    assert "“25” is no time." in text
    assert "<script>" not in text
    assert "&lt;b&gt;tiler" in text
    assert shown.context["form"]["lines"].value() == lines


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "Type a line, or choose a file."),
        ({"kept": "BEGIN:VCALENDAR", "trade": ""}, "A calendar does not say which trade it is of."),
        ({"kept": "<html>"}, "This is no calendar"),
    ],
)
def test_the_page_says_what_is_missing(api, olive, job, sent, said):
    shown = api(olive).post(f"/jobs/{job.pk}/visits/import/", page_body(**sent), format="multipart")
    assert shown.status_code == 422
    assert said in shown.content.decode()


def test_a_file_that_is_too_large_or_no_text_is_refused(api, olive, job):
    for content, said in ((b"x" * 1_100_000, "larger than 1000 kB"), (b"\xff\xfe", "not UTF-8")):
        file = SimpleUploadedFile("pipes.ics", content)
        shown = api(olive).post(
            f"/jobs/{job.pk}/visits/import/", page_body(file=file), format="multipart"
        )
        assert shown.status_code == 422
        assert said in shown.content.decode()
