"""Server time of the pages at 1,000 and 100,000 jobs, in this process through all middleware.

Half of the jobs are open; each has a room with its element and a booking, every tenth a visit.
"""

import statistics
import time
from datetime import UTC, datetime, timedelta
from uuid import uuid4

from tests.bench.server import database

SIZES = {1_000: 60.0, 100_000: 120.0}  # jobs, and the milliseconds that 95 of 100 answers keep
ROUNDS = 40
AT = datetime(2027, 3, 10, 7, 0, tzinfo=UTC)


def main() -> list[str]:
    with database():
        lines = ["| page | jobs | p95 | median | queries |", "|---|---|---|---|---|"]
        made = 0
        office, finn = _company()
        for size, goal in SIZES.items():
            _fill(office, made, size)
            made = size
            lines += _measured(office, finn, size, goal)
    return lines


def _company():
    from tests.factories import ContractorFactory, MemberFactory

    alder = ContractorFactory()
    return MemberFactory(contractor=alder), MemberFactory(contractor=alder, role="field")


def _fill(office, start, end):
    from django.db import connection

    from jobs.models import Customer, Element, Job, Material, Room
    from scheduling.actions.standing import bring_up_to_date
    from scheduling.models import Booking, Crew, Visit
    from tests.factories import CrewFactory, MaterialFactory

    own = {"contractor": office.contractor}
    mat = Material.objects.filter(**own).first() or MaterialFactory(kind="element", **own)
    while Crew.objects.count() < 60:
        CrewFactory(**own)
    crews = list(Crew.objects.all())
    now = datetime.now(UTC)  # noqa: TID251 (a page reads the clock)
    for first in range(start, end, 10_000):
        numbers = range(first, min(first + 10_000, end))
        customers = Customer.objects.bulk_create(
            Customer(
                name=f"Customer {n}", email=f"c{n}@home.example", phone=f"+47 55 {n:06}", **own
            )
            for n in numbers
        )
        jobs = Job.objects.bulk_create(
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
        )
        rooms = Room.objects.bulk_create(
            Room(
                job=job,
                name="Bathroom",
                outline=[[0, 0], [3000, 0], [3000, 2400], [0, 2400]],
                **own,
            )
            for job in jobs
        )
        Element.objects.bulk_create(
            Element(room=room, material=mat, label="M1", serial=f"S{n:07}", tag_ohms=71.0, **own)
            for n, room in zip(numbers, rooms, strict=True)
        )
        Booking.objects.bulk_create(
            Booking(
                crew=crews[n % 60],
                day=now.date() + timedelta(days=1 + n // 120),
                half=("am", "pm")[n // 60 % 2],
                job=job,
                room=room,
                task="lay",
                span=uuid4(),
                booked_at=now,
                booked_by=office,
                **own,
            )
            for n, job, room in zip(numbers, jobs, rooms, strict=True)
        )
        Visit.objects.bulk_create(
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
        )
    while bring_up_to_date(office, at=now, most=2_000):
        pass
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _measured(office, finn, size, goal):
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse

    from jobs.models import Job

    open_jobs = list(
        Job.objects.filter(closed_at=None).order_by("-pk").prefetch_related("rooms")[:ROUNDS]
    )
    pages = {
        "needs you": (office, lambda job: reverse("home")),
        "board": (office, lambda job: reverse("jobs")),
        "board, one band": (office, lambda job: reverse("jobs") + "?all=crews"),
        "job": (office, lambda job: reverse("job", args=[job.pk])),
        "room": (office, lambda job: reverse("room", args=[job.rooms.all()[0].pk])),
        "customers": (office, lambda job: reverse("customers")),
        "customer": (office, lambda job: reverse("customer", args=[job.customer_id])),
        "catalogue": (office, lambda job: reverse("catalogue")),
        "crew plan": (office, lambda job: reverse("plan")),
        "search, street": (office, lambda job: reverse("search") + "?q=Harbour Lane 0"),
        "search, phone": (office, lambda job: reverse("search") + "?q=000123"),
        "search, nothing": (office, lambda job: reverse("search") + "?q=zzzqqq"),
        "today": (finn, lambda job: reverse("today")),
        "field room": (finn, lambda job: reverse("field-room", args=[job.rooms.all()[0].pk])),
    }
    lines = []
    for name, (member, address) in pages.items():
        client = Client(SERVER_NAME="localhost")
        client.force_login(member, "django.contrib.auth.backends.ModelBackend")
        client.get(address(open_jobs[0]))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address(open_jobs[0])).status_code == 200, name
        times = []
        for job in open_jobs:
            began = time.perf_counter()
            client.get(address(job))
            times.append((time.perf_counter() - began) * 1000)
        p95 = statistics.quantiles(times, n=20)[-1]
        told = "" if p95 <= goal else " (over)"
        lines.append(
            f"| {name} | {size} | {p95:.0f} ms{told} | {statistics.median(times):.0f} ms "
            f"| {len(asked)} |"
        )
    return lines
