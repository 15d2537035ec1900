"""Server time of the pages at 1,000 and 100,000 jobs, in this process through all middleware.

Half of the jobs are open; each has a room with its element, a check and a booking, every tenth a
visit. The clock of the wall says what was waited for; the processor's tells more on a busy machine.
"""

import os
import statistics
import sys
import time
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from tests.bench.server import database

SIZES = {1_000: 60.0, 100_000: 120.0}  # jobs, and the milliseconds that 95 of 100 answers keep
ROUNDS = 40
PATIENCE_SECONDS = 20.0  # for one page: a slow one is told from fewer rounds, not waited for
MOST_QUERIES = 12
AT_A_TIME = 10_000
CREWS = 60


def main() -> list[str]:
    os.environ.setdefault("LOG_LEVEL", "ERROR")
    sizes = [int(size) for size in os.environ.get("JOBS", "").split()] or list(SIZES)
    with database():
        lines = [
            "| page | jobs | p95 | median | of it this process | queries |",
            "|---|---|---|---|---|---|",
        ]
        made = 0
        office, finn = _company()
        for size in sizes:
            began = time.perf_counter()
            _fill(office, made, size)
            _tell(f"{size} jobs made in {time.perf_counter() - began:.0f} s")
            made = size
            lines += _measured(office, finn, size, SIZES.get(size, max(SIZES.values())))
    return lines


def _tell(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _company() -> tuple[Any, Any]:
    from tests.factories import (
        ContractorFactory,
        CrewFactory,
        InstrumentFactory,
        InstrumentRangeFactory,
        MaterialFactory,
        MemberFactory,
    )

    alder = ContractorFactory()
    own = {"contractor": alder}
    finn = MemberFactory(role="field", **own)
    crews = [CrewFactory(**own) for _ in range(CREWS)]
    crews[0].members.add(finn)
    MaterialFactory(kind="element", **own)
    InstrumentRangeFactory(instrument=InstrumentFactory(**own), **own)
    return MemberFactory(**own), finn


def _fill(office: Any, start: int, end: int) -> None:
    from django.db import connection

    from scheduling.actions.standing import bring_up_to_date

    now = datetime.now(UTC)  # noqa: TID251 (a page reads the clock)
    for first in range(start, end, AT_A_TIME):
        _made(office, range(first, min(first + AT_A_TIME, end)), now)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    while bring_up_to_date(office, at=now, most=2_000):
        pass
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _made(office: Any, numbers: Sequence[int], now: datetime) -> None:
    from django.db import connection

    from jobs.models import Customer, Element, Job, Material, Room
    from readings import digest
    from readings.models import Check
    from scheduling.models import Booking, Crew, StaleJob, Visit

    own = {"contractor": office.contractor}
    material = Material.objects.get(kind="element", **own)
    crews = list(Crew.objects.order_by("pk"))
    customers = [
        Customer(name=f"Customer {n}", email=f"c{n}@home.example", phone=f"+47 55 {n:06}", **own)
        for n in numbers
    ]
    jobs = [
        Job(
            customer=customer,
            number=n + 1,
            title="Warm floors",
            street=f"{n % 900} {('Mill', 'Harbour', 'Church', 'Elm')[n % 4]} Lane {n // 900}",
            city="Nordby",
            country="NO",
            time_zone="Europe/Oslo",
            units="metric",
            supply_volts=230.0,
            code_profile="iec",
            due_on=now.date() + timedelta(days=n % 300 - 1),
            closed_at=now if n % 2 else None,
            **own,
        )
        for n, customer in zip(numbers, customers, strict=True)
    ]
    outline = [[0, 0], [3000, 0], [3000, 2400], [0, 2400]]
    rooms = [Room(job=job, name="Bathroom", outline=outline, **own) for job in jobs]
    elements = [
        Element(room=room, material=material, label="M1", serial=f"S{n:07}", tag_ohms=71.0, **own)
        for n, room in zip(numbers, rooms, strict=True)
    ]
    checks = [
        Check(
            room=room,
            client_id=uuid4(),
            sequence=1,
            stage="arrival",
            taken_at=now - timedelta(days=1),
            received_at=now - timedelta(days=1),
            taken_by=office,
            outcome="pass",
            previous_digest=digest.START,
            digest=f"{n:064x}",
            **own,
        )
        for n, room in zip(numbers, rooms, strict=True)
    ]
    bookings = [
        Booking(
            crew=crews[n % CREWS],
            day=now.date() + timedelta(days=n // (2 * CREWS)),
            half=("am", "pm")[n // CREWS % 2],
            job=job,
            room=room,
            task="lay",
            span=uuid4(),
            booked_at=now,
            booked_by=office,
            **own,
        )
        for n, job, room in zip(numbers, jobs, rooms, strict=True)
    ]
    visits = [
        Visit(
            job=job,
            trade="plumber",
            company="Tap & Sons",
            activities=["walking"],
            starts_at=now + timedelta(days=2 + n % 200),
            ends_at=now + timedelta(days=2 + n % 200, hours=3),
            **own,
        )
        for n, job in zip(numbers, jobs, strict=True)
        if n % 10 == 0
    ]
    marks = [StaleJob(job=job, **own) for job in jobs if job.closed_at is None]
    with connection.cursor() as cursor:
        # As a restore does: the rows are known to be sound, and each job is marked once.
        cursor.execute("SET session_replication_role = replica")
        try:
            for rows in (customers, jobs, rooms, elements, checks, bookings, visits, marks):
                _copy(cursor.cursor, rows)
        finally:
            cursor.execute("SET session_replication_role = DEFAULT")


def _copy(cursor: Any, rows: Iterable[Any]) -> None:
    """Write rows by COPY: an INSERT of as many spends its time on compiling."""
    from django.db import connection

    rows = list(rows)
    fields = [each for each in rows[0]._meta.concrete_fields if not each.generated]
    names = ", ".join(f'"{each.column}"' for each in fields)
    with cursor.copy(f'COPY "{rows[0]._meta.db_table}" ({names}) FROM STDIN') as copy:
        for row in rows:
            copy.write_row(
                [each.get_db_prep_save(each.pre_save(row, True), connection) for each in fields]
            )


def _measured(office: Any, finn: Any, size: int, goal: float) -> list[str]:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse

    from jobs.models import Job

    open_jobs = list(
        Job.objects.filter(closed_at=None).order_by("-pk").prefetch_related("rooms")[:ROUNDS]
    )

    def room_of(job: Any) -> Any:
        return job.rooms.all()[0].pk

    pages = {
        "needs you": (office, lambda job: reverse("home")),
        "board": (office, lambda job: reverse("jobs")),
        "board, one band": (office, lambda job: reverse("jobs") + "?all=crews"),
        "job": (office, lambda job: reverse("job", args=[job.pk])),
        "room": (office, lambda job: reverse("room", args=[room_of(job)])),
        "customers": (office, lambda job: reverse("customers")),
        "customer": (office, lambda job: reverse("customer", args=[job.customer_id])),
        "catalogue": (office, lambda job: reverse("catalogue")),
        "crew plan": (office, lambda job: reverse("plan")),
        "search, street": (office, lambda job: reverse("search") + "?q=Harbour Lane 0"),
        "search, phone": (office, lambda job: reverse("search") + "?q=000123"),
        "search, nothing": (office, lambda job: reverse("search") + "?q=zzzqqq"),
        "today": (finn, lambda job: reverse("today")),
        "field room": (finn, lambda job: reverse("field-room", args=[room_of(job)])),
        "reading": (finn, lambda job: reverse("measure-step", args=[room_of(job), "laid", 1])),
    }
    lines = []
    for name, (member, address) in pages.items():
        client = Client(SERVER_NAME="localhost")
        client.force_login(member, "config.authentication.MemberBackend")
        client.get(address(open_jobs[0]))
        with CaptureQueriesContext(connection) as asked:
            status = client.get(address(open_jobs[0])).status_code
            assert status == 200, f"{name}: {status}"
        queries = len(asked)  # the next request empties the log
        times, own = [], []
        until = time.perf_counter() + PATIENCE_SECONDS
        for job in open_jobs:
            began, busy = time.perf_counter(), time.process_time()
            client.get(address(job))
            times.append((time.perf_counter() - began) * 1000)
            own.append((time.process_time() - busy) * 1000)
            if time.perf_counter() > until and len(times) > 1:
                break
        p95 = statistics.quantiles(times, n=20, method="inclusive")[-1]
        told = "" if p95 <= goal else " (over)"
        many = "" if queries <= MOST_QUERIES else " (over)"
        lines.append(
            f"| {name} | {size} | {p95:.0f} ms{told} | {statistics.median(times):.0f} ms "
            f"| {statistics.median(own):.0f} ms | {queries}{many} |"
        )
        _tell(lines[-1])
    return lines
