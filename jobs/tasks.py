"""Work of jobs that takes longer than a request."""

from datetime import timedelta
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from config.celery import app
from jobs.actions import laying, webhooks
from jobs.models import Delivery, LayingSearch

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
def resend_due_deliveries() -> int:
    """Wake a worker for each delivery that is due, tell the office of what was given up."""
    now = timezone.now()
    webhooks.tell_office(at=now)
    due = Delivery.objects.due(now).filter(send_after__lt=now - GRACE).order_by("send_after", "pk")
    ids = list(due.values_list("pk", flat=True)[:AT_ONCE])
    for delivery_id in ids:
        app.send_task(webhooks.DELIVER, args=[str(delivery_id)], retry=False)
    return len(ids)
