"""Speed of readings: a full set's verdict, the chain, a logger's file.

Seconds are of the processor, this process's and its PostgreSQL backend's, so that a busy machine
does not change them; the clock's stand beside them. Both work in turns, so that an idle machine's
clock shows about the sum.
"""

import random
import resource
import time
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from uuid_utils.compat import uuid7

from tests.bench.server import database, row

CHAIN = 1_000, 10_000, 100_000
LOG_ROWS = 100_000


def main() -> list[str]:
    lines = ["| what | measured | goal | met |", "|---|---|---|---|", verdict_of_a_set()]
    lines += pure_chain()
    lines.append(pure_log())
    with database():
        lines.append(batches())
        lines += stored_chain()
        lines.append(stored_log())
    return lines


def spent(work: Callable[[], Any]) -> float:
    """Seconds of this process's time."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def effort(work: Callable[[], Any]) -> tuple[float, float]:
    """Seconds of the processor, and of the clock, that work with the database takes."""
    backend, clock = backend_seconds(), time.perf_counter()
    own = spent(work)
    return own + backend_seconds() - backend, time.perf_counter() - clock


def backend_seconds() -> float:
    """Processor time so far of the backend that serves this connection."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        (pid,) = cursor.fetchone()
    return int(Path(f"/proc/{pid}/schedstat").read_text().split()[0]) / 1e9


def verdict_of_a_set() -> str:
    from readings.assess import ElementFacts, Meter, RoomFacts, SensorFacts, Sent, assess
    from readings.element import Tag
    from readings.instruments import Range
    from readings.sensor import TYPE_II_10K

    mat, probe = UUID(int=1), UUID(int=2)
    tag = Tag(ohms=71.1, below=0.05, above=0.1)
    room = RoomFacts(
        supply_volts=230.0,
        elements={mat: ElementFacts(label="mat", tag=tag, volts=230.0, watts=744.0)},
        sensors={probe: SensorFacts(label="probe", curve=TYPE_II_10K)},
    )
    fine = Range(200, 0.1, 0.5, 2)
    ohms = Meter(name="200 Ω", quantity="ohms", range=fine, other_ranges=(fine,))
    kilohms = Meter(name="20 kΩ", quantity="ohms", range=Range(20_000, 10, 0.5, 2))
    sent = [
        Sent(kind="element", meter=ohms, value=71.0, at_c=20),
        Sent(kind="lead_to_ground", meter=ohms, value=None, lead="A"),
        Sent(kind="lead_to_ground", meter=ohms, value=None, lead="B"),
        Sent(kind="sensor", meter=kilohms, value=12_490, at_c=20),
    ]

    def judge() -> None:
        assert assess("laid", sent, room, taken_on=date(2027, 3, 1)).outcome == "pass"

    judge()
    milliseconds = min(spent(lambda: [judge() for _ in range(500)]) for _ in range(5)) * 2
    return row(
        "verdict of a full set", f"{milliseconds:.3f} ms", "< 0.2 ms", met=milliseconds < 0.2
    )


def content(number: int) -> dict[str, Any]:
    """What a check of four readings comes to, in size and kind."""
    generator = random.Random(number)
    figures = {name: generator.uniform(0, 100) for name in ("value", "u", "low", "high", "p", "c")}
    return {
        "sent": {
            "client_id": str(UUID(int=number)),
            "note": "",
            "readings": [{"kind": "element", "range": str(UUID(int=7)), "value": figures["value"]}]
            * 4,
        },
        "accepted": {
            "sequence": number,
            "readings": [
                {"outcome": "pass", "because": "Inside the limits. " * 5, "figures": figures}
            ]
            * 4,
        },
    }


def pure_chain() -> Iterator[str]:
    from readings.digest import Link, canonical, digest_of, first_broken

    for count in CHAIN:
        links, previous = [], ""
        for number in range(1, count + 1):
            text = canonical(content(number))
            links.append(Link(number, text, previous, digest_of(text, previous=previous)))
            previous = links[-1].digest
        seconds = spent(lambda links=links: first_broken(links))
        yield row(
            f"chain of {count} checks, in memory",
            f"{seconds:.2f} s ({1e6 * seconds / count:.0f} µs each)",
            "100 000 in 5 s",
            met=seconds * 100_000 / count < 5,
        )


def log_pieces() -> Iterator[bytes]:
    start = datetime(2020, 1, 1, tzinfo=UTC)
    yield b"time;temperature\n"
    for number in range(LOG_ROWS):
        at = start + timedelta(minutes=10 * number)
        yield f"{at:%Y-%m-%d %H:%M};{number % 300 / 10}\n".encode()


def pure_log() -> str:
    from readings.temperature_log import Mapping, rows

    mapping = Mapping(zone="UTC")
    seconds = spent(lambda: sum(1 for _ in rows(log_pieces(), mapping)))
    tracemalloc.start()
    sum(1 for _ in rows(log_pieces(), mapping))
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return row(
        f"logger's file of {LOG_ROWS} rows, read",
        f"{seconds:.2f} s, {peak:.1f} MB",
        "< 10 s, bounded",
        met=seconds < 10 and peak < 20,
    )


def stored_chain() -> Iterator[str]:
    from readings.actions.verify import verify
    from readings.digest import Link, first_broken
    from readings.models import Check
    from tests.factories import MemberFactory
    from tests.readings.conftest import Site

    site = Site(MemberFactory(role="field").contractor)
    stored = 0
    for count in CHAIN:
        append_checks(site, stored, count)
        stored = count
        checks = Check.objects.filter(room=site.room).order_by("sequence")
        rows = checks.values_list("sequence", "content", "previous_digest", "digest")

        def chain(rows: Any = rows) -> None:
            links = (Link(*one) for one in rows.iterator(chunk_size=2000))
            assert first_broken(links) is None

        def whole(count: int = count) -> None:
            (state,) = verify(site.room.pk)
            assert state.whole, state.broken
            assert state.checks == count

        (alone, clock), (all_of_it, whole_clock) = effort(chain), effort(whole)
        yield row(
            f"chain of {count} stored checks",
            f"{alone:.2f} s (clock {clock:.1f}); with all columns and {4 * count} readings "
            f"{all_of_it:.2f} s (clock {whole_clock:.1f})",
            "100 000 in 5 s",
            met=alone * 100_000 / count < 5,
        )


def append_checks(site: Any, stored: int, count: int) -> None:
    """Checks as the first one, which was accepted as any is, up to `count` of them."""
    from readings.actions.checks import CHECK, READING, CheckSent, record_check
    from readings.actions.copying import copy
    from readings.digest import canonical, digest_of
    from readings.models import Check, Reading
    from tests.factories import MemberFactory

    if not stored:
        member = MemberFactory(role="field", contractor=site.room.contractor)
        at = datetime(2026, 3, 10, 7, tzinfo=UTC)
        readings = [{**one, "range": UUID(one["range"])} for one in site.full_set()]
        sent = CheckSent(
            client_id=uuid4(), room=site.room.pk, stage="service", taken_at=at, readings=readings
        )
        record_check(by=member, sent=sent, at=at)
        stored = 1
    last = Check.objects.filter(room=site.room).order_by("-sequence")[0]
    said = last.record
    rows = list(Reading.objects.filter(visit=last).order_by("position"))
    columns = [
        [getattr(one, Reading._meta.get_field(name).attname) for name in READING] for one in rows
    ]
    own = [Check._meta.get_field(name).attname for name in CHECK]
    checks, copies = [], []
    for sequence in range(stored + 1, count + 1):
        client_id, pk = uuid4(), uuid7()
        said["sent"]["client_id"], said["accepted"]["sequence"] = str(client_id), sequence
        content, previous = canonical(said), last.digest
        digest = digest_of(content, previous=previous)
        last.pk, last.client_id, last.sequence, last.content = pk, client_id, sequence, content
        last.previous_digest, last.digest = previous, digest
        checks.append([getattr(last, name) for name in own])
        for one in columns:
            copies.append((uuid7(), one[1], pk, *one[3:-1], canonical(one[-1])))
        if len(checks) == 5_000 or sequence == count:
            copy(Check, CHECK, checks)
            copy(Reading, READING, copies)
            checks, copies = [], []


def checked(site: Any) -> Any:
    """One check of a full set, as the phone's batch brings it."""
    from readings.actions.checks import CheckSent

    return CheckSent(
        client_id=uuid4(),
        room=site.room.pk,
        stage="service",
        taken_at=datetime(2026, 3, 10, 6, tzinfo=UTC),
        readings=[{**one, "range": UUID(one["range"])} for one in site.full_set()],
    )


def batches() -> str:
    from readings.actions.checks import record_checks
    from tests.factories import MemberFactory
    from tests.readings.conftest import Site

    member = MemberFactory(role="field")
    at = datetime(2026, 3, 10, 7, tzinfo=UTC)
    seconds = []
    for _ in range(20):
        site = Site(member.contractor)
        sent = [checked(site) for _ in range(50)]
        seconds.append(spent(lambda sent=sent: record_checks(by=member, sent=sent, at=at)))
    best = min(seconds)
    return row(
        "a batch of 50 checks accepted, Python's share",
        f"{1000 * best:.0f} ms ({200 / best:.0f} readings/s)",
        "≥ 5 000/s",
        met=200 / best >= 5000,
    )


def stored_log() -> str:
    from readings.actions.temperatures import import_log
    from readings.temperature_log import Mapping
    from tests.factories import JobFactory, MemberFactory

    member = MemberFactory(role="field")
    job = JobFactory(contractor=member.contractor)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    reports = []

    def store() -> None:
        reports.extend(
            import_log(
                by=member,
                job=job,
                room=None,
                pieces=log_pieces(),
                mapping=Mapping(zone="UTC"),
                source_name="bench",
                at=datetime(2026, 3, 10, tzinfo=UTC),
            )
        )

    seconds, clock = effort(store)
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    assert reports[-1].added == LOG_ROWS
    return row(
        f"logger's file of {LOG_ROWS} rows, stored",
        f"{seconds:.1f} s (clock {clock:.1f}), process grew by {grown:.0f} MB",
        "< 10 s, bounded",
        met=seconds < 10 and grown < 100,
    )
