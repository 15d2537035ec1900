"""Notices: made when a visit meets a window that forbids it, sent, acknowledged, or withdrawn."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.template.loader import render_to_string
from django.utils import translation

from config import mail
from config.celery import wake
from config.errors import DomainError
from config.retrying import LONGEST_BACK_OFF, back_off
from jobs.actions.links import make_link, open_link
from jobs.actions.refreshing import refresh_job
from jobs.actions.webhooks import announce
from scheduling import notice
from scheduling.actions.exposures import windows_of_job
from scheduling.exposure import Conflict, PlannedVisit, Window, conflicts
from scheduling.models import Notice, Visit

SEND = "scheduling.tasks.send_notice"
LINK_OUTLASTS_VISIT = timedelta(days=30)
Windows = Mapping[str, Sequence[Window]]


class NothingToSend(DomainError):
    slug = "notice-without-address"


class AlreadyAcknowledged(DomainError):
    slug = "already-acknowledged"


def conflicts_of(visit: Visit, *, at: datetime, windows: Windows | None = None) -> list[Conflict]:
    """What of this visit is forbidden in the rooms that it goes to.

    `windows` are those of its job's rooms, where they are known already.
    """
    if windows is None:
        windows = windows_of_job(visit.job, at=at)
    rooms = [str(visit.room_id)] if visit.room_id else list(windows)
    planned = PlannedVisit(
        id=str(visit.pk),
        rooms=tuple(rooms),
        starts_at=visit.starts_at,
        ends_at=visit.ends_at,
        activities=tuple(visit.activities),
    )
    return conflicts([planned], windows, not_before=at)


@transaction.atomic
def review_visit(*, visit: Visit, at: datetime, windows: Windows | None = None) -> list[Conflict]:
    """Hold a visit against the windows and see that its notice says what is true now.

    A conflict without a notice gets one; one that says something else is replaced, which asks
    for a new acknowledgement; a conflict that is gone withdraws its notice.
    """
    visit = Visit.objects.select_for_update().select_related("job__contractor").get(pk=visit.pk)
    met = [] if visit.cancelled_at else conflicts_of(visit, at=at, windows=windows)
    standing = visit.notices.filter(withdrawn_at__isnull=True).order_by("-id").first()
    said = _content(visit, met)
    if standing is not None and met and notice.says_the_same(standing.content, said):
        return met
    if standing is not None:
        visit.notices.filter(withdrawn_at__isnull=True).update(withdrawn_at=at)
        refresh_job(visit.job_id)
    if met:
        made = Notice.objects.create(
            contractor_id=visit.contractor_id,
            visit=visit,
            content=said,
            made_at=at,
            send_after=at,
            replaces=standing,
        )
        refresh_job(visit.job_id)
        if visit.email:
            wake(SEND, made.pk)
    return met


def review_jobs(job_ids: Sequence[UUID], *, at: datetime) -> None:
    """Review every visit of these jobs that is still to come: their floors may have changed."""
    to_come = Visit.objects.filter(job__in=job_ids, cancelled_at__isnull=True, ends_at__gt=at)
    review_visits(to_come.select_related("job").order_by("job", "id"), at=at)


def review_visits(visits: Iterable[Visit], *, at: datetime) -> None:
    """Review visits; those of one job stand together and are held against the same windows."""
    for _job, here in groupby(visits, key=lambda visit: visit.job_id):
        together = list(here)
        windows = windows_of_job(together[0].job, at=at)
        for visit in together:
            review_visit(visit=visit, at=at, windows=windows)


def link_to(row: Notice, *, at: datetime) -> str:
    """A new private address of this notice; those made before stay good."""
    visit = row.visit
    _, secret = make_link(
        job=visit.job,
        purpose="notice",
        subject_id=row.pk,
        at=at,
        lasts=max(visit.ends_at - at, timedelta()) + LINK_OUTLASTS_VISIT,
    )
    return f"{settings.PUBLIC_URL}/notice/{secret}/"


def send_notice(*, notice_id: UUID, at: datetime) -> bool:
    """E-mail a due notice; True if this call sent it. A failure is noted and tried again later.

    The message carries the notice's id, so that a second delivery after a crash is recognisable.
    """
    if not Notice.objects.claim(notice_id, at=at):
        return False
    row = Notice.objects.select_related("visit__job__contractor").get(pk=notice_id)
    failed = mail.send(_message(row, link_to(row, at=at)))
    if failed is not None:
        _note_failure(row, failed, at)
        return False
    _mark_sent(row, at)
    return True


def not_delivered(*, notice_id: UUID, because: str, at: datetime) -> bool:
    """Note that a notice came back undelivered; False if nobody waits for an answer to it."""
    row = (
        Notice.objects.select_related("visit")
        .filter(pk=notice_id, acknowledged_at__isnull=True, withdrawn_at__isnull=True)
        .first()
    )
    if row is None:
        return False
    _note_failure(row, mail.Failure(said=because, lasting=True), at)
    return True


def _mark_sent(row: Notice, at: datetime) -> None:
    Notice.objects.filter(pk=row.pk).update(sent_at=at, last_error="")


def _note_failure(row: Notice, failed: mail.Failure, at: datetime) -> None:
    """Try again later, and tell the office when it is its turn to call.

    What will not be taken later either is tried all the same, seldom: an address is mended, a full
    box emptied.
    """
    attempts = row.attempts + 1
    turn = notice.office_reaches(
        lasting=failed.lasting,
        made_at=row.made_at,
        visit_starts_at=row.visit.starts_at,
        at=at,
    )
    Notice.objects.filter(pk=row.pk).update(
        sent_at=None,
        claimed_at=None,
        attempts=attempts,
        last_error=failed.said,
        send_after=at + (LONGEST_BACK_OFF if failed.lasting else back_off(attempts)),
        raised_at=row.raised_at or (at if turn else None),
    )


def remind(*, at: datetime) -> int:
    """Repeat what was not answered and raise what is urgent; returns how many were touched."""
    open_rows = Notice.objects.filter(
        sent_at__isnull=False,
        acknowledged_at__isnull=True,
        withdrawn_at__isnull=True,
        raised_at__isnull=True,
    ).select_related("visit")
    touched = 0
    for row in open_rows.order_by("id"):
        assert row.sent_at is not None
        todo = notice.reminder(
            sent_at=row.sent_at,
            repeated=row.repeated,
            visit_starts_at=row.visit.starts_at,
            at=at,
        )
        changes: dict[str, Any] = {}
        if todo.tell_office:
            changes["raised_at"] = at
        if todo.send_again:
            changes |= {
                "sent_at": None,
                "claimed_at": None,
                "send_after": at,
                "repeated": row.repeated + 1,
            }
        if changes:
            touched += Notice.objects.filter(pk=row.pk, sent_at=row.sent_at).update(**changes)
    return touched


def notice_by_secret(secret: str, *, at: datetime) -> Notice | None:
    """The notice that a private link opens now; None alike for unknown, expired and revoked."""
    link = open_link(purpose="notice", secret=secret, at=at)
    if link is None or link.subject_id is None:
        return None
    return (
        Notice.objects.filter(pk=link.subject_id, contractor_id=link.contractor_id)
        .select_related("visit__job__contractor", "replaced_by")
        .first()
    )


@transaction.atomic
def acknowledge(*, row: Notice, name: str, at: datetime) -> Notice:
    """Record who says that they read it; the first name stays. Raises AlreadyAcknowledged."""
    done = Notice.objects.filter(
        pk=row.pk, acknowledged_at__isnull=True, withdrawn_at__isnull=True
    ).update(acknowledged_at=at, acknowledged_by=name)
    row.refresh_from_db()
    if done:
        refresh_job(row.visit.job_id)
        told = {
            "notice": str(row.pk),
            "visit": str(row.visit_id),
            "job": str(row.visit.job_id),
            "acknowledged_at": notice.shown(at),
        }
        announce(row.contractor_id, [("notice.acknowledged", told)], at=at)
    if not done and row.acknowledged_by != name:
        raise AlreadyAcknowledged(
            f"{row.acknowledged_by} has acknowledged this notice already."
            if row.acknowledged_at
            else "This notice no longer holds; ask the contractor for the present one."
        )
    return row


def _content(visit: Visit, met: list[Conflict]) -> dict[str, Any]:
    job = visit.job
    return notice.content(
        address=f"{job.street}, {job.city}",
        contact={"name": job.contractor.name, "phone": job.contractor.phone},
        visit={
            "trade": visit.trade,
            "company": visit.company,
            "starts_at": notice.shown(visit.starts_at),
            "ends_at": notice.shown(visit.ends_at),
            "zone": job.time_zone,
        },
        room_names={str(room.pk): room.name for room in job.rooms.all()},
        met=met,
    )


def _message(row: Notice, url: str) -> EmailMultiAlternatives:
    visit = row.visit
    if not visit.email:
        raise NothingToSend(f"{visit.company} has no e-mail address; pass the link on by hand.")
    said = {"notice": row.content, "url": url}
    with translation.override(visit.language):
        subject = render_to_string("scheduling/notice_subject.txt", said)
        text = render_to_string("scheduling/notice.txt", said)
        html = render_to_string("scheduling/notice_mail.html", said)
    contractor = visit.job.contractor
    return mail.message(
        kind="notice",
        row_id=row.pk,
        sending=row.repeated,
        to=visit.email,
        sender=contractor.name,
        answers_to=contractor.email,
        language=visit.language,
        subject=subject,
        text=text,
        html=html,
    )
