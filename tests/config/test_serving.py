"""`manage.py serve`, for real: three parts up together, down together, and nothing left behind."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request

import psutil
import psycopg
import pytest
from django.db import connection

from config import services
from config.serving import CHECKOUT, SERVING, stop

PATIENCE_SECONDS = 60


@pytest.fixture(scope="module")
def environment(django_db_blocker):
    """A database and a broker that belong to no other test."""
    name, settings = f"serving_{os.getpid()}", connection.settings_dict
    where = {"host": settings["HOST"], "port": settings["PORT"], "user": settings["USER"]}
    administrator = psycopg.connect(**where, dbname="postgres", autocommit=True)
    administrator.execute(f"CREATE DATABASE {name}")
    url = f"postgresql://{where['user']}@/{name}?host={where['host']}&port={where['port']}"
    yield {**os.environ, "DATABASE_URL": url, "REDIS_URL": services.redis_url(db=15)}
    administrator.execute(f"DROP DATABASE {name} WITH (FORCE)")
    administrator.close()


@pytest.fixture
def busy_port():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        yield taken.getsockname()[1]


class Served:
    """A running `manage.py serve`, what it said so far, and the processes under it."""

    def __init__(self, environment, port):
        self.process = subprocess.Popen(
            [sys.executable, "-u", "manage.py", "serve", "--port", str(port)],
            cwd=CHECKOUT,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self.said = []
        for line in self.process.stdout:
            self.said.append(line)
            if line.startswith("Serving on"):
                break
        assert self.said, self.process.wait()
        self.url = re.search(r"http://\S+", self.said[-1])[0]
        self.family = psutil.Process(self.process.pid).children(recursive=True)

    def part(self, word):
        return next(part for part in self.family if word in part.cmdline())

    def left(self):
        return psutil.wait_procs(self.family, timeout=PATIENCE_SECONDS)[1]


@pytest.fixture
def serve(environment, busy_port):
    started = []

    def start():
        started.append(Served(environment, busy_port))
        return started[-1]

    yield start
    for served in started:
        served.process.kill()
        served.process.wait()
        served.process.stdout.close()
        for process in served.left():
            process.kill()


def test_all_parts_run_beside_a_busy_port_and_end_without_a_trace(serve, busy_port):
    served = serve()
    assert f"Port {busy_port} is taken.\n" in served.said
    with urllib.request.urlopen(f"{served.url}/health/", timeout=10) as answer:
        assert json.load(answer) == {"status": "up", "database": "up", "broker": "up"}
    assert all(served.part(word).is_running() for word in ("gunicorn", "worker", "beat"))
    stop(served.process.pid)
    assert served.process.wait(PATIENCE_SECONDS) == 0
    assert served.left() == []
    assert not (SERVING / str(served.process.pid)).exists()


def test_a_killed_supervisor_takes_its_parts_along(serve):
    served = serve()
    served.process.kill()
    assert served.left() == []


def test_a_part_that_ends_ends_the_others_and_is_named(serve):
    served = serve()
    served.part("beat").kill()
    assert served.process.wait(PATIENCE_SECONDS) == 1
    assert served.left() == []


def test_one_that_is_asked_to_leave_while_it_starts_leaves(environment, busy_port):
    """It is deaf for as long as it takes to become a program; from its lock on it listens."""
    command = [sys.executable, "manage.py", "serve", "--port", str(busy_port)]
    with subprocess.Popen(command, cwd=CHECKOUT, env=environment, stdout=subprocess.DEVNULL) as it:
        lock = SERVING / str(it.pid) / "lock"
        until = time.monotonic() + PATIENCE_SECONDS
        while not lock.exists():
            assert time.monotonic() < until
            time.sleep(0.01)
        stop(it.pid)
        assert it.wait(PATIENCE_SECONDS) == 0
    assert not lock.exists()


def test_one_that_hears_nothing_is_made_to_leave():
    deaf = f"""
import fcntl, os, pathlib, signal, time
signal.signal(signal.SIGTERM, signal.SIG_IGN)
own = pathlib.Path({str(SERVING)!r}, str(os.getpid()))
own.mkdir(parents=True)
lock = (own / "lock").open("w")
fcntl.flock(lock, fcntl.LOCK_EX)
print("locked", flush=True)
time.sleep(600)
"""
    command = [sys.executable, "-c", deaf]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as it:
        assert it.stdout.readline() == "locked\n"
        stop(it.pid, leave_seconds=0.5)
        assert it.wait(PATIENCE_SECONDS) == -signal.SIGKILL
    assert not (SERVING / str(it.pid)).exists()
