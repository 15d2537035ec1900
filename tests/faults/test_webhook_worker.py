"""A worker that is killed after it has sent: the same event comes again under the same id."""

import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from jobs.actions import webhooks
from jobs.models import Delivery, DeliveryAttempt, Webhook
from tests.database import database_url
from tests.factories import WebhookFactory
from tests.receiver import receiving, status

NOW = datetime(2027, 3, 10, 7, tzinfo=UTC)
DELIVER = """
import django; django.setup()
from datetime import datetime
from jobs.actions.webhooks import deliver
import sys
deliver(delivery_id=sys.argv[1], at=datetime.fromisoformat(sys.argv[2]))
"""


@pytest.mark.django_db(transaction=True)
def test_killed_between_sending_and_marking(settings):
    settings.WEBHOOKS_TO_PRIVATE = True
    with receiving() as receiver:
        hook = WebhookFactory(url=receiver.url)
        webhooks.announce(hook.contractor_id, [("date.moved", {"room": "r"})], at=NOW)
        row = Delivery.objects.get()
        environment = {
            **os.environ,
            "DATABASE_URL": database_url(),
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "WEBHOOKS_TO_PRIVATE": "on",
        }
        worker = subprocess.Popen(
            [sys.executable, "-c", DELIVER, str(row.pk), NOW.isoformat()], env=environment
        )

        def kill(request):
            """It has sent, and dies before it hears the answer."""
            os.kill(worker.pid, signal.SIGKILL)
            worker.wait()

        receiver.answer = kill
        assert worker.wait(60) == -signal.SIGKILL
        receiver.answer = status(204)
        row.refresh_from_db()
        assert (row.settled_at, row.claimed_at) == (None, NOW)
        assert not DeliveryAttempt.objects.exists()
        assert not webhooks.deliver(delivery_id=row.pk, at=NOW + timedelta(seconds=30))
        assert webhooks.deliver(delivery_id=row.pk, at=NOW + timedelta(seconds=61))
        first, second = receiver.got
    assert first.headers["webhook-id"] == second.headers["webhook-id"] == str(row.pk)
    assert first.body == second.body
    assert Webhook.objects.get().failing_since is None
