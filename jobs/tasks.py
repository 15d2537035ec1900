"""Work of jobs that takes longer than a request."""

from datetime import timedelta

from celery import shared_task
from django.utils import timezone

from config.celery import app
from jobs.actions import laying
from jobs.models import LayingSearch

UNNOTICED_AFTER = timedelta(seconds=20)


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
