"""The exposure windows of rooms, from their checks, layers, bookings and temperatures."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import cast
from uuid import UUID

from jobs.models import Room
from readings.models import Check
from scheduling.actions.facts import facts_of, layer_name
from scheduling.energize import decide
from scheduling.exposure import Covering, Window, windows
from scheduling.floor import Facts, room_course
from scheduling.halfday import Half, HalfDay, half_day_span, zone_named
from scheduling.models import Booking, Energizing, Layer
from scheduling.progress import progress


def windows_of(rooms: Sequence[Room], *, at: datetime) -> dict[UUID, tuple[Window, ...]]:
    """What each room's cable is like over time, as known at `at`; jobs are read with the rooms.

    The cable counts as laid from the first check that says so, else as planned from the booking
    to lay it.
    """
    at = at.replace(microsecond=0)
    facts = facts_of(rooms, at=at)
    checked = _first_laid(rooms)
    booked = _booked_to_lay(rooms, at)
    over_cable = _layers_over_cable(rooms)
    heated = set(
        Energizing.objects.filter(room__in=rooms, test_minutes=None).values_list(
            "room_id", flat=True
        )
    )
    found = {}
    for room in rooms:
        laid_at = checked.get(room.pk)
        heat = decide(facts[room.pk])
        on = room.pk in heated
        found[room.pk] = windows(
            laid_at=laid_at or booked.get(room.pk),
            laying_planned=laid_at is None,
            coverings=_coverings(facts[room.pk], over_cable[room.pk]),
            heat_likely_at=at if on else heat.likely,
            heat_latest_at=at if on else heat.latest,
            now=at,
        )
    return found


def _coverings(facts: Facts, over_cable: set[str]) -> list[Covering]:
    """Layers over the cable, with when they bear walking (heat, where no hours are printed)."""
    known = room_course(facts)
    found = []
    for layer in facts.layers:
        if layer.id in over_cable:
            walkable = progress(layer, known, facts, hours=layer.material.walk_after_hours)
            found.append(
                Covering(
                    placed_at=layer.placed_at,
                    walkable_likely_at=walkable.likely,
                    walkable_latest_at=walkable.latest,
                )
            )
    return found


def _layers_over_cable(rooms: Sequence[Room]) -> dict[UUID, set[str]]:
    """Names of the layers from the one that embeds the cable upwards."""
    rows = Layer.objects.filter(room__in=rooms, placed_at__isnull=False, removed_at=None)
    found: dict[UUID, set[str]] = defaultdict(set)
    embedded: set[UUID] = set()
    for row in rows.order_by("room_id", "position"):
        if row.embeds:
            embedded.add(row.room_id)
        if row.room_id in embedded:
            found[row.room_id].add(layer_name(row))
    return found


def _first_laid(rooms: Sequence[Room]) -> dict[UUID, datetime]:
    rows = Check.objects.filter(room__in=rooms, stage="laid").order_by("-taken_at")
    return dict(rows.values_list("room_id", "taken_at"))


def _booked_to_lay(rooms: Sequence[Room], at: datetime) -> dict[UUID, datetime]:
    """When laying is booked, by room; a booking for the whole job is one for each of its rooms."""
    by_job = defaultdict(list)
    for room in rooms:
        by_job[room.job_id].append(room)
    rows = Booking.objects.filter(
        job__in=by_job, task="lay", cancelled_at=None, day__gte=at.date()
    ).order_by("-day", "half")
    found: dict[UUID, datetime] = {}
    for row in rows.values_list("job_id", "room_id", "day", "half"):
        job_id, room_id, day, half = row
        for room in by_job[job_id]:
            if room_id in (None, room.pk):
                zone = zone_named(room.job.time_zone)
                found[room.pk] = half_day_span(HalfDay(day, cast(Half, half)), zone)[0]
    return found
