"""Visits taken from calendar files and lines of text; told again, they move instead of doubling."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

from django.db import transaction

from config.sentence import Sentence
from jobs.models import Job, Room
from scheduling.actions.exposures import windows_of_job
from scheduling.actions.notices import conflicts_of, review_visits
from scheduling.actions.visits import require_room_of
from scheduling.calendar_file import read_calendar
from scheduling.exposure import Conflict
from scheduling.models import Visit, VisitingTrade
from scheduling.planned import PlannedTime, Read, UnusableCalendar
from scheduling.visit_lines import read_lines

# Of one job, from one source: enough for years of building, too few to fill a disk.
MOST_TO_COME = 500
CHANGED = ("starts_at", "ends_at", "source_sequence", "cancelled_at", "version")
ONE_OF_SERIES = re.compile(r"(.+)/\d{8}(T\d{6}Z)?")
Deed = Literal["new", "moved", "same", "older", "gone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What becomes of one visit: `visit` is as it will be, not yet stored."""

    deed: Deed
    visit: Visit
    title: str
    conflicts: tuple[Conflict, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Import:
    """What a file or some lines say, and what taking it does, in order of time.

    `rooms` are the names of the job's rooms, by id.
    """

    read: Read
    rows: tuple[Row, ...]
    rooms: Mapping[str, str]

    def count(self, *deeds: Deed) -> int:
        return sum(row.deed in deeds for row in self.rows)

    @property
    def changes(self) -> int:
        return self.count("new", "moved", "gone")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What was sent, and what holds for each visit that does not say otherwise.

    `told_by` is the trade whose private link it came through; None for the office. `fields` are
    those of a visit: `trade`, `company`, `activities`, and how to reach them.
    """

    job: Job
    fields: Mapping[str, Any]
    room: Room | None = None
    told_by: VisitingTrade | None = None
    calendar: bytes | str = ""
    lines: str = ""


def preview(source: Source, *, at: datetime) -> Import:
    """What taking it would do; nothing is stored.

    Raises UnusableCalendar or VisitRoomElsewhere.
    """
    require_room_of(source.job, source.room)
    rooms = {room.name: room for room in Room.objects.filter(job=source.job)}
    place = ZoneInfo(source.job.time_zone)
    if source.calendar:
        read = read_calendar(source.calendar, place=place, at=at)
    else:
        read = read_lines(source.lines, rooms=list(rooms), place=place, at=at)
    known = {
        visit.source_uid: visit
        for visit in Visit.objects.filter(job=source.job, announced_by=source.told_by).exclude(
            source_uid=""
        )
    }
    rows = [_row(source, time, known.get(time.source), rooms) for time in read.times]
    rows += _gone(read, known, at)
    _require_room(source, rows, at)
    windows = windows_of_job(source.job, at=at)
    held = [
        Row(
            deed=row.deed,
            visit=row.visit,
            title=row.title,
            conflicts=()
            if row.visit.cancelled_at
            else tuple(conflicts_of(row.visit, at=at, windows=windows)),
        )
        for row in sorted(rows, key=lambda row: (row.visit.starts_at, row.visit.source_uid))
    ]
    names = {str(room.pk): room.name for room in rooms.values()}
    return Import(read=read, rows=tuple(held), rooms=names)


@transaction.atomic
def take(source: Source, *, at: datetime) -> Import:
    """Store what can be taken, and hold each visit against the floors; raises as `preview`."""
    Job.objects.select_for_update(no_key=True).get(pk=source.job.pk)  # the same file sent twice
    found = preview(source, at=at)
    new = [row.visit for row in found.rows if row.deed == "new"]
    changed = [row.visit for row in found.rows if row.deed in ("moved", "gone")]
    Visit.objects.bulk_create(new)
    Visit.objects.bulk_update(changed, CHANGED)
    review_visits([*new, *changed], at=at)
    return found


def _row(source: Source, time: PlannedTime, known: Visit | None, rooms: Mapping[str, Room]) -> Row:
    title = time.title or time.trade
    if known is None:
        return Row(deed="new", visit=_new(source, time, rooms), title=title)
    if time.sequence < known.source_sequence:
        return Row(deed="older", visit=known, title=title)
    moved = (known.starts_at, known.ends_at) != (time.starts_at, time.ends_at)
    if not moved and time.sequence == known.source_sequence:
        return Row(deed="same", visit=known, title=title)
    known.starts_at, known.ends_at = time.starts_at, time.ends_at
    known.source_sequence, known.cancelled_at = time.sequence, None
    known.version += 1
    return Row(deed="moved", visit=known, title=title)


def _new(source: Source, time: PlannedTime, rooms: Mapping[str, Room]) -> Visit:
    """A visit as it was told; a trade's link speaks for that trade only."""
    fields = dict(source.fields)
    if source.told_by is None:
        fields["trade"] = time.trade or fields["trade"]
        fields["company"] = time.company or fields["company"] or fields["trade"]
    if time.activities:
        fields["activities"] = list(time.activities)
    return Visit(
        contractor_id=source.job.contractor_id,
        job=source.job,
        room=rooms[time.room] if time.room else source.room,
        announced_by=source.told_by,
        starts_at=time.starts_at,
        ends_at=time.ends_at,
        source_uid=time.source,
        source_sequence=time.sequence,
        **fields,
    )


def _gone(read: Read, known: Mapping[str, Visit], at: datetime) -> list[Row]:
    """Visits to come that were told of before and are called off, or told of no more."""
    told = {time.source for time in read.times}
    rows = []
    for uid, visit in known.items():
        series = ONE_OF_SERIES.fullmatch(uid)
        sequence = read.gone.get(uid, read.whole.get(series[1] if series else uid))
        if sequence is None or uid in told or visit.cancelled_at or visit.ends_at <= at:
            continue
        if sequence >= visit.source_sequence:
            visit.cancelled_at, visit.source_sequence = at, sequence
            visit.version += 1
            rows.append(Row(deed="gone", visit=visit, title=visit.trade))
    return rows


def _require_room(source: Source, rows: Sequence[Row], at: datetime) -> None:
    new = sum(row.deed == "new" for row in rows)
    there = Visit.objects.filter(
        job=source.job, announced_by=source.told_by, ends_at__gt=at, cancelled_at=None
    ).count()
    if there + new > MOST_TO_COME:
        raise UnusableCalendar(
            Sentence(
                "{there} visits are planned already; with these it would be more than {most}.",
                there=there,
                most=MOST_TO_COME,
            )
        )
