"""What jobs wait for, kept for lists: it says what working it out anew would say."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.urls import reverse

from jobs.models import Job
from scheduling.actions.now import jobs_now
from scheduling.actions.standing import bring_up_to_date
from scheduling.models import JobNeed, JobWait, SignOff, StaleJob
from scheduling.waiting import changes_at, waiting
from tests.factories import (
    BookingFactory,
    CertificateFactory,
    CrewFactory,
    ElementFactory,
    JobFactory,
    LayerFactory,
    MemberFactory,
    NoticeFactory,
    RoomFactory,
    VisitFactory,
)
from tests.pages.world import build


def kept(member):
    waits = {
        row.job_id: (row.band, row.mark, row.says, row.figures, row.until, row.room_id)
        for row in JobWait.objects.visible_to(member)
    }
    needs = {
        (row.job_id, row.group, row.mark, row.says, row.until, row.room_id)
        for row in JobNeed.objects.visible_to(member)
    }
    return waits, needs


def worked_out(member, at):
    rows = Job.objects.visible_to(member).filter(closed_at=None)
    found = [(job, waiting(job, at)) for job in jobs_now(member, rows, at)]
    waits = {
        job.id: (w.band, w.mark, w.says.key, dict(w.says.figures), w.until, w.room and w.room.id)
        for job, w in found
    }
    needs = {
        (job.id, need.group, need.mark, need.says.key, need.until, need.room and need.room.id)
        for job, w in found
        for need in w.needs
    }
    return waits, needs


def test_lists_say_what_working_out_says_now_and_as_time_passes(olive, finn, real_now):
    build(olive, finn, real_now)
    at = real_now
    for _turn in range(8):
        bring_up_to_date(olive, at=at)
        assert kept(olive) == worked_out(olive, at)
        rows = Job.objects.visible_to(olive)
        turns = [changes_at(job, at) for job in jobs_now(olive, rows, at)]
        at = min((turn for turn in turns if turn), default=at + timedelta(days=1))


def test_nothing_changes_before_its_time(olive, finn, real_now):
    build(olive, finn, real_now)
    for job in jobs_now(olive, Job.objects.visible_to(olive), real_now):
        at = real_now
        while turn := changes_at(job, at):
            just_before = turn - timedelta(microseconds=1)
            assert waiting(job, at) == waiting(job, just_before)
            at = turn


WRITES = {
    "job": lambda own, job, room: JobFactory(**own).pk,
    "room": lambda own, job, room: RoomFactory(job=job, **own).job_id,
    "element": lambda own, job, room: ElementFactory(room=room, **own).room.job_id,
    "layer": lambda own, job, room: LayerFactory(room=room, **own).room.job_id,
    "booking": lambda own, job, room: BookingFactory(job=job, room=None, **own).job_id,
    "visit": lambda own, job, room: VisitFactory(job=job, room=None, **own).job_id,
    "certificate": lambda own, job, room: CertificateFactory(job=job, **own).job_id,
}


@pytest.mark.parametrize("kind", WRITES)
def test_what_is_written_marks_its_job(alder, kind):
    room = RoomFactory(contractor=alder)
    StaleJob.objects.all().delete()
    job_id = WRITES[kind]({"contractor": alder}, room.job, room)
    assert job_id in StaleJob.objects.values_list("job_id", flat=True)


def test_a_notice_its_answer_and_a_new_name_of_a_crew_mark_jobs_too(alder, real_today):
    notice = NoticeFactory(contractor=alder)
    crew = CrewFactory(contractor=alder)
    job = JobFactory(contractor=alder)
    BookingFactory(contractor=alder, crew=crew, job=job, room=None, day=real_today)
    StaleJob.objects.all().delete()
    type(notice).objects.filter(pk=notice.pk).update(repeated=1)
    assert StaleJob.objects.get().job_id == notice.visit.job_id
    StaleJob.objects.all().delete()
    type(crew).objects.filter(pk=crew.pk).update(name="South")
    assert StaleJob.objects.get().job_id == job.pk


def test_a_reading_through_the_api_is_in_the_list_at_once(client, olive, finn, real_now):
    world = build(olive, finn, real_now)
    client.force_login(olive, "config.authentication.MemberBackend")
    client.get(reverse("home"))
    SignOff.objects.create(
        contractor=olive.contractor,
        job=world.job,
        client_id=uuid4(),
        kind="customer",
        name="Ada",
        signed_at=real_now,
        received_at=real_now,
        recorded_by=olive,
    )
    client.get(reverse("home"))
    assert not StaleJob.objects.exists()
    assert kept(olive)[0].keys() == worked_out(olive, real_now)[0].keys()


def test_a_closed_job_leaves_the_lists(olive, real_now):
    job = JobFactory(contractor=olive.contractor)
    bring_up_to_date(olive, at=real_now)
    Job.objects.filter(pk=job.pk).update(closed_at=real_now)
    bring_up_to_date(olive, at=real_now)
    assert kept(olive) == ({}, set())


def test_others_jobs_stay_as_they_are(olive, bo, real_now):
    JobFactory(contractor=bo.contractor)
    assert bring_up_to_date(olive, at=real_now) == 0
    assert StaleJob.objects.visible_to(bo).exists()


@pytest.mark.django_db(transaction=True)
def test_two_at_once_leave_one_row_for_a_job(real_now):
    member = MemberFactory()
    for _ in range(5):
        JobFactory(contractor=member.contractor)
    both = threading.Barrier(2)

    def work():
        try:
            both.wait()
            return bring_up_to_date(member, at=real_now)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        done = [each.result() for each in [pool.submit(work), pool.submit(work)]]
    assert sorted(done) == [0, 5]
    assert JobWait.objects.count() == 5
