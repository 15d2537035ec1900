"""Speed of the API over gunicorn and PostgreSQL, as ratios to a no-op in the same run."""

from datetime import timedelta
from uuid import uuid4

from tests.bench.server import Request, database, gunicorn, measured, row


def main() -> list[str]:
    with database():
        secret, check_body, room_id = _seeded()
        with gunicorn() as port:
            return _measured(port, secret, check_body, room_id)


def _seeded():
    from config.models import DeviceToken
    from config.secrets import digest_of_secret
    from tests.factories import (
        NOW,
        CustomerFactory,
        ElementFactory,
        FloorSensorFactory,
        InstrumentFactory,
        InstrumentRangeFactory,
        MemberFactory,
        RoomFactory,
    )

    finn = MemberFactory(role="field")
    alder = finn.contractor
    secret = "benchmark"
    DeviceToken.objects.create(
        contractor=alder,
        member=finn,
        name="bench",
        digest=digest_of_secret(secret),
        issued_at=NOW,
        last_used_at=NOW + timedelta(days=3650),
    )
    rooms = [RoomFactory(contractor=alder) for _ in range(16)]
    elements = [ElementFactory(contractor=alder, room=room) for room in rooms]
    sensors = [FloorSensorFactory(contractor=alder, room=room) for room in rooms]
    meter = InstrumentFactory(contractor=alder)
    ohms, mega, kilo = (
        InstrumentRangeFactory(
            contractor=alder, instrument=meter, name=name, full_scale=full, resolution=step
        )
        for name, full, step in (("200", 200.0, 0.1), ("60M", 60e6, 1e4), ("20k", 20e3, 10.0))
    )
    for _ in range(60):
        CustomerFactory(contractor=alder)

    def check_body(number: int, stage: str = "service") -> dict:
        at = number % len(rooms)
        return {
            "client_id": str(uuid4()),
            "room": str(rooms[at].pk),
            "stage": stage,
            "taken_at": "2026-03-01T09:00:00Z",
            "at_c": 20,
            "readings": [
                {
                    "kind": "element",
                    "element": str(elements[at].pk),
                    "range": str(ohms.pk),
                    "value": 71.0,
                },
                *(
                    {
                        "kind": "lead_to_ground",
                        "element": str(elements[at].pk),
                        "range": str(mega.pk),
                        "over_range": True,
                        "lead": lead,
                    }
                    for lead in "AB"
                ),
                {
                    "kind": "sensor",
                    "sensor": str(sensors[at].pk),
                    "range": str(kilo.pk),
                    "value": 12_490,
                },
            ],
        }

    return secret, check_body, str(rooms[0].pk)


def _measured(port, secret, check_body, room_id) -> list[str]:
    def run(requests: list[Request], clients: int, expect: int):
        return measured(port, secret, requests, clients=clients, expect=expect)

    nothing = [("GET", "nothing/", None)]
    checks = [("POST", "checks/", check_body(n)) for n in range(40)]
    run(nothing * 40, 4, 200)
    run(checks, 4, 201)  # every process and connection is warm now

    idle = run(nothing * 200, 1, 200)
    one = run([("POST", "checks/", check_body(n)) for n in range(200)], 1, 201)
    busy_idle = run(nothing * 800, 16, 200)
    many = run([("POST", "checks/", check_body(n)) for n in range(800)], 16, 201)
    batches = [
        ("POST", "checks/batch/", {"checks": [check_body(b * 50 + n) for n in range(50)]})
        for b in range(20)
    ]
    batch = run(batches, 2, 200)
    readings_per_second = 20 * 50 * 4 / batch.wall
    listed = run([("GET", "customers/?limit=50", None)] * 200, 1, 200)
    checks_listed = run([("GET", f"checks/?room={room_id}&limit=50", None)] * 100, 1, 200)
    return [
        f"no-op at 1 client: median {idle.median_ms:.1f} ms, p95 {idle.p95_ms:.1f} ms; "
        f"at 16 clients {busy_idle.per_second:.0f}/s",
        "",
        "| what | measured | goal | met |",
        "|---|---|---|---|",
        row(
            "one check of 4 readings, 1 client",
            f"p95 {one.p95_ms:.1f} ms, median {one.median_ms:.1f} ms "
            f"({one.median_ms / idle.median_ms:.1f} × no-op)",
            "p95 ≤ 15 ms",
            met=one.p95_ms <= 15,
        ),
        row(
            "checks at 16 clients",
            f"{many.per_second:.0f}/s ({busy_idle.per_second / many.per_second:.1f} × no-op)",
            "≥ 150/s",
            met=many.per_second >= 150,
        ),
        row(
            "readings in batches of 50 checks",
            f"{readings_per_second:.0f}/s",
            "≥ 5 000/s",
            met=readings_per_second >= 5000,
        ),
        row(
            "a list of 50 customers",
            f"p95 {listed.p95_ms:.1f} ms ({listed.median_ms / idle.median_ms:.1f} × no-op)",
            "p95 ≤ 20 ms",
            met=listed.p95_ms <= 20,
        ),
        row(
            "a list of 50 checks",
            f"p95 {checks_listed.p95_ms:.1f} ms "
            f"({checks_listed.median_ms / idle.median_ms:.1f} × no-op)",
            "p95 ≤ 20 ms",
            met=checks_listed.p95_ms <= 20,
        ),
    ]
