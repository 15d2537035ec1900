"""The plan as a page: what hardens, what ends late, and a task moved by hand."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from scheduling.models import Booking
from tests.factories import (
    BookingFactory,
    CrewAbsenceFactory,
    CrewFactory,
    JobFactory,
    MaterialFactory,
    RoomFactory,
)


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


@pytest.fixture
def north(alder):
    return CrewFactory(contractor=alder, name="North", works=[[1, 1]] * 7)


@pytest.fixture
def job(alder, real_today):
    MaterialFactory(contractor=alder, kind="mortar")
    return RoomFactory(contractor=alder, job__due_on=real_today + timedelta(days=3)).job


def booked(north, job, task, day, half="am"):
    return BookingFactory(
        contractor=north.contractor, crew=north, job=job, task=task, day=day, half=half
    )


def words(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def row_of(response, head):
    """The words of the row that begins with this head, cell by cell."""
    rows = re.findall(
        r"<tr><th scope=\"row\">(.*?)</th>(.*?)</tr>", response.content.decode(), re.S
    )
    (cells,) = [cells for name, cells in rows if name.startswith(head)]
    return [
        re.sub(r"<[^>]+>", "", cell).strip() for cell in re.findall(r"<td[^>]*>(.*?)</td>", cells)
    ]


def test_what_hardens_is_seen_half_day_by_half_day(office, north, job, real_today):
    booked(north, job, "embed", real_today, "pm")
    cells = row_of(office.get(reverse("plan")), "14 Mill Lane, mortar")
    assert cells[:2] == ["", ""]
    assert cells[2] == "keep off"
    assert cells[-1] in ("keep off", "no heat")
    assert "no heat" in cells


def test_nothing_hardens_before_it_is_covered(office, north, job, real_today):
    booked(north, job, "lay", real_today)
    assert "mortar" not in words(office.get(reverse("plan")))


def test_late_jobs_are_named_and_marked(office, north, job, real_today):
    booked(north, job, "lay", real_today)
    assert "beyond its due date" not in words(office.get(reverse("plan")))
    booked(north, job, "energize", real_today + timedelta(days=5))
    page = office.get(reverse("plan"))
    assert "1 job is booked beyond its due date" in words(page)
    assert row_of(page, "North")[0] == "14 Mill Lane, lay, late job"


def test_a_task_is_moved_by_hand_and_held_there(office, north, job, real_today):
    lay = booked(north, job, "lay", real_today + timedelta(days=1))
    address = reverse("booking", args=[lay.pk])
    assert address in office.get(reverse("plan")).content.decode()
    given = {
        "crew": str(north.pk),
        "day": real_today + timedelta(days=2),
        "half": "pm",
        "version": 1,
    }
    assert office.post(address, given).status_code == 302
    lay.refresh_from_db()
    assert (lay.day, lay.half, lay.pinned) == (real_today + timedelta(days=2), "pm", True)
    assert office.post(address, {**given, "version": 2, "pin": "1"})["Location"] == address
    assert not Booking.objects.get().pinned


def test_a_refused_move_offers_the_nearest_places_to_press(office, north, job, real_today):
    lay = booked(north, job, "lay", real_today + timedelta(days=1))
    booked(north, job, "embed", real_today + timedelta(days=2))
    address = reverse("booking", args=[lay.pk])
    given = {
        "crew": str(north.pk),
        "day": real_today + timedelta(days=4),
        "half": "am",
        "version": 1,
    }
    refused = office.post(address, given)
    assert refused.status_code == 422
    said = words(refused)
    assert "cover with mortar at 14 Mill Lane is booked on" in said
    assert "Nearest possible" in said
    offered = dict(
        re.findall(
            r'name="(crew|day|half|version)" value="([^"]*)"',
            refused.content.decode().split("<h2>")[1].split("</form>")[0],
        )
    )
    assert office.post(address, offered).status_code == 302
    lay.refresh_from_db()
    assert (lay.day, lay.half) == (real_today + timedelta(days=1), "pm")


def test_the_job_that_ends_latest_comes_first_and_one_that_is_moved_in_time_goes(
    office, north, alder, real_today, real_now
):
    jobs = [
        JobFactory(contractor=alder, street=street, due_on=real_today)
        for street in ("1 Elm Way", "2 Elm Way")
    ]
    for late, job in enumerate(jobs, 1):
        booked(north, job, "lay", real_today - timedelta(days=late))
        booked(north, job, "tile", real_today + timedelta(days=late))
    page = words(office.get(reverse("plan")))
    assert page.index("2 Elm Way ends") < page.index("1 Elm Way ends")
    Booking.objects.filter(job=jobs[1], task="tile").update(cancelled_at=real_now)
    page = words(office.get(reverse("plan")))
    assert "1 Elm Way ends" in page
    assert "2 Elm Way ends" not in page


def test_a_plan_with_floors_that_harden_asks_as_often_for_many(
    office, north, alder, real_today, django_assert_max_num_queries
):
    MaterialFactory(contractor=alder, kind="mortar")
    counts = []
    for days in (0, 1):
        room = RoomFactory(contractor=alder)
        booked(north, room.job, "embed", real_today + timedelta(days=days))
        booked(north, room.job, "tile", real_today + timedelta(days=days), "pm")
        CrewAbsenceFactory(contractor=alder, crew=north, day=real_today + timedelta(days=2 + days))
        office.get(reverse("plan"))  # what was written since is worked out once
        with django_assert_max_num_queries(12) as asked:
            page = office.get(reverse("plan"))
        assert words(page).count(", mortar") == days + 1
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_late_jobs_are_counted_beyond_those_that_are_listed(office, north, job, real_today):
    for number in range(52):
        late = JobFactory(contractor=north.contractor, due_on=real_today - timedelta(days=number))
        booked(north, late, "lay", real_today + timedelta(days=1 + number))
    page = words(office.get(reverse("plan")))
    assert "52 jobs are booked beyond their due date" in page
    assert page.count("ends ") == 50
