"""A real gunicorn over a database of its own, for benchmarks; and a client that keeps its
connection."""

import http.client
import json
import os
import statistics
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import django
from django.db import connection

from config import services
from tests.database import database_url


@contextmanager
def database() -> Iterator[None]:
    """Django set up over an empty database that is dropped at the end."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.bench.settings")
    os.environ.setdefault("SECRET_KEY", "only-for-benchmarks")
    os.environ.setdefault("TLS", "off")
    with services.held():
        django.setup()
        connection.settings_dict["TEST"]["NAME"] = f"bench_{os.getpid()}"
        old = connection.settings_dict["NAME"]
        connection.creation.create_test_db(verbosity=0, autoclobber=True)
        try:
            yield
        finally:
            connection.creation.destroy_test_db(old, verbosity=0)


@contextmanager
def gunicorn() -> Iterator[int]:
    """The web server over that database; yields its port."""
    from config.serving import serving

    os.environ["DATABASE_URL"] = database_url()
    os.environ["LOG_LEVEL"] = "ERROR"
    try:
        with serving(port=8300, logs=services.CHECKOUT / "var" / "bench") as running:
            yield int(running.url.rsplit(":", 1)[1])
    finally:
        del os.environ["DATABASE_URL"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Seconds of each request, and of the whole run."""

    each: list[float]
    wall: float

    @property
    def p95_ms(self) -> float:
        return statistics.quantiles(self.each, n=20)[-1] * 1000

    @property
    def median_ms(self) -> float:
        return statistics.median(self.each) * 1000

    @property
    def per_second(self) -> float:
        return len(self.each) / self.wall


Request = tuple[str, str, Any]


def measured(
    port: int, secret: str, requests: list[Request], *, clients: int, expect: int
) -> Times:
    """Send `requests`, shared out over `clients` that keep their connections."""
    shares = [requests[at::clients] for at in range(clients)]
    begin = time.perf_counter()
    with ThreadPoolExecutor(clients) as pool:
        each = [
            seconds
            for run in pool.map(lambda share: _sent(port, secret, share, expect), shares)
            for seconds in run
        ]
    return Times(each=each, wall=time.perf_counter() - begin)


def _sent(port: int, secret: str, requests: list[Request], expect: int) -> list[float]:
    kept = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"}
    seconds = []
    for method, path, body in requests:
        data = None if body is None else json.dumps(body)
        begin = time.perf_counter()
        kept.request(method, f"/api/v1/{path}", data, headers)
        response = kept.getresponse()
        raw = response.read()
        seconds.append(time.perf_counter() - begin)
        assert response.status == expect, (response.status, raw[:500])
    kept.close()
    return seconds


def row(what: str, value: str, goal: str, *, met: bool) -> str:
    return f"| {what} | {value} | {goal} | {'yes' if met else 'NO'} |"


Report = Callable[[], list[str]]
