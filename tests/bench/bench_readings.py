"""Speed of readings: a full set's verdict, the chain, a logger's file."""

import random
import resource
import time
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from tests.bench.server import database, row

CHAIN = 1_000, 10_000, 100_000
LOG_ROWS = 100_000
PER_ROOM = 500


def main() -> list[str]:
    lines = ["| what | measured | goal | met |", "|---|---|---|---|", verdict_of_a_set()]
    lines += pure_chain()
    lines.append(pure_log())
    with database():
        lines += stored_chain()
        lines.append(stored_log())
    return lines


def spent(work: Callable[[], Any]) -> float:
    """Seconds of this process's time."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


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
    from readings.actions.checks import record_checks
    from readings.actions.verify import verify
    from tests.factories import MemberFactory
    from tests.readings.conftest import Site

    member = MemberFactory(role="field")
    at = datetime(2026, 3, 10, 7, tzinfo=UTC)
    total = 0
    for count in CHAIN[:2]:
        begin = time.perf_counter()
        while total < count:
            site = Site(member.contractor)
            for _ in range(min(PER_ROOM, count - total) // 50):
                sent = [checked(site) for _ in range(50)]
                found = record_checks(by=member, sent=sent, at=at)
                total += len(found)
        filled = time.perf_counter() - begin
        begin = time.perf_counter()
        states = list(verify())
        seconds = time.perf_counter() - begin
        assert all(state.whole for state in states)
        assert sum(state.checks for state in states) == count
        yield row(
            f"chains of {count} stored checks, rows and all",
            f"{seconds:.2f} s ({1e6 * seconds / count:.0f} µs each; stored in {filled:.0f} s)",
            "100 000 in 5 s",
            met=seconds * 100_000 / count < 5,
        )


def checked(site: Any) -> Any:
    from readings.actions.checks import CheckSent

    body = site.check("service")
    readings = [{**one, "range": UUID(one["range"])} for one in body["readings"]]
    return CheckSent(
        client_id=uuid4(),
        room=site.room.pk,
        stage="service",
        taken_at=datetime(2026, 3, 10, 6, tzinfo=UTC),
        readings=readings,
    )


def stored_log() -> str:
    from readings.actions.temperatures import import_log
    from readings.temperature_log import Mapping
    from tests.factories import JobFactory, MemberFactory

    member = MemberFactory(role="field")
    job = JobFactory(contractor=member.contractor)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begin = time.perf_counter()
    *_, report = import_log(
        by=member,
        job=job,
        room=None,
        pieces=log_pieces(),
        mapping=Mapping(zone="UTC"),
        source_name="bench",
        at=datetime(2026, 3, 10, tzinfo=UTC),
    )
    seconds = time.perf_counter() - begin
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    assert report.added == LOG_ROWS
    return row(
        f"logger's file of {LOG_ROWS} rows, stored",
        f"{seconds:.1f} s, process grew by {grown:.0f} MB",
        "< 10 s, bounded",
        met=seconds < 10 and grown < 100,
    )
