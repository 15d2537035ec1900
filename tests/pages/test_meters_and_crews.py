"""Meters with their ranges, crews with their days: typed in by pages alone."""

from datetime import date

import pytest
from django.urls import reverse

from readings.models import Instrument, InstrumentRange
from scheduling.models import Crew, CrewAbsence, Tool
from tests.factories import CrewAbsenceFactory, CrewFactory, InstrumentFactory

METER = {"name": "Bench meter", "serial": "B-7", "calibrated_on": "2026-11-01", "lead_ohms": "0,2"}
RANGE = {
    "name": "200 Ω",
    "quantity": "ohms",
    "full_scale": "200",
    "resolution": "0.1",
    "percent_of_reading": "0.5",
    "digits": "2",
}
CREW = {"name": "North", "skills": ["lay", "mortar"], "works": ["0-am", "0-pm", "4-am"]}


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


def test_a_meter_is_taken_in_with_its_ranges(office):
    added = office.post(reverse("meter-add"), METER)
    row = Instrument.objects.get()
    assert added["Location"] == reverse("meter", args=[row.pk])
    assert (row.serial, row.lead_ohms, row.calibration_due_on) == ("B-7", 0.2, None)
    assert office.post(added["Location"], RANGE).status_code == 302
    kept = InstrumentRange.objects.get()
    assert (kept.full_scale, kept.digits, kept.test_volts) == (200.0, 2.0, None)
    assert "200 Ω" in office.get(reverse("meters")).content.decode()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"quantity": "megohms"}, "say which"),
        ({"test_volts": "500"}, "Only a range that reads megohms has a test voltage."),
        ({"percent_of_reading": "100"}, "Type a number from 0 to 99."),
        ({"full_scale": ""}, "This field is required."),
    ],
)
def test_a_range_that_cannot_be_is_told_at_its_field(office, olive, change, says):
    row = InstrumentFactory(contractor=olive.contractor)
    answer = office.post(reverse("meter", args=[row.pk]), RANGE | change)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not row.ranges.exists()


def test_a_meter_is_changed_and_retired(office, olive):
    row = InstrumentFactory(contractor=olive.contractor)
    given = METER | {"calibration_due_on": "2020-01-01", "version": row.version}
    office.post(reverse("meter-edit", args=[row.pk]), given)
    page = office.get(reverse("meters")).content.decode()
    assert "Calibration over" in page
    office.post(reverse("meter-retire", args=[row.pk]), {})
    assert "Bench meter" not in office.get(reverse("meters")).content.decode()


def test_a_crew_is_put_together_and_changed(office, olive, finn):
    office.post(reverse("crew-add"), CREW | {"members": [str(finn.pk)]})
    row = Crew.objects.get()
    assert row.works == [[1, 1], [0, 0], [0, 0], [0, 0], [1, 0], [0, 0], [0, 0]]
    assert (row.skills, list(row.members.all())) == (["lay", "mortar"], [finn])
    form = office.get(reverse("crew-edit", args=[row.pk])).context["form"]
    typed = {name: form[name].value() for name in form.fields}
    assert office.post(reverse("crew-edit", args=[row.pk]), typed).status_code == 302
    changed = Crew.objects.get()
    assert (changed.works, changed.skills) == (row.works, row.skills)
    assert list(changed.members.all()) == [finn]
    stale = office.post(reverse("crew-edit", args=[row.pk]), typed | {"name": "South"})
    assert stale.status_code == 422


def test_members_of_others_are_not_offered(office, bo):
    answer = office.post(reverse("crew-add"), CREW | {"members": [str(bo.pk)]})
    assert answer.status_code == 422
    assert not Crew.objects.exists()


def test_days_away_are_noted_and_taken_back(office, olive, real_now):
    row = CrewFactory(contractor=olive.contractor)
    given = {
        "first_on": "2099-03-02",
        "last_on": "2099-03-04",
        "halves": ["am", "pm"],
        "note": "ill",
    }
    assert office.post(reverse("crew", args=[row.pk]), given).status_code == 302
    assert CrewAbsence.objects.filter(crew=row).count() == 6
    first = CrewAbsence.objects.filter(crew=row, day=date(2099, 3, 2), half="am").get()
    office.post(reverse("absence-end", args=[first.pk]))
    assert CrewAbsence.objects.filter(crew=row).count() == 5


@pytest.mark.parametrize(
    ("last_on", "says"),
    [("2099-03-01", "before the first"), ("2099-12-01", "At most 100 days")],
)
def test_days_that_cannot_be_are_told(office, olive, last_on, says):
    row = CrewFactory(contractor=olive.contractor)
    given = {"first_on": "2099-03-02", "last_on": last_on, "halves": ["am"]}
    answer = office.post(reverse("crew", args=[row.pk]), given)
    assert answer.status_code == 422
    assert says in answer.content.decode()


def test_absences_of_others_are_not_there(office, bo):
    theirs = CrewAbsenceFactory(contractor=bo.contractor)
    assert office.post(reverse("absence-end", args=[theirs.pk])).status_code == 404
    assert CrewAbsence.objects.filter(pk=theirs.pk).exists()


def test_a_tool_is_noted_and_a_crew_retired(office, olive):
    row = CrewFactory(contractor=olive.contractor, name="West")
    office.post(reverse("tool-add"), {"name": "Insulation tester", "capacity": "2"})
    assert Tool.objects.get().capacity == 2
    page = office.get(reverse("crews")).content.decode()
    assert "Insulation tester" in page
    assert "West" in page
    office.post(reverse("crew-retire", args=[row.pk]))
    assert "West" not in office.get(reverse("crews")).content.decode()
