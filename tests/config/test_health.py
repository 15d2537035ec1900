"""`/health/` looks at the database and the broker, in bounded time, and gives nothing away."""

import socket
import threading
import time

import pytest
from django.db import connection

from config import health

ALL_UP = {"status": "up", "database": "up", "broker": "up"}


@pytest.fixture
def deaf():
    """The port of a server that accepts and never answers."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        kept = []

        def accept() -> None:
            try:
                while True:
                    kept.append(listener.accept()[0])
            except OSError:  # the test is over
                for each in kept:
                    each.close()

        thread = threading.Thread(target=accept)
        thread.start()
        yield listener.getsockname()[1]
        listener.shutdown(socket.SHUT_RDWR)
        thread.join()


def database_at(monkeypatch, port):
    monkeypatch.setitem(connection.settings_dict, "HOST", "127.0.0.1")
    monkeypatch.setitem(connection.settings_dict, "PORT", str(port))


@pytest.mark.django_db
def test_all_is_up(client):
    answer = client.get("/health/")
    assert (answer.status_code, answer.json()) == (200, ALL_UP)
    assert answer["Cache-Control"] == "no-store"


@pytest.mark.django_db
def test_a_probe_comes_by_address_and_without_tls(client, settings):
    settings.SECURE_SSL_REDIRECT = True
    assert client.get("/health/", headers={"host": "10.0.0.7:8000"}).status_code == 200


@pytest.mark.django_db
def test_without_the_broker_it_still_serves(client, monkeypatch):
    monkeypatch.setenv("REDIS_URL", "redis://127.0.0.1:1/0")
    answer = client.get("/health/")
    assert answer.status_code == 200
    assert answer.json() == {"status": "degraded", "database": "up", "broker": "down"}


@pytest.mark.django_db
def test_without_the_database_it_is_down_and_says_no_more(client, monkeypatch):
    database_at(monkeypatch, 1)
    answer = client.get("/health/")
    assert answer.status_code == 503
    assert answer.json() == {"status": "down", "database": "down", "broker": "up"}


@pytest.mark.django_db
def test_servers_that_hang_are_down_within_bounds(client, monkeypatch, deaf):
    database_at(monkeypatch, deaf)
    monkeypatch.setenv("REDIS_URL", f"redis://127.0.0.1:{deaf}/0")
    began = time.monotonic()
    answer = client.get("/health/")
    assert answer.json() == {"status": "down", "database": "down", "broker": "down"}
    assert time.monotonic() - began < 4 * health.PATIENCE_SECONDS


def test_it_only_answers_questions(client):
    answer = client.post("/health/")
    assert answer.status_code == 405
    assert answer["Allow"] == "GET, HEAD"
