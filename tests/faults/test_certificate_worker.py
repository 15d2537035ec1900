"""Real workers, killed; a broker that is gone: each certificate is made all the same, once."""

import os
import signal
import subprocess
import sys
import time
from datetime import timedelta

import pytest
import redis
from celery import Celery
from django.conf import settings as django_settings

from config import celery, services
from config.serving import CHECKOUT
from scheduling import tasks
from scheduling.models import Certificate
from tests.database import database_url
from tests.scheduling.finished import Finished
from tests.scheduling.test_api_certificates import NOW, issue

PATIENCE_SECONDS = 90
BROKER_DB = 14


@pytest.fixture(autouse=True)
def broker(monkeypatch):
    """A Redis database of our own, and an application that sends there."""
    client = redis.Redis.from_url(services.redis_url(db=BROKER_DB))
    client.flushdb()
    with application(services.broker_url(db=BROKER_DB)) as own:
        monkeypatch.setattr(celery, "app", own)
        monkeypatch.setattr(tasks, "app", own)
        yield
    client.flushdb()
    client.close()


def application(url: str) -> Celery:
    own = Celery("test", set_as_current=False)
    own.config_from_object("django.conf:settings", namespace="CELERY")
    own.conf.broker_url = url
    return own


@pytest.fixture
def worker(tmp_path):
    """`worker()` starts a real one with beat, on the test's database and folder."""
    environment = {
        **os.environ,
        "DATABASE_URL": database_url(),
        "REDIS_URL": services.redis_url(db=BROKER_DB),
        "FILES_DIR": str(tmp_path / "files"),
        "SIGNING_DIR": str(tmp_path / "signing"),
    }
    command = [sys.executable, "-m", "celery", "--app", "config", "worker", "--concurrency", "1"]
    started = []

    def start():
        schedule = tmp_path / f"beat-{len(started)}"
        started.append(
            subprocess.Popen(
                [*command, "--beat", "--schedule", str(schedule), "--loglevel", "WARNING"],
                cwd=CHECKOUT,
                env=environment,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        )
        return started[-1]

    yield start
    for process in started:
        kill(process)


def kill(process: subprocess.Popen) -> None:
    """As the kernel would when memory runs out: worker, children and beat at once."""
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def wait_for(row: Certificate, *states: str, every: float) -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while row.state not in states:
        assert time.monotonic() < until, row.state
        time.sleep(every)
        row.refresh_from_db(fields=["claimed_at", "made_at", "failed_at"])


def papers(tmp_path):
    return sorted((tmp_path / "files").rglob("*.pdf"))


@pytest.mark.django_db(transaction=True)
def test_a_worker_makes_it_and_another_finishes_what_a_killed_one_began(
    api, olive, worker, tmp_path
):
    site = Finished(olive, NOW)
    first = worker()
    row = Certificate.objects.get(pk=issue(api(olive), site).json()["id"])
    wait_for(row, "making", every=0.001)
    kill(first)
    row.refresh_from_db()
    assert row.state == "making"  # it was killed on the way
    worker()
    wait_for(row, "made", every=0.2)
    assert [path.name for path in papers(tmp_path)] == [f"{row.pk}.pdf"]


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_is_down_costs_the_request_nothing_and_the_row_is_sent_later(
    api, olive, worker, monkeypatch, tmp_path, caplog
):
    site = Finished(olive, NOW)
    with monkeypatch.context() as down, application("redis://127.0.0.1:1/0") as gone:
        down.setattr(celery, "app", gone)
        began = time.monotonic()
        answer = issue(api(olive), site)
        took = time.monotonic() - began
    assert answer.status_code == 202
    assert "send" in caplog.text  # it was logged, with what failed
    assert took < 2
    worker()
    row = Certificate.objects.get(pk=answer.json()["id"])
    wait_for(row, "made", every=0.2)
    assert len(papers(tmp_path)) == 1


def test_the_settings_let_no_request_wait_for_the_broker():
    options = django_settings.CELERY_BROKER_TRANSPORT_OPTIONS
    assert (options["max_retries"], options["interval_start"]) == (0, 0)
    assert options["socket_connect_timeout"] <= 2
    assert timedelta(seconds=options["visibility_timeout"]) <= timedelta(minutes=5)
