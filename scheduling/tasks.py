"""What workers and beat do for scheduling."""

from datetime import timedelta
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from config.celery import app
from jobs.models import Room
from scheduling.actions import (
    calendar,
    certificates,
    decisions,
    moved,
    notices,
    papers,
    plans,
    standing,
    warmup,
)
from scheduling.models import Certificate, MoveMessage, Notice, Plan

# A message that is still on its way needs no second one.
GRACE = timedelta(seconds=10)
JOBS_AT_ONCE = 20


@shared_task
def make_certificate(certificate_id: str) -> bool:
    """Make one certificate's PDF; True if this run made it."""
    return papers.make_pdf(certificate_id=UUID(certificate_id), at=timezone.now())


@shared_task
def resend_due_certificates() -> int:
    """Wake a worker for each certificate whose message or worker was lost; returns how many."""
    now = timezone.now()
    due = Certificate.objects.due(now).filter(issued_at__lt=now - GRACE).order_by("pk")
    ids = list(due.values_list("pk", flat=True)[:100])
    for certificate_id in ids:
        app.send_task(certificates.MAKE, args=[str(certificate_id)])
    return len(ids)


@shared_task
def send_notice(notice_id: str) -> bool:
    """E-mail one notice; True if this run sent it."""
    return notices.send_notice(notice_id=UUID(notice_id), at=timezone.now())


@shared_task
def resend_due_notices() -> int:
    """Repeat and raise what nobody answered, then wake a worker for each due notice."""
    now = timezone.now()
    notices.remind(at=now)
    due = Notice.objects.due(now).exclude(visit__email="").filter(made_at__lt=now - GRACE)
    ids = list(due.order_by("pk").values_list("pk", flat=True)[:100])
    for notice_id in ids:
        app.send_task(notices.SEND, args=[str(notice_id)])
    return len(ids)


@shared_task
def send_move(message_id: str) -> bool:
    """E-mail one message about a date that moved; True if this run sent it."""
    return moved.send_message(message_id=UUID(message_id), at=timezone.now())


@shared_task
def send_due_moves() -> int:
    """Wake a worker for each message about a date that moved whose time has come."""
    due = MoveMessage.objects.due(timezone.now()).order_by("pk")
    ids = list(due.values_list("pk", flat=True)[:100])
    for message_id in ids:
        app.send_task("scheduling.tasks.send_move", args=[str(message_id)])
    return len(ids)


@shared_task
def refresh_room(room_id: str) -> int:
    """Work out a room's energize decision anew; returns how many said something new.

    What moved a date may also put a trade's visit onto a wet or bare floor, or take it off.
    """
    now = timezone.now()
    kept = decisions.refresh_room(UUID(room_id), at=now)
    job_ids = list(Room.objects.filter(pk=room_id).values_list("job_id", flat=True))
    warmup.watch_all(job_ids, at=now)
    notices.review_jobs(job_ids, at=now)
    return len(kept)


@shared_task
def refresh_job(job_id: str) -> int:
    """Work out the decisions of all rooms of a job anew; returns how many said something new."""
    return refresh_jobs([job_id])


@shared_task
def refresh_jobs(job_ids: list[str]) -> int:
    """Work out the decisions of some jobs anew: together they take as many queries as one."""
    ids, now = [UUID(job_id) for job_id in job_ids], timezone.now()
    kept = decisions.refresh_jobs(ids, at=now)
    warmup.watch_all(ids, at=now)
    notices.review_jobs(ids, at=now)
    return len(kept)


@shared_task
def refresh_waiting_jobs() -> int:
    """Wake workers for the jobs with a floor that waits for heat; returns how many those are.

    Time alone moves dates, and a lost message is made up for.
    """
    ids = [str(job_id) for job_id in decisions.waiting_job_ids()]
    for start in range(0, len(ids), JOBS_AT_ONCE):
        some = ids[start : start + JOBS_AT_ONCE]
        app.send_task("scheduling.tasks.refresh_jobs", args=[some])
    return len(ids)


@shared_task
def solve_plan(plan_id: str) -> bool:
    """Work out one plan; True if this run did it."""
    return plans.solve_plan(UUID(plan_id), clock=timezone.now)


@shared_task
def resend_waiting_plans() -> int:
    """Wake a worker for each plan whose message or worker was lost; returns how many."""
    now = timezone.now()
    due = Plan.objects.waiting(at=now).filter(asked_at__lt=now - GRACE).order_by("pk")
    ids = list(due.values_list("pk", flat=True)[:100])
    for plan_id in ids:
        app.send_task(plans.SOLVE, args=[str(plan_id)])
    return len(ids)


@shared_task
def follow_calendars() -> int:
    """Bring the entries that feeds show up to date, and tell other systems of what changed;
    returns how many jobs. Feeds do it too when they are read."""
    now, count = timezone.now(), 0
    for row in calendar.contractors_to_do():
        while done := calendar.bring_up_to_date(row, at=now):
            count += done
    return count


@shared_task
def bring_lists_up_to_date() -> int:
    """Work out anew what jobs wait for, of which something was written or whose time has come;
    returns how many. Pages do it too, for a few: then they need not wait."""
    now, count = timezone.now(), 0
    for row in standing.contractors_to_do(at=now):
        while done := standing.bring_up_to_date(row, at=now):
            count += done
    return count
