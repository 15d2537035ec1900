"""The first heating of a room: ticked off on a page, stopped by readings, gone on with, fetched."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from icalendar import Calendar

from config.tenancy import violated
from readings.models import SiteTemperature
from scheduling import tasks
from scheduling.actions import warmup
from scheduling.actions.decisions import refresh
from scheduling.actions.record import handover_of
from scheduling.actions.standing import bring_up_to_date
from scheduling.models import (
    Decision,
    Energizing,
    JobNeed,
    StaleCalendar,
    StaleJob,
    WarmUpStep,
)
from tests.factories import (
    CheckFactory,
    ElementFactory,
    JobFactory,
    LayerFactory,
    MaterialFactory,
    RoomFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime.now(UTC).replace(microsecond=0)  # noqa: TID251  the pages ask the clock
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def room(alder, finn):
    job = JobFactory(contractor=alder)
    room = RoomFactory(contractor=alder, job=job, name="Bath", covering="tile", required=[])
    LayerFactory(
        contractor=alder, room=room, position=1, placed_at=NOW - 20 * DAY, placed_by=finn,
        material=MaterialFactory(contractor=alder, name="Bed mortar"), curing={},
    )  # fmt: skip
    return room


def heat(room, finn, at):
    refreshed = (
        Decision.objects.filter(room=room).first() or refresh([with_curing(room)], at=NOW)[0]
    )
    return Energizing.objects.create(
        contractor_id=room.contractor_id, room=room, client_id=uuid4(), at=at, decision=refreshed,
        recorded_by=finn,
    )  # fmt: skip


def with_curing(room):
    for layer in room.layers.select_related("material"):
        layer.curing = layer.material.curing | (layer.curing or {})
        layer.save()
    return room


def probe(room, finn, celsius, at):
    return SiteTemperature.objects.create(
        contractor_id=room.contractor_id, job=room.job, room=room, client_id=uuid4(), at=at,
        celsius=celsius, source="floor_sensor", received_at=at, taken_by=finn,
    )  # fmt: skip


def check(room, finn, outcome, at, sequence, stage="service"):
    return CheckFactory(
        contractor=room.contractor, room=room, stage=stage, outcome=outcome, taken_at=at,
        taken_by=finn, sequence=sequence,
    )  # fmt: skip


def text_of(response):
    return response.content.decode()


@pytest.mark.parametrize("name", ["warm-up", "field-warm-up"])
class TestThePage:
    def test_before_heat_its_days_are_likely(self, api, finn, room, name):
        with_curing(room)
        page = text_of(api(finn).get(reverse(name, args=[room.pk])))
        assert "Likely days: heat is not on yet" in page
        assert "29" in page
        assert "water-heated" in page
        assert "licensed electrician" in page

    def test_a_step_is_ticked_off_by_a_form(self, api, finn, room, name):
        heat(room, finn, NOW - 1.2 * DAY)
        address = reverse(name, args=[room.pk])
        assert "Step 1 is done" in text_of(api(finn).get(address))
        answer = api(finn).post(address, {"step": "1", "floor_c": "18,5"}, "multipart")
        assert (answer.status_code, answer.url) == (302, address)
        assert WarmUpStep.objects.get().floor_c == 18.5
        page = text_of(api(finn).get(address))
        assert "measured" in page
        assert "It lasts until" in page

    def test_what_is_refused_stays_typed(self, api, finn, room, name):
        heat(room, finn, NOW - 0.2 * DAY)
        answer = api(finn).post(
            reverse(name, args=[room.pk]), {"step": "1", "floor_c": "18"}, "multipart"
        )
        assert answer.status_code == 422
        assert "lasts until" in text_of(answer)
        assert 'value="18"' in text_of(answer)

    def test_a_viewer_only_looks(self, api, vera, finn, room, name):
        heat(room, finn, NOW - 2 * DAY)
        page = text_of(api(vera).get(reverse(name, args=[room.pk])))
        assert '<form method="post" class="form">' not in page


def test_fahrenheit_is_taken_where_the_job_says_so(api, finn, room):
    type(room.job).objects.filter(pk=room.job_id).update(units="imperial")
    heat(room, finn, NOW - 1.2 * DAY)
    address = reverse("field-warm-up", args=[room.pk])
    assert "°F" in text_of(api(finn).get(address))
    api(finn).post(address, {"step": "1", "floor_c": "65.3"}, "multipart")
    assert WarmUpStep.objects.get().floor_c == pytest.approx(18.5)


def test_never_above_what_a_material_in_the_floor_prints(api, finn, room):
    layer = room.layers.get()
    layer.curing = {"service_most_c": 26.0}
    layer.save()
    with_curing(room)
    plan = warmup.plan_of(room, at=NOW)
    assert (plan.limit.celsius, plan.limit.because) == (26.0, "printed for Bed mortar")
    assert max(step.floor_c for step in plan.steps) == 26.0


class TestAStop:
    def test_by_the_floor_sensor_though_nobody_ticked(self, finn, room):
        heat(room, finn, NOW - 0.5 * DAY)
        probe(room, finn, 21.0, NOW - 0.4 * DAY)
        assert warmup.watch(room, at=NOW) is None
        warm = probe(room, finn, 21.1, NOW - 0.3 * DAY)
        stop = warmup.watch(room, at=NOW)
        assert (stop.step, stop.floor_c, stop.done_at) == (1, 21.1, warm.at)
        assert "where step 1 wants 18 °C" in stop.stopped_because
        assert warmup.watch(room, at=NOW) is None
        assert WarmUpStep.objects.count() == 1

    def test_is_found_by_the_refresh_that_a_reading_wakes(self, finn, room):
        heat(room, finn, NOW - 0.5 * DAY)
        probe(room, finn, 30.0, NOW - 0.3 * DAY)
        tasks.refresh_job(str(room.job_id))
        assert "above its limit of 29 °C" in WarmUpStep.objects.get().stopped_because

    def test_a_step_is_judged_by_the_hour_of_its_reading(self, finn, room):
        heat(room, finn, NOW - 1.5 * DAY)
        probe(room, finn, 24.0, NOW - 0.2 * DAY)  # step 2 wants 21
        assert warmup.watch(room, at=NOW) is None
        probe(room, finn, 24.0, NOW - 1.2 * DAY)  # step 1 wants 18
        assert warmup.watch(room, at=NOW).step == 1

    def test_by_a_check_that_fails_and_not_by_one_made_good(self, finn, room):
        heat(room, finn, NOW - 0.5 * DAY)
        check(room, finn, "fail", NOW - 0.4 * DAY, 1)
        check(room, finn, "pass", NOW - 0.3 * DAY, 2)
        assert warmup.watch(room, at=NOW) is None
        check(room, finn, "fail", NOW - 0.2 * DAY, 3)
        assert "A check failed" in warmup.watch(room, at=NOW).stopped_because

    def test_is_the_first_thing_that_the_office_has_to_see(self, olive, finn, room):
        heat(room, finn, NOW - 0.5 * DAY)
        probe(room, finn, 30.0, NOW - 0.3 * DAY)
        StaleJob.objects.all().delete()
        warmup.watch(room, at=NOW)
        assert StaleJob.objects.filter(job=room.job).exists()
        bring_up_to_date(olive, at=NOW)
        need = JobNeed.objects.get(says="stopped")
        assert (need.group, need.mark) == ("people", "fail")

    def test_says_so_in_the_language_of_the_page(self, api, finn, room):
        heat(room, finn, NOW - 0.5 * DAY)
        probe(room, finn, 30.0, NOW - 0.3 * DAY)
        warmup.watch(room, at=NOW)
        address = reverse("field-warm-up", args=[room.pk])
        assert "The floor is at 30 °C, above its limit" in text_of(api(finn).get(address))
        type(finn).objects.filter(pk=finn.pk).update(language="es")
        finn.refresh_from_db()
        assert "El piso está a 30 °C" in text_of(api(finn).get(address))

    def test_is_gone_on_with_from_its_step(self, api, finn, room):
        heat(room, finn, NOW - 1.5 * DAY)
        ElementFactory(contractor=room.contractor, room=room)
        probe(room, finn, 27.0, NOW - 0.3 * DAY)
        stop = warmup.watch(room, at=NOW)
        StaleCalendar.objects.all().delete()
        assert any("was stopped" in item.what for item in handover_of(room.job))
        assert api(finn).post(reverse("warm-up-resume", args=[room.pk])).status_code == 302
        assert not any("was stopped" in item.what for item in handover_of(room.job))
        stop.refresh_from_db()
        assert stop.resumed_by == finn
        plan = warmup.plan_of(room, at=NOW)
        assert plan.stop is None
        assert plan.steps[0].starts_at == stop.resumed_at
        assert plan.steps[1].starts_at == stop.resumed_at + DAY
        assert StaleCalendar.objects.filter(job=room.job).exists()
        assert warmup.watch(room, at=NOW) is None  # what was read before is done with

    def test_is_not_gone_on_with_while_a_check_fails(self, api, finn, room, problem):
        heat(room, finn, NOW - 0.5 * DAY)
        check(room, finn, "fail", NOW - 0.2 * DAY, 1)
        warmup.watch(room, at=NOW)
        refused = api(finn).post(f"/api/v1/rooms/{room.pk}/warm-up/resume/")
        assert problem(refused)["type"] == "/problems/warm-up-stopped/"
        page = api(finn).post(reverse("warm-up-resume", args=[room.pk]))
        assert page.status_code == 422
        assert "Measure again first" in text_of(page)
        check(room, finn, "pass", NOW - 0.1 * DAY, 2)
        assert api(finn).post(f"/api/v1/rooms/{room.pk}/warm-up/resume/").status_code == 200

    def test_that_is_none_cannot_be_gone_on_with(self, api, finn, room, problem):
        heat(room, finn, NOW - 0.5 * DAY)
        refused = api(finn).post(f"/api/v1/rooms/{room.pk}/warm-up/resume/")
        assert problem(refused)["type"] == "/problems/warm-up-out-of-order/"

    def test_stands_once_at_a_time(self, finn, room):
        heat(room, finn, NOW - 0.5 * DAY)
        probe(room, finn, 30.0, NOW - 0.3 * DAY)
        stop = warmup.watch(room, at=NOW)
        stop.pk = uuid4()
        with pytest.raises(IntegrityError) as refused, transaction.atomic():
            stop.save(force_insert=True)
        assert violated(refused.value) == "warmupstep_stopped_once"
        with pytest.raises(IntegrityError) as refused, transaction.atomic():
            WarmUpStep.objects.update(resumed_at=NOW)
        assert violated(refused.value) == "warmupstep_resumed_at_and_by"


class TestTheCalendarFile:
    def events(self, response):
        assert response["Content-Type"].startswith("text/calendar")
        return Calendar.from_ical(response.content).walk("VEVENT")

    def test_has_each_step_with_its_hours(self, api, finn, room):
        with_curing(room)
        plan = warmup.plan_of(room, at=NOW)
        events = self.events(api(finn).get(reverse("warm-up-calendar", args=[room.pk])))
        assert [event.decoded("dtstart") for event in events] == [
            step.starts_at.astimezone(UTC).replace(microsecond=0) for step in plan.steps
        ]
        assert {str(event["status"]) for event in events} == {"TENTATIVE"}
        assert "Bath: floor at 18 °C, likely" in str(events[0]["summary"])
        assert "electrician" in str(events[0]["description"])

    def test_keeps_its_names_when_it_is_fetched_again(self, api, finn, room):
        with_curing(room)
        likely = self.events(api(finn).get(reverse("warm-up-calendar", args=[room.pk])))
        heat(room, finn, NOW - DAY)
        known = self.events(api(finn).get(f"/api/v1/rooms/{room.pk}/warm-up.ics"))
        assert [event["uid"] for event in known] == [event["uid"] for event in likely]
        assert {str(event["status"]) for event in known} == {"CONFIRMED"}
