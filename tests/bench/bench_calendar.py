"""Feeds of 2 000 events, the answer that nothing has changed, and visits against many floors.

The feed is asked for through the whole of Django, on a real database; process time of this
process, so that a busy machine does not count (what PostgreSQL takes comes on top, and is told as
elapsed time).
"""

import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from random import Random
from time import perf_counter, process_time, time

FEED_MS, UNCHANGED_MS, CONFLICTS_S = 200.0, 10.0, 1.0
EVENTS, VISITS, ROOMS = 2_000, 1_000, 500
AT = datetime(2027, 3, 10, 7, tzinfo=UTC)


def best(what: Callable[[], object], repeat: int = 7) -> tuple[float, float]:
    """The best process time and the best elapsed time of several runs, in milliseconds."""
    process, elapsed = [], []
    for _ in range(repeat):
        one, other = process_time(), perf_counter()
        what()
        process.append((process_time() - one) * 1e3)
        elapsed.append((perf_counter() - other) * 1e3)
    return min(process), min(elapsed)


def feeds() -> list[str]:
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    import django

    django.setup()
    from django.db import connection
    from django.test import Client
    from django.test.utils import setup_test_environment

    from config import services

    with services.held():
        setup_test_environment()
        connection.creation.create_test_db(verbosity=0, autoclobber=True)
        try:
            return _feeds(Client)
        finally:
            connection.creation.destroy_test_db(":memory:", verbosity=0)


def _feeds(client_of: Callable[[], object]) -> list[str]:
    from scheduling.actions.feeds import make_feed
    from scheduling.models import Booking
    from tests.factories import BookingFactory, CrewFactory, JobFactory, MemberFactory, RoomFactory

    now = datetime.fromtimestamp(time(), UTC)
    olive = MemberFactory()
    crews = [CrewFactory(contractor=olive.contractor) for _ in range(5)]
    rooms = []
    for _ in range(100):
        job = JobFactory(contractor=olive.contractor)
        rooms.append(RoomFactory(contractor=olive.contractor, job=job))
    Booking.objects.bulk_create(
        BookingFactory.build(
            contractor=olive.contractor,
            crew=crews[number % 5],
            job=rooms[number % 100].job,
            room=rooms[number % 100],
            day=(now + timedelta(days=number // 10)).date(),
            half=("am", "pm")[number // 5 % 2],
            booked_by=olive,
            task="lay",
        )
        for number in range(EVENTS)
    )
    _link, url = make_feed(by=olive, crew=None, at=now)
    path = url.removeprefix("http://testserver")
    client = client_of()
    first = client.get(path)
    assert first.content.count(b"BEGIN:VEVENT") == EVENTS
    whole = best(lambda: client.get(path))
    tag = first["ETag"]
    again = client.get(path, headers={"If-None-Match": tag})
    assert again.status_code == 304
    unchanged = best(lambda: client.get(path, headers={"If-None-Match": tag}), 30)
    return [
        f"feed of {EVENTS} events: {whole[0]:.0f} ms process, {whole[1]:.0f} ms elapsed, "
        f"{len(first.content) // 1024} kB (at most {FEED_MS:g} ms)",
        f"nothing has changed (304): {unchanged[0]:.1f} ms process, {unchanged[1]:.1f} ms elapsed "
        f"(at most {UNCHANGED_MS:g} ms)",
    ]


def visits() -> list[str]:
    from scheduling.exposure import ACTIVITIES, Covering, PlannedVisit, conflicts, windows

    chance = Random(20_270_310)
    floors = {}
    for number in range(ROOMS):
        laid_at = AT + timedelta(hours=chance.randint(-400, 400))
        covered_at = laid_at + timedelta(hours=chance.randint(4, 72))
        floors[str(number)] = windows(
            laid_at=laid_at,
            laying_planned=laid_at > AT,
            coverings=[
                Covering(
                    placed_at=covered_at + timedelta(days=day),
                    walkable_likely_at=covered_at + timedelta(days=day, hours=24),
                    walkable_latest_at=covered_at + timedelta(days=day, hours=60),
                )
                for day in range(0, 12, 4)
            ],
            heat_likely_at=covered_at + timedelta(days=20),
            heat_latest_at=covered_at + timedelta(days=30),
            now=AT,
        )
    planned = []
    for number in range(VISITS):
        starts_at = AT + timedelta(hours=chance.randint(-200, 600))
        planned.append(
            PlannedVisit(
                id=str(number),
                rooms=tuple(chance.sample(sorted(floors), chance.choice([1, 1, 3, 8]))),
                starts_at=starts_at,
                ends_at=starts_at + timedelta(hours=chance.randint(1, 30)),
                activities=tuple(chance.sample(ACTIVITIES, 3)),
            )
        )
    everywhere = [
        PlannedVisit(
            id=visit.id,
            rooms=tuple(floors),
            starts_at=visit.starts_at,
            ends_at=visit.ends_at,
            activities=visit.activities,
        )
        for visit in planned[:10]
    ]
    some = best(lambda: conflicts(planned, floors, not_before=AT), 3)
    found = len(conflicts(planned, floors, not_before=AT))
    all_rooms = best(lambda: conflicts(everywhere, floors, not_before=AT), 1)
    assert some[0] < CONFLICTS_S * 1e3, some
    return [
        f"{VISITS} visits against the windows of {ROOMS} rooms: {some[0]:.0f} ms process, "
        f"{found} conflicts (at most {CONFLICTS_S:g} s)",
        f"10 visits to all {ROOMS} rooms at once: {all_rooms[0]:.0f} ms process",
    ]


def main() -> list[str]:
    return [*visits(), *feeds()]


if __name__ == "__main__":
    print("\n".join(main()))
