"""The exposure windows of rooms, from their checks, layers and bookings."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from jobs.models import Job, Room
from readings.models import Check
from scheduling.actions.facts import facts_of, material_facts
from scheduling.cure import capped_rate
from scheduling.energize import decide
from scheduling.exposure import Covering, Window, windows
from scheduling.floor import Facts, coldest_plausible_c, room_course
from scheduling.halfday import NOON, starts_at
from scheduling.models import Booking, Layer
from scheduling.progress import progress


def windows_of_job(job: Job, *, at: datetime) -> dict[str, tuple[Window, ...]]:
    """The windows of every room of a job as of `at`, by room id."""
    return windows_of(list(Room.objects.filter(job=job).select_related("job")), at=at)


def windows_of(rooms: Sequence[Room], *, at: datetime) -> dict[str, tuple[Window, ...]]:
    """The windows of rooms as of `at`, by room id, in so many queries for all of them."""
    facts = facts_of(rooms, at=at)
    laid = _first_by_room(
        Check.objects.filter(room__in=rooms, stage="laid", superseded_by=None, taken_at__lte=at)
        .order_by("taken_at")
        .values_list("room_id", "taken_at")
    )
    booked = _booked(rooms, at)
    to_come = _planned_layers(rooms)
    return {
        str(room.pk): _windows(
            facts[room.pk],
            laid_at=laid.get(room.pk),
            lay_booked_at=booked["lay"].get(room.pk),
            embed_booked_at=booked["embed"].get(room.pk),
            planned=to_come.get(room.pk),
        )
        for room in rooms
    }


def _windows(
    facts: Facts,
    *,
    laid_at: datetime | None,
    lay_booked_at: datetime | None,
    embed_booked_at: datetime | None,
    planned: Layer | None,
) -> tuple[Window, ...]:
    course = room_course(facts)
    coverings = []
    for layer in facts.layers:
        walk_hours = layer.material.walk_after_hours or layer.material.heat_after_hours
        walked = progress(layer, course, facts, hours=walk_hours)
        coverings.append(
            Covering(
                placed_at=layer.placed_at,
                walkable_likely_at=walked.likely,
                walkable_latest_at=walked.latest,
            )
        )
    if embed_booked_at is not None and planned is not None and embed_booked_at > facts.now:
        coverings.append(_expected(planned, embed_booked_at, facts))
    decision = decide(facts) if facts.layers else None
    return windows(
        laid_at=laid_at or lay_booked_at,
        laying_planned=laid_at is None,
        coverings=coverings,
        heat_likely_at=decision.likely if decision else None,
        heat_latest_at=decision.latest if decision else None,
        now=facts.now,
    )


def _expected(layer: Layer, booked_at: datetime, facts: Facts) -> Covering:
    """A layer that is only booked: as warm as its sheet's reference, or as cold as may be."""
    material = material_facts(layer.material, thickness_mm=layer.thickness_mm)
    hours = material.walk_after_hours or material.heat_after_hours
    slowest = capped_rate(
        material.law, lowest_c=material.lowest_c, celsius=coldest_plausible_c(facts)
    )
    return Covering(
        placed_at=booked_at,
        walkable_likely_at=booked_at + timedelta(hours=hours),
        walkable_latest_at=booked_at + timedelta(hours=hours / slowest) if slowest else None,
        planned=True,
    )


def _booked(rooms: Sequence[Room], at: datetime) -> dict[str, dict[UUID, datetime]]:
    """The first half-day to come that is booked for laying, and for embedding, by room."""
    zones = {room.pk: ZoneInfo(room.job.time_zone) for room in rooms}
    rows = (
        Booking.objects.filter(
            room__in=rooms,
            task__in=("lay", "embed"),
            cancelled_at=None,
            day__gte=(at - timedelta(days=1)).date(),
        )
        .order_by("day", "half")
        .values_list("room_id", "task", "day", "half")
    )
    found: dict[str, dict[UUID, datetime]] = defaultdict(dict)
    for room_id, task, day, half in rows:
        assert room_id is not None
        clock = time() if half == "am" else NOON
        found[task].setdefault(room_id, starts_at(day, clock, zones[room_id]))
    return found


def _planned_layers(rooms: Sequence[Room]) -> dict[UUID, Layer]:
    """The layer that is to embed the cable of a room and is not placed yet."""
    rows = Layer.objects.filter(
        room__in=rooms, embeds=True, placed_at=None, removed_at=None
    ).select_related("material")
    return {row.room_id: row for row in rows.order_by("position")}


def _first_by_room(rows: Iterable[tuple[UUID, Any]]) -> dict[UUID, Any]:
    found: dict[UUID, Any] = {}
    for room_id, value in rows:
        found.setdefault(room_id, value)
    return found
