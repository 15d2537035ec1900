"""Sample jobs come with one click and go with another; what is kept for good keeps them."""

import pytest
from django.urls import reverse

from jobs.models import Customer, Job, Room
from scheduling.models import Booking, Crew, Layer, Visit
from tests.factories import CheckFactory, JobFactory

TABLES = (Customer, Job, Room, Layer, Booking, Visit, Crew)


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


def counts():
    return {model: model.objects.count() for model in TABLES}


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_sample_jobs_come_once_and_go_without_a_trace(office, olive, units):
    type(olive.contractor).objects.update(units=units)
    own = JobFactory(contractor=olive.contractor)
    before = counts()
    office.post(reverse("sample-add"))
    office.post(reverse("sample-add"))
    assert Job.objects.exclude(pk=own.pk).count() == 3
    assert all(counts()[model] > before[model] for model in TABLES)
    page = office.get(reverse("home")).content.decode()
    assert "2 Sample Street" in page
    assert "Take the sample jobs out" in page
    office.post(reverse("sample-end"))
    assert counts() == before
    assert "Take the sample jobs out" not in office.get(reverse("home")).content.decode()


def test_an_empty_company_is_told_how_to_begin(office):
    page = office.get(reverse("home")).content.decode()
    assert "How to begin" in page
    assert "Put in sample jobs" in page


def test_a_sample_job_with_a_reading_stays_and_says_why(office, olive):
    office.post(reverse("sample-add"))
    room = Room.objects.order_by("pk").first()
    CheckFactory(contractor=olive.contractor, room=room, taken_by=olive)
    before = counts()
    answer = office.post(reverse("sample-end"), follow=True)
    assert "those are never deleted" in answer.content.decode()
    assert counts() == before
