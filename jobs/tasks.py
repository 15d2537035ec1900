"""Work of jobs that takes longer than a request."""

from datetime import timedelta
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from config.celery import app
from jobs.actions import exports, imports, laying, webhooks
from jobs.models import Delivery, Export, JobImport, LayingSearch

UNNOTICED_AFTER = timedelta(seconds=20)
GRACE = timedelta(seconds=5)  # a message that is still on its way needs no second one
AT_ONCE = 200


@shared_task
def lay_room(search_id: str) -> None:
    """Look for ways to lay the room of one search; a second delivery finds it taken."""
    if not LayingSearch.objects.claim(search_id, at=timezone.now()):
        return
    search = LayingSearch.objects.get(pk=search_id)
    laying.look_for_ways(search, at=timezone.now())


@shared_task
def lay_waiting_rooms() -> int:
    """Send again what a broker or a worker lost; returns how many."""
    now = timezone.now()
    waiting = LayingSearch.objects.waiting(at=now).filter(asked_at__lt=now - UNNOTICED_AFTER)
    ids = [str(search_id) for search_id in waiting.values_list("pk", flat=True)]
    for search_id in ids:
        app.send_task("jobs.tasks.lay_room", args=[search_id], retry=False)
    return len(ids)


@shared_task
def deliver(delivery_id: str) -> bool:
    """Send one event to another system; True if it was taken."""
    return webhooks.deliver(delivery_id=UUID(delivery_id), at=timezone.now())


@shared_task
def forget_old_deliveries() -> int:
    """Drop what was sent, or given up, long ago; returns how many."""
    return webhooks.forget_old(at=timezone.now())


@shared_task
def resend_due_deliveries() -> int:
    """Wake a worker for each delivery that is due, tell the office of what was given up."""
    now = timezone.now()
    webhooks.tell_office(at=now)
    due = Delivery.objects.due(now).filter(send_after__lt=now - GRACE).order_by("send_after", "pk")
    ids = list(due.values_list("pk", flat=True)[:AT_ONCE])
    for delivery_id in ids:
        app.send_task(webhooks.DELIVER, args=[str(delivery_id)], retry=False)
    return len(ids)


@shared_task
def make_export(export_id: str) -> bool:
    """Make one export's file; True if this run made it."""
    return exports.make_export(export_id=UUID(export_id), clock=timezone.now)


@shared_task
def tend_exports() -> int:
    """Delete the files of old exports; wake a worker for each that waits, returns how many."""
    now = timezone.now()
    exports.remove_expired(at=now)
    waiting = Export.objects.waiting(at=now).filter(asked_at__lt=now - UNNOTICED_AFTER)
    ids = list(waiting.order_by("pk").values_list("pk", flat=True)[:AT_ONCE])
    for export_id in ids:
        app.send_task(exports.MAKE, args=[str(export_id)], retry=False)
    return len(ids)


@shared_task
def take_in_jobs(import_id: str) -> int:
    """Take in a list of jobs; returns how many this run opened."""
    return imports.take_in(import_id=UUID(import_id), clock=timezone.now)


@shared_task
def take_in_waiting_lists() -> int:
    """Wake a worker for each list whose message or worker was lost; returns how many."""
    now = timezone.now()
    waiting = JobImport.objects.waiting(at=now).filter(confirmed_at__lt=now - UNNOTICED_AFTER)
    ids = list(waiting.order_by("pk").values_list("pk", flat=True)[:AT_ONCE])
    for import_id in ids:
        app.send_task(imports.TAKE_IN, args=[str(import_id)], retry=False)
    return len(ids)
