"""The exposure windows of rooms, from their checks, layers and bookings."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Subquery
from django.db.models.functions import JSONObject

from jobs.models import Job, Room
from readings.models import Check
from scheduling.actions.facts import LayersOf, facts_of, layers_of, material_facts
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


def windows_of(
    rooms: Sequence[Room], *, at: datetime, layers: LayersOf | None = None
) -> dict[str, tuple[Window, ...]]:
    """The windows of rooms as of `at`, by room id, in so many queries for all of them; `layers`
    are those of `layers_of`, where they are read already."""
    layers = layers_of(rooms) if layers is None else layers
    facts = facts_of(rooms, at=at, layers=layers)
    laying = _laying(rooms, at)
    return {
        str(room.pk): _windows(
            facts[room.pk],
            laid_at=laying[room.pk].laid_at,
            lay_booked_at=laying[room.pk].lay_booked_at,
            embed_booked_at=laying[room.pk].embed_booked_at,
            planned=_to_embed(layers[room.pk]),
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


class Laying(NamedTuple):
    """When the cable of a room was checked as laid, and what of it is booked next."""

    laid_at: datetime | None
    lay_booked_at: datetime | None
    embed_booked_at: datetime | None


def _laying(rooms: Sequence[Room], at: datetime) -> dict[UUID, Laying]:
    laid = Check.objects.filter(
        room=OuterRef("pk"), stage="laid", superseded_by=None, taken_at__lte=at
    )
    booked = Booking.objects.filter(
        room=OuterRef("pk"), cancelled_at=None, day__gte=(at - timedelta(days=1)).date()
    ).order_by("day", "half")
    rows = Room.objects.filter(pk__in=[room.pk for room in rooms]).values_list(
        "pk",
        Subquery(laid.order_by("taken_at").values("taken_at")[:1]),
        Subquery(booked.filter(task="lay").values(json=JSONObject(day="day", half="half"))[:1]),
        Subquery(booked.filter(task="embed").values(json=JSONObject(day="day", half="half"))[:1]),
    )
    zones = {room.pk: ZoneInfo(room.job.time_zone) for room in rooms}
    return {
        pk: Laying(laid_at, _starts_at(lay, zones[pk]), _starts_at(embed, zones[pk]))
        for pk, laid_at, lay, embed in rows
    }


def _starts_at(booked: Mapping[str, str] | None, zone: ZoneInfo) -> datetime | None:
    if booked is None:
        return None
    clock = time() if booked["half"] == "am" else NOON
    return starts_at(date.fromisoformat(booked["day"]), clock, zone)


def _to_embed(layers: Sequence[Layer]) -> Layer | None:
    """The layer that is to embed the cable and is not placed yet, the topmost of several."""
    planned = [row for row in layers if row.embeds and row.placed_at is None]
    return planned[-1] if planned else None
