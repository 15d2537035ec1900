"""Web server, worker and beat as one: all three run, or none does.

For one machine by hand (`make serve`, `make demo`); in production each has its own container.
"""

import ctypes
import fcntl
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from config import services

CHECKOUT = services.CHECKOUT
SERVING = CHECKOUT / "var/serving"  # a folder for each process that serves, named by its id
READY_SECONDS = 60.0
PATIENCE_SECONDS = 15.0
LEAVE_SECONDS = 90.0  # for one that is asked to leave while it starts
PORTS_TRIED = 100


class ServingFailed(RuntimeError):
    """A part did not start, or ended while the others ran."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Serving:
    url: str
    parts: Mapping[str, subprocess.Popen[bytes]]

    def check(self) -> None:
        """Raise ServingFailed if a part has ended."""
        for name, part in self.parts.items():
            if part.poll() is not None:
                raise ServingFailed(f"The {name} ended with status {part.returncode}.")


@contextmanager
def serving(*, port: int, workers: int = 2, logs: Path | None = None) -> Iterator[Serving]:
    """Serve on loopback, at the first free port from `port` on, for as long as the block runs.

    Services must be there. Output goes to a file per part in the folder `logs`, else to ours.
    Raises ServingFailed.
    """
    own = SERVING / str(os.getpid())
    own.mkdir(parents=True, exist_ok=True)
    with (own / "lock").open("w") as lock, listening(port) as listener:
        fcntl.flock(lock, fcntl.LOCK_EX)
        url = f"http://127.0.0.1:{listener.getsockname()[1]}"
        environment = {**local_environment(url), **os.environ}
        celery = (sys.executable, "-m", "celery", "--app", "config")
        commands = {
            "web server": (
                *(
                    sys.executable,
                    "-m",
                    "gunicorn",
                    "config.wsgi",
                    "--config",
                    "python:config.gunicorn",
                ),
                *("--bind", f"fd://{listener.fileno()}"),
            ),
            "worker": (
                *(*celery, "worker", "--concurrency", str(workers), "--loglevel", "INFO"),
                *("--queues", ",".join(queues())),
                *("--hostname", f"worker-{os.getpid()}@%h", "--without-mingle"),
            ),
            "beat": (*celery, "beat", "--loglevel", "INFO", "--schedule", str(own / "beat")),
        }
        parts: dict[str, subprocess.Popen[bytes]] = {}
        try:
            for name, command in commands.items():
                parts[name] = _started(name, command, environment, listener, logs)
            running = Serving(url=url, parts=parts)
            _wait_until_ready(running)
            yield running
        finally:
            _end(parts)
            shutil.rmtree(own)


def queues() -> list[str]:
    """Every queue that a task is sent to."""
    routes = settings.CELERY_TASK_ROUTES.values()
    return [settings.CELERY_TASK_DEFAULT_QUEUE, *(route["queue"] for route in routes)]


def heard_to_leave() -> list[int]:
    """A list that SIGTERM and SIGHUP enter from now on; whoever serves looks at it and leaves.

    An exception raised by the handler would be lost where it lands in a callback that nobody
    listens to, and the process would stay for good.
    """
    heard: list[int] = []
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, lambda number, _frame: heard.append(number))
    return heard


def stop_all() -> None:
    """End all that serve from this checkout, and wait until they are gone."""
    for own in SERVING.glob("*"):
        stop(int(own.name))


def stop(pid: int, *, leave_seconds: float = LEAVE_SECONDS) -> None:
    """End the process of that id if it serves from this checkout: asked first, then made to."""
    own = SERVING / str(pid)
    until = time.monotonic() + leave_seconds
    while _is_locked(own / "lock"):
        with suppress(ProcessLookupError):  # it ended just now
            os.kill(pid, signal.SIGTERM if time.monotonic() < until else signal.SIGKILL)
        time.sleep(0.2)
    shutil.rmtree(own, ignore_errors=True)


@contextmanager
def listening(port: int) -> Iterator[socket.socket]:
    """A socket that listens on the first free port; nobody can take it before the server does."""
    for candidate in range(port, port + PORTS_TRIED):
        listener = socket.socket()
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind(("127.0.0.1", candidate))
            listener.listen(512)
        except OSError:
            listener.close()
            continue
        with listener:
            yield listener
            return
    raise ServingFailed(f"No free port from {port} to {port + PORTS_TRIED - 1}.")


def local_environment(url: str) -> dict[str, str]:
    """What the settings need on loopback without TLS, with a secret that this checkout keeps."""
    return {"SECRET_KEY": _kept_secret(), "TLS": "off", "PUBLIC_URL": url}


def _kept_secret() -> str:
    path = CHECKOUT / "var/secret-key"
    path.parent.mkdir(exist_ok=True)
    try:
        with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(secrets.token_urlsafe(48))
    except FileExistsError:
        pass
    return path.read_text()


def _started(
    name: str,
    command: tuple[str, ...],
    environment: Mapping[str, str],
    listener: socket.socket,
    logs: Path | None,
) -> subprocess.Popen[bytes]:
    """Start a part in a session of its own: Ctrl-C reaches us, and we end it in order."""
    with ExitStack() as files:  # the part has its own copy of the file
        output = None
        if logs:
            logs.mkdir(parents=True, exist_ok=True)
            output = files.enter_context((logs / f"{name.replace(' ', '-')}.log").open("ab"))
        return subprocess.Popen(
            command,
            cwd=CHECKOUT,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=output and subprocess.STDOUT,
            pass_fds=(listener.fileno(),),
            start_new_session=True,
            preexec_fn=_end_with_parent,
        )


def _end_with_parent() -> None:
    """Have the kernel end this process with the one that started it, even a killed one (Linux)."""
    if sys.platform == "linux":
        set_parent_death_signal = 1
        ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGTERM)


def _wait_until_ready(running: Serving) -> None:
    until = time.monotonic() + READY_SECONDS
    while True:
        running.check()
        try:
            with urllib.request.urlopen(f"{running.url}/health/", timeout=5):
                return
        except (urllib.error.URLError, ConnectionError, TimeoutError) as error:
            if time.monotonic() > until:
                raise ServingFailed(f"The web server does not answer: {error}") from error
            time.sleep(0.05)


def _end(parts: Mapping[str, subprocess.Popen[bytes]]) -> None:
    for part in parts.values():
        if part.poll() is None:
            part.terminate()
    until = time.monotonic() + PATIENCE_SECONDS
    for part in parts.values():
        try:
            part.wait(max(0.1, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            os.killpg(part.pid, signal.SIGKILL)
            part.wait()


def _is_locked(path: Path) -> bool:
    if not path.exists():
        return False
    with path.open("r+") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
    return False
