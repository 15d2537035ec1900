"""A proposal of the planner as a page: what it changes, taken whole or left."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Job
from scheduling import tasks
from scheduling.models import Booking, Crew, Plan
from tests.factories import CrewFactory, MaterialFactory, RoomFactory


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


@pytest.fixture
def work(alder):
    """A job with one room, a mortar, and a crew that can do everything, every day."""
    MaterialFactory(contractor=alder, kind="mortar", name="Any mortar", generic=True)
    skills = ["lay", "mortar", "tile", "electric"]
    CrewFactory(contractor=alder, name="North", skills=skills, works=[[1, 1]] * 7)
    return RoomFactory(contractor=alder).job


def words(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_a_plan_is_asked_for_shown_as_changes_and_accepted(office, work):
    assert "Ask for a better plan" in words(office.get(reverse("plan")))
    page = office.post(reverse("plan-ask"))["Location"]
    assert "A plan is being worked out" in words(office.get(page))
    row = Plan.objects.get()
    Plan.objects.update(seconds=1.0)
    assert tasks.solve_plan(str(row.pk))
    said = words(office.get(page))
    assert "A proposal:" in said
    assert "14 Mill Lane · survey" in said
    assert "not booked →" in said
    assert "now here" in said
    assert "Rests on assumptions, without a data sheet: Any mortar" in said
    assert not Booking.objects.exists()
    assert "See the proposal" in words(office.get(reverse("plan")))
    assert office.post(page, {"accept": "1"})["Location"] == reverse("plan")
    assert Booking.objects.filter(job=work).exists()
    assert "14 Mill Lane, survey" in words(office.get(reverse("plan")))
    assert "This proposal was accepted" in words(office.get(page))


def test_what_changed_since_is_told_and_nothing_is_booked(office, work, alder, olive):
    page = office.post(reverse("plan-ask"))["Location"]
    Plan.objects.update(seconds=1.0)
    assert tasks.solve_plan(str(Plan.objects.get().pk))
    CrewFactory(contractor=alder, name="South")
    refused = office.post(page, {"accept": "1"})
    assert refused.status_code == 422
    assert "crew South is new" in words(refused)
    assert not Booking.objects.exists()
    olive.language = "es"
    olive.save()
    spanish = office.post(page, {"accept": "1"})
    assert "esto ha cambiado: la cuadrilla South es nueva. Pida un plan nuevo." in words(spanish)


def test_what_is_late_or_has_no_place_is_said_in_the_readers_language(
    office, work, olive, alder, real_today
):
    CrewFactory(contractor=alder, name="Tilers", skills=["tile"], works=[[1, 1]] * 7)
    Crew.objects.filter(name="North").update(skills=["lay", "mortar", "tile"])
    yard = RoomFactory(contractor=alder, name="Hall", job__street="9 Elm Road").job
    Job.objects.filter(pk=yard.pk).update(due_on=real_today + timedelta(days=2))
    page = office.post(reverse("plan-ask"))["Location"]
    Plan.objects.update(seconds=1.0)
    assert tasks.solve_plan(str(Plan.objects.get().pk))
    said = words(office.get(page))
    assert "No place 14 Mill Lane · connect No crew can connect and switch on" in said
    assert "9 Elm Road · switch on It comes after connect at 9 Elm Road, which has no place" in said
    assert "9 Elm Road (Hall): not all of it has a place" in said
    olive.language = "es"
    olive.save()
    said = words(office.get(page))
    assert "Ninguna cuadrilla puede conectar y encender" in said
    assert "Va después de conectar en 9 Elm Road, que no tiene lugar" in said
    assert "9 Elm Road (Hall): no todo tiene lugar" in said


def test_a_late_job_is_said_in_the_readers_language(office, work, olive, alder, real_today):
    Job.objects.update(due_on=real_today + timedelta(days=2))
    page = office.post(reverse("plan-ask"))["Location"]
    Plan.objects.update(seconds=1.0)
    assert tasks.solve_plan(str(Plan.objects.get().pk))
    said = words(office.get(page))
    assert re.search(r"14 Mill Lane \([\w ]+\): \d+ half-days late", said)
    assert "Any mortar at 14 Mill Lane takes heat only from" in said
    olive.language = "es"
    olive.save()
    said = words(office.get(page))
    assert re.search(r"14 Mill Lane \([\w ]+\): \d+ medios días de retraso", said)
    assert re.search(
        r"Any mortar en 14 Mill Lane solo admite calor desde el "
        r"(lun|mar|mié|jue|vie|sáb|dom) [\d-]+ por la (mañana|tarde)",
        said,
    )


def test_a_proposal_may_be_left(office, work):
    page = office.post(reverse("plan-ask"))["Location"]
    office.post(page, {"leave": "1"})
    assert Plan.objects.get().state == "cancelled"
    assert "This proposal is closed" in words(office.get(page))


def test_asking_twice_leads_to_the_one_under_way(office, work):
    first = office.post(reverse("plan-ask"))["Location"]
    assert office.post(reverse("plan-ask"))["Location"] == first
