"""What other systems are told: each event comes with what happened, or not at all."""

import json
from datetime import timedelta

import pytest

from jobs.models import Delivery
from scheduling.actions import notices
from scheduling.models import Notice
from tests.factories import NoticeFactory, WebhookFactory
from tests.readings.conftest import Site
from tests.scheduling.finished import Finished

CERTIFICATES = "/api/v1/certificates/"
CHECKS = "/api/v1/checks/"


@pytest.fixture
def hook(alder):
    return WebhookFactory(contractor=alder)


def told(*events: str) -> list[dict]:
    rows = Delivery.objects.order_by("pk")
    assert [row.event for row in rows] == list(events)
    return [json.loads(row.body)["data"] for row in rows]


@pytest.fixture
def room_site(alder):
    return Site(alder)


def test_a_check_is_told_with_its_outcome(api, finn, hook, room_site):
    check = api(finn).post(CHECKS, room_site.check()).json()
    (data,) = told("check.recorded")
    assert (data["check"], data["outcome"], data["stage"]) == (check["id"], "pass", "laid")
    assert data["room"] == str(room_site.room.pk)
    assert data["job"] == str(room_site.room.job_id)


def test_a_failed_check_is_told_twice(api, finn, hook, room_site):
    readings = room_site.full_set()
    readings[0] |= {"value": 12.0}
    check = api(finn).post(CHECKS, room_site.check(readings=readings)).json()
    assert check["outcome"] == "fail"
    one, other = told("check.recorded", "verdict.failed")
    assert one == other


def test_a_check_sent_again_is_told_once(api, finn, hook, room_site):
    body = room_site.check()
    for _ in range(2):
        api(finn).post(CHECKS, body)
    told("check.recorded")


def test_a_refused_check_is_not_told(api, finn, hook, room_site):
    body = {**room_site.check(), "supersedes": "0b7a7e3c-52f5-4a86-bb6f-7d20a44d8a01"}
    assert api(finn).post(CHECKS, body).status_code == 422
    told()


def test_an_answered_warning_is_told_without_the_name(alder, hook, now):
    row = NoticeFactory(contractor=alder)
    for at in (now, now + timedelta(hours=1)):
        notices.acknowledge(row=Notice.objects.get(), name="Una Weir", at=at)
    (data,) = told("notice.acknowledged")
    assert (data["notice"], data["job"]) == (str(row.pk), str(row.visit.job_id))
    assert "Una" not in Delivery.objects.get().body


def test_a_certificate_is_told_when_issued_and_when_void(api, olive, now):
    site = Finished(olive, now)
    WebhookFactory(contractor=olive.contractor)
    made = api(olive).post(CERTIFICATES, {"job": str(site.job.pk)}).json()
    api(olive).post(f"{CERTIFICATES}{made['id']}/void/", {"reason": "Wrong serial."})
    issued, voided = told("certificate.issued", "certificate.voided")
    assert issued == voided
    assert issued["number"] == made["number"]
