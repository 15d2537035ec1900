"""Certificates in a warm worker: how long one takes, and what the worker weighs after 200; and
one with the annexes of ten rooms."""

import os
import re
import statistics
import tempfile
import time
from uuid import uuid4

import psutil

from config import services
from tests.bench.server import database, gunicorn, row

CERTIFICATES = 200
WARM_UP = 5
TEN_ROOMS = 10
PATIENCE_SECONDS = 300
LOG = services.CHECKOUT / "var/bench/worker.log"
TOOK = re.compile(r"make_certificate\[\S+\] succeeded in ([\d.]+)s")


def main() -> list[str]:
    with tempfile.TemporaryDirectory() as files:
        os.environ["FILES_DIR"] = files
        os.environ["SIGNING_DIR"] = f"{files}/signing"
        with database():
            site = _finished_job()
            LOG.unlink(missing_ok=True)
            with gunicorn():
                _issue_and_wait(site)
                return _report()


def _ten_rooms() -> list[float]:
    """Seconds that a signed certificate of ten rooms takes, in this process."""
    from config.secrets import new_secret
    from config.signing import key_for
    from scheduling.actions.papers import pdf_of
    from scheduling.facts import digest_of
    from scheduling.models import Certificate
    from tests.scheduling.records import ISSUED_AT, record

    data = record(rooms=10)
    contractor_id = uuid4()
    row = Certificate(
        contractor_id=contractor_id,
        number=data["number"],
        data=data,
        data_digest=digest_of(data),
        issued_at=ISSUED_AT,
    )
    key = key_for(contractor_id, at=ISSUED_AT)
    seconds = []
    for _ in range(TEN_ROOMS + 1):
        began = time.perf_counter()
        pdf_of(row, key, secret=new_secret())
        seconds.append(time.perf_counter() - began)
    return seconds[1:]


def _finished_job():
    from jobs.models import Member
    from tests.factories import NOW, MemberFactory
    from tests.scheduling.finished import Finished

    olive: Member = MemberFactory()
    return Finished(olive, NOW.replace(year=2026))


def _issue_and_wait(site) -> None:
    from scheduling.actions import certificates
    from scheduling.models import Certificate

    for _ in range(CERTIFICATES + WARM_UP):
        row = certificates.issue_certificate(by=site.by, job=site.job, at=site.now)
        until = time.monotonic() + PATIENCE_SECONDS
        while row.made_at is None:
            assert time.monotonic() < until, "the worker does not make it"
            time.sleep(0.005)
            row.refresh_from_db(fields=["made_at"])
        certificates.void_certificate(by=site.by, certificate=row, reason="bench", at=site.now)
    assert Certificate.objects.filter(made_at=None).count() == 0


def _report() -> list[str]:
    seconds = [float(found) for found in TOOK.findall(LOG.read_text())]
    assert len(seconds) >= CERTIFICATES, "the worker's log tells of too few"
    warm = seconds[-CERTIFICATES:]
    p95_ms = statistics.quantiles(warm, n=20)[-1] * 1000
    heaviest_mb = max(
        process.memory_info().rss / 1e6
        for process in psutil.Process().children(recursive=True)
        if "worker" in process.cmdline()
    )
    ten_s = statistics.median(_ten_rooms())
    median_ms = statistics.median(warm) * 1000
    return [
        f"{CERTIFICATES} signed certificates of one room, four pages, one after the other; "
        f"median {median_ms:.0f} ms.",
        "",
        "| what | measured | goal | met |",
        "| --- | --- | --- | --- |",
        row("signed certificate of ten rooms", f"{ten_s:.2f} s", "1.5 s", met=ten_s <= 1.5),
        row("certificate, p95", f"{p95_ms:.0f} ms", "300 ms", met=p95_ms <= 300),
        row(
            "heaviest worker process after them",
            f"{heaviest_mb:.0f} MB",
            "150 MB",
            met=heaviest_mb <= 150,
        ),
    ]
