"""The entries that feeds show, brought up to date with what they stand for.

Triggers mark the jobs of which something was written; whoever reads a feed, or beat, works these
out. So no way of booking or moving can forget its calendar.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import connection, transaction
from django.db.models import Count, Max, Sum

from config.instants import rfc3339
from config.tenancy import Asker, TenantQuerySet
from jobs.actions.webhooks import announce
from jobs.models import Job, Link, Room
from scheduling import entries
from scheduling.actions.facts import assumed_in, layers_of
from scheduling.actions.warmup import planned, profile_of, resumed_of
from scheduling.entries import Entry, Kept
from scheduling.models import (
    Booking,
    CalendarEntry,
    Decision,
    Energizing,
    StaleCalendar,
    Visit,
)

AT_ONCE = 200
# What is longer over than this is in no feed.
SHOWN_AFTER = timedelta(days=60)
EVENTS = {"booking": "booking.changed", "visit": "visit.changed", "heat": "date.moved"}
TITLE_FIELDS = ("room", "crew", "trade")


def bring_up_to_date(by: Asker, *, at: datetime, most: int = AT_ONCE) -> int:
    """Work out the entries of the jobs of which something changed; returns how many jobs."""
    if not StaleCalendar.objects.visible_to(by).exists():
        return 0
    with transaction.atomic():
        # One at a time: a slow one must not write over what a later one found.
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))",
                [f"calendar {by.contractor_id}"],
            )
        marks = StaleCalendar.objects.visible_to(by).order_by("pk")
        job_ids = list(dict.fromkeys(marks.values_list("job_id", flat=True)[: most * 5]))[:most]
        # First take the marks, then read: what is written meanwhile leaves a mark of its own.
        StaleCalendar.objects.visible_to(by).filter(job__in=job_ids).delete()
        jobs = Job.objects.visible_to(by).filter(pk__in=job_ids)
        _keep(by, list(jobs.order_by("pk")), at)
    return len(job_ids)


def contractors_to_do() -> Collection[Asker]:
    """One row of each contractor of which entries are to be worked out."""
    rows: Iterable[Asker] = StaleCalendar.objects.order_by("contractor").distinct("contractor")
    return list(rows)


def _keep(by: Asker, jobs: Sequence[Job], at: datetime) -> None:
    wanted = _wanted(by, jobs, at)
    rows: dict[UUID, dict[str, CalendarEntry]] = defaultdict(dict)
    for row in CalendarEntry.objects.visible_to(by).filter(job__in=jobs):
        rows[row.job_id][row.key] = row
    made: list[CalendarEntry] = []
    changed: list[CalendarEntry] = []
    for job in jobs:
        here = rows[job.pk]
        found = entries.changes((_kept(row) for row in here.values()), wanted[job.pk])
        for entry in found.new:
            row = CalendarEntry(contractor_id=job.contractor_id, job=job, changed_at=at)
            made.append(_put(row, entry))
        for entry, sequence in found.changed:
            row = _put(here[entry.key], entry)
            row.sequence, row.changed_at, row.cancelled_at = sequence, at, None
            changed.append(row)
        for key, sequence in found.cancelled:
            row = here[key]
            row.sequence, row.changed_at, row.cancelled_at = sequence, at, at
            changed.append(row)
    CalendarEntry.objects.bulk_create(made)
    CalendarEntry.objects.bulk_update(
        changed,
        [
            *(f"{name}_id" for name in TITLE_FIELDS),
            "starts_at",
            "ends_at",
            "all_day",
            "likely",
            "detail",
            "sequence",
            "changed_at",
            "cancelled_at",
        ],
    )
    told = [row for row in (*made, *changed) if row.kind in EVENTS]
    if told:
        announce(by.contractor_id, [(EVENTS[row.kind], _told(row)) for row in told], at=at)


def _wanted(by: Asker, jobs: Sequence[Job], at: datetime) -> dict[UUID, list[Entry]]:
    """The entries of jobs as they are to be, in so many queries for all of them."""
    found: dict[UUID, list[Entry]] = defaultdict(list)
    zones = {job.pk: ZoneInfo(job.time_zone) for job in jobs}
    for booking in Booking.objects.visible_to(by).filter(job__in=jobs, cancelled_at=None):
        found[booking.job_id].append(
            entries.booking(
                id=str(booking.pk),
                crew=str(booking.crew_id),
                room=_text(booking.room_id),
                task=booking.task,
                day=booking.day,
                half=cast(entries.Half, booking.half),
                zone=zones[booking.job_id],
            )
        )
    for visit in Visit.objects.visible_to(by).filter(job__in=jobs, cancelled_at=None):
        found[visit.job_id].append(
            Entry(
                kind="visit",
                key=f"visit {visit.pk}",
                starts_at=visit.starts_at,
                ends_at=visit.ends_at,
                room=_text(visit.room_id),
                trade=_text(visit.announced_by_id),
                detail={"trade": visit.trade, "company": visit.company},
            )
        )
    heated = _heated(by, jobs)
    rooms = [room for room, _at, _likely in heated]
    layers, resumed = layers_of(rooms), resumed_of(rooms)
    for room, on_at, likely in heated:
        zone = zones[room.job_id]
        rests = assumed_in(layers[room.pk]) if likely else ()
        found[room.job_id].append(
            entries.heat(room=str(room.pk), at=on_at, likely=likely, zone=zone, assumed=rests)
        )
        profile = profile_of(layers[room.pk])
        steps, limit = planned(room, starts_at=on_at, profile=profile, resumed=resumed[room.pk])
        found[room.job_id] += entries.warm_up(
            room=str(room.pk), steps=steps, limit=limit, likely=likely, assumed=rests
        )
    return found


def _heated(by: Asker, jobs: Sequence[Job]) -> list[tuple[Room, datetime, bool]]:
    """Rooms with a day of heat: known where heat is on, else likely."""
    rooms = Room.objects.visible_to(by).filter(job__in=jobs).select_related("job").order_by("pk")
    heats = Energizing.objects.visible_to(by).filter(room__job__in=jobs, test_minutes=None)
    known = dict(heats.values_list("room_id", "at"))
    newest = (
        Decision.objects.visible_to(by)
        .filter(room__job__in=jobs)
        .order_by("room_id", "-pk")
        .distinct("room_id")
    )
    likely = dict(newest.values_list("room_id", "likely"))
    return [
        (room, at, room.pk not in known)
        for room in rooms
        if (at := known.get(room.pk) or likely.get(room.pk))
    ]


def _kept(row: CalendarEntry) -> Kept:
    entry = Entry(
        kind=cast(entries.Kind, row.kind),
        key=row.key,
        starts_at=row.starts_at,
        ends_at=row.ends_at,
        room=_text(row.room_id),
        crew=_text(row.crew_id),
        trade=_text(row.trade_id),
        all_day=row.all_day,
        likely=row.likely,
        detail=row.detail,
    )
    return Kept(entry=entry, sequence=row.sequence, cancelled=row.cancelled_at is not None)


def _put(row: CalendarEntry, entry: Entry) -> CalendarEntry:
    row.kind, row.key = entry.kind, entry.key
    row.starts_at, row.ends_at = entry.starts_at, entry.ends_at
    row.all_day, row.likely, row.detail = entry.all_day, entry.likely, dict(entry.detail)
    for name in TITLE_FIELDS:
        value = getattr(entry, name)
        setattr(row, f"{name}_id", UUID(value) if value else None)
    return row


def _told(row: CalendarEntry) -> dict[str, Any]:
    """An entry as other systems are told of it: ids and times."""
    return {
        "id": row.key.split()[1],
        "job": str(row.job_id),
        "room": _text(row.room_id),
        "crew": _text(row.crew_id),
        "starts_at": rfc3339(row.starts_at),
        "ends_at": rfc3339(row.ends_at),
        "likely": row.likely,
        "cancelled": row.cancelled_at is not None,
    }


def _text(row_id: UUID | None) -> str | None:
    return str(row_id) if row_id else None


# What a private link shows


def shown_by(link: Link, *, at: datetime) -> TenantQuerySet[CalendarEntry]:
    """The entries that a link opens: an owner's, a trade's, a crew's, or all of a contractor."""
    rows = CalendarEntry.objects.visible_to(link).filter(ends_at__gt=at - SHOWN_AFTER)
    if link.purpose == "owner":
        return rows.filter(job=link.job_id, kind__in=["booking", "heat", "warm-up"])
    if link.purpose == "trade":
        return rows.filter(trade=link.subject_id)
    if link.subject_id:
        return rows.filter(crew=link.subject_id)
    return rows


def version_of(rows: TenantQuerySet[CalendarEntry]) -> tuple[Any, ...]:
    """What differs whenever something of these entries does, names of places included."""
    found = rows.aggregate(
        count=Count("pk"),
        changed_at=Max("changed_at"),
        jobs=Sum("job__version"),
        rooms=Sum("room__version", default=0),
        crews=Sum("crew__version", default=0),
    )
    return tuple(found.values())
