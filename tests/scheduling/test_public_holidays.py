"""Public holidays by country and part of it; how crews keep them."""

from datetime import date

import pytest
from django.urls import reverse

from jobs.publicholidays import UnknownCountry, public_holidays, require_country
from scheduling.actions.planning_facts import problem_of
from scheduling.planner.problem import slot_of
from tests.factories import CrewFactory, JobFactory


def of_2026(country, subdivision=""):
    return public_holidays(country, subdivision, first=date(2026, 1, 1), last=date(2026, 12, 31))


def test_a_part_of_a_country_keeps_days_of_its_own():
    assumption = date(2026, 8, 15)
    assert assumption in of_2026("DE", "SL")
    assert assumption not in of_2026("DE")


def test_only_the_days_asked_for():
    found = public_holidays("NO", "", first=date(2025, 12, 25), last=date(2026, 1, 1))
    assert sorted(found) == [date(2025, 12, 25), date(2025, 12, 26), date(2026, 1, 1)]


def test_without_a_country_none_are_known():
    assert of_2026("") == {}


@pytest.mark.parametrize(
    ("country", "subdivision", "pointer"),
    [("ZZ", "", "#/country"), ("no", "", "#/country"), ("DE", "XX", "#/subdivision")],
)
def test_an_unknown_country_is_refused(country, subdivision, pointer):
    with pytest.raises(UnknownCountry) as refused:
        require_country(country, subdivision)
    assert refused.value.pointer == pointer


@pytest.mark.django_db
class TestCrews:
    GOOD_FRIDAY = date(2027, 3, 26)

    @pytest.fixture
    def crew(self, alder):
        type(alder).objects.filter(pk=alder.pk).update(country="NO")
        alder.refresh_from_db()
        return CrewFactory(contractor=alder, name="North")

    def book(self, api, olive, crew, day):
        job = JobFactory(contractor=olive.contractor)
        body = {
            "crew": str(crew.pk), "job": str(job.pk), "task": "lay",
            "half_days": [{"day": day.isoformat(), "half": "am"}],
        }  # fmt: skip
        return api(olive).post("/api/v1/bookings/", body)

    def test_are_not_booked_on_a_public_holiday(self, api, olive, crew, problem):
        refused = problem(self.book(api, olive, crew, self.GOOD_FRIDAY))
        assert refused["type"] == "/problems/crew-is-away/"
        assert "Good Friday is a public holiday" in refused["detail"]
        assert self.book(api, olive, crew, date(2027, 3, 24)).status_code == 201

    def test_that_work_then_are(self, api, olive, crew):
        crew.keeps_holidays = False
        crew.save()
        assert self.book(api, olive, crew, self.GOOD_FRIDAY).status_code == 201

    def test_are_booked_on_any_day_where_no_country_is_said(self, api, olive):
        crew = CrewFactory(contractor=olive.contractor)
        assert self.book(api, olive, crew, self.GOOD_FRIDAY).status_code == 201

    def test_are_away_then_for_planning(self, crew):
        CrewFactory(contractor=crew.contractor, name="South", keeps_holidays=False)
        start = date(2027, 3, 22)
        problem = problem_of(crew.contractor_id, start=start)
        away = {each.id: each.away for each in problem.crews}
        good_friday = {slot_of(start, self.GOOD_FRIDAY, half) for half in ("am", "pm")}
        assert good_friday <= away["North"]
        assert not away["South"]

    def test_show_the_days_to_come(self, api, olive, crew):
        page = api(olive).get(reverse("crew", args=[crew.pk])).content.decode()
        assert "Public holidays, days off" in page


@pytest.mark.django_db
def test_the_office_says_which_country(api, olive):
    kept = {
        "name": "Alder Floors", "time_zone": "Europe/Oslo", "units": "metric", "language": "en",
    }  # fmt: skip
    address = reverse("company")
    refused = api(olive).post(address, {**kept, "country": "zz"}, "multipart")
    assert refused.status_code == 422
    assert "public holidays of ZZ are not known" in refused.content.decode()
    assert api(olive).post(address, {**kept, "country": "no"}, "multipart").status_code == 302
    olive.contractor.refresh_from_db()
    assert olive.contractor.country == "NO"
    assert api(olive).get("/api/v1/me/").json()["contractor"]["country"] == "NO"
