"""What each open job waits for, kept as rows, so that lists cost the same however long they are."""

from collections.abc import Collection
from datetime import datetime
from operator import itemgetter
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Value

from config.tenancy import Asker
from jobs.models import Job
from scheduling.actions.now import jobs_now
from scheduling.models import JobNeed, JobWait, StaleJob
from scheduling.waiting import JobNow, Need, Waiting, changes_at, days_late, waiting

AT_ONCE = 200


def bring_up_to_date(by: Asker, *, at: datetime, most: int = AT_ONCE) -> int:
    """Work out anew the jobs of which something changed, or whose time has come, the longest
    waiting first; return how many."""
    if not _due(by, at, 1):
        return 0
    with transaction.atomic():
        # One worker at a time: a slow one must not write over what a later one found.
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))",
                [f"wait {by.contractor_id}"],
            )
        ids = _due(by, at, most)
        # First take the marks, then read: what is written meanwhile leaves a mark of its own.
        StaleJob.objects.visible_to(by).filter(job__in=ids).delete()
        rows = Job.objects.visible_to(by).filter(pk__in=ids, closed_at=None)
        found = [(job, waiting(job, at)) for job in jobs_now(by, rows, at)]
        JobWait.objects.visible_to(by).filter(job__in=ids).delete()
        JobNeed.objects.visible_to(by).filter(job__in=ids).delete()
        JobWait.objects.bulk_create(_wait(by, job, found_so, at) for job, found_so in found)
        JobNeed.objects.bulk_create(
            _need(by, job, need) for job, found_so in found for need in found_so.needs
        )
    return len(ids)


def _due(by: Asker, at: datetime, most: int) -> list[UUID]:
    stale = StaleJob.objects.visible_to(by).order_by("pk").values_list("job_id", Value(1))
    turned = (
        JobWait.objects.visible_to(by)
        .filter(changes_at__lte=at)
        .order_by("changes_at")
        .values_list("job_id", Value(2))
    )
    # A job that is written often has many marks.
    rows = stale[: most * 5].union(turned[:most], all=True)
    found = dict.fromkeys(job for job, _ in sorted(rows, key=itemgetter(1)))
    return list(found)[:most]


def contractors_to_do(*, at: datetime) -> Collection[Asker]:
    """One row of each contractor of which a job is to be worked out anew."""
    stale = StaleJob.objects.order_by("contractor").distinct("contractor")
    turned = (
        JobWait.objects.filter(changes_at__lte=at).order_by("contractor").distinct("contractor")
    )
    rows: list[Asker] = [*stale, *turned]
    return {row.contractor_id: row for row in rows}.values()


def _wait(by: Asker, job: JobNow, found: Waiting, at: datetime) -> JobWait:
    return JobWait(
        contractor_id=by.contractor_id,
        job_id=job.id,
        room_id=found.room.id if found.room else None,
        band=found.band,
        mark=found.mark,
        says=found.says.key,
        figures=dict(found.says.figures),
        assumed=found.says.rests_on(found.room),
        until=found.until,
        days_late=days_late(job),
        changes_at=changes_at(job, at),
    )


def _need(by: Asker, job: JobNow, need: Need) -> JobNeed:
    return JobNeed(
        contractor_id=by.contractor_id,
        job_id=job.id,
        room_id=need.room.id if need.room else None,
        group=need.group,
        mark=need.mark,
        says=need.says.key,
        figures=dict(need.says.figures),
        assumed=need.says.rests_on(need.room),
        until=need.until,
        since=need.since,
        call=need.call,
    )
