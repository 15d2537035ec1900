"""Housekeeping of the API's manners."""

from datetime import timedelta

from celery import shared_task
from django.utils import timezone

from config.models import Answer

ANSWERS_LAST = timedelta(days=2)


@shared_task
def forget_old_answers() -> int:
    """Drop remembered answers that nobody will ask for again; returns how many."""
    return Answer.objects.filter(answered_at__lt=timezone.now() - ANSWERS_LAST).delete()[0]
