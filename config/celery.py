"""The Celery application, and how an action wakes a worker."""

import os
from uuid import UUID

from celery import Celery
from django.db import transaction

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
# Checks load every page and drawing, 35 MB in each worker; migrating has run them already.
os.environ.setdefault("CELERY_SKIP_CHECKS", "1")

app = Celery("firstwarm")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


def wake(task: str, row_id: UUID) -> None:
    """Send `task` for this row once the transaction is committed.

    The row is the truth and the message only a nudge: with a broker that is down it is logged
    and lost at no cost, and the task's beat entry finds the row.
    """

    def send() -> None:  # a def, not a partial: Django logs the failure by its __qualname__
        app.send_task(task, args=[str(row_id)], retry=False)

    transaction.on_commit(send, robust=True)
