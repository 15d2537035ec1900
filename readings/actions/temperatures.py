"""Site temperatures: one by one, in batches, and by the file of a logger."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from uuid_utils.compat import uuid7

from config.errors import DomainError
from config.tenancy import UnknownId, violated
from jobs.actions.refreshing import refresh_job
from jobs.models import Job, Member, Room
from readings import temperature_log
from readings.actions.copying import copy
from readings.air import require_humidity, require_plausible
from readings.flags import CLOCK_WRONG
from readings.models import SiteTemperature
from readings.temperature_log import BadRow, Duplicate, Row

CHUNK = 5_000
REPORTED = 1_000  # bad rows that are told one by one; the rest is counted

COLUMNS = (
    "id",
    "contractor",
    "job",
    "room",
    "client_id",
    "at",
    "celsius",
    "uncertainty_k",
    "humidity_percent",
    "source",
    "source_name",
    "received_at",
    "taken_by",
)

Found = SiteTemperature | DomainError


class TemperatureChanged(DomainError):
    slug = "sent-otherwise"


class NotYet(DomainError):
    slug = "not-yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureSent:
    """One temperature as it came in; without a room it is the whole site's."""

    client_id: UUID
    job: UUID
    at: datetime
    celsius: float
    room: UUID | None = None
    uncertainty_k: float = 0.0
    humidity_percent: float | None = None
    source: str = "thermometer"
    source_name: str = ""


@dataclass(slots=True, kw_only=True)
class LogReport:
    """What became of a logger's file: rows counted, bad ones by line, the time that it covers."""

    added: int = 0
    duplicates: int = 0
    bad: int = 0
    problems: list[BadRow] = field(default_factory=list)
    first_at: datetime | None = None
    last_at: datetime | None = None

    @property
    def rows(self) -> int:
        return self.added + self.duplicates + self.bad

    def refuse(self, row: BadRow) -> None:
        self.bad += 1
        if len(self.problems) < REPORTED:
            self.problems.append(row)


def record_temperature(*, by: Member, sent: TemperatureSent, at: datetime) -> SiteTemperature:
    """Accept one temperature, once.

    Raises TemperatureChanged, NotYet, UnknownId, ImplausibleTemperature, ImplausibleHumidity.
    """
    (found,) = record_temperatures(by=by, sent=[sent], at=at)
    if isinstance(found, DomainError):
        raise found
    return found


def record_temperatures(
    *, by: Member, sent: Sequence[TemperatureSent], at: datetime
) -> list[Found]:
    """Accept the good ones of a batch; each bad one has its refusal instead."""
    try:
        return _record(by, sent, at)
    except IntegrityError as error:
        # Sent twice at once: the other one was first, and now answers for both.
        if violated(error) != "sitetemperature_once_per_client_id":
            raise
        return _record(by, sent, at)


def import_log(
    *,
    by: Member,
    job: Job,
    room: Room | None,
    pieces: Iterable[bytes],
    mapping: temperature_log.Mapping,
    source_name: str,
    uncertainty_k: float = 0.0,
    at: datetime,
) -> Iterator[LogReport]:
    """Take in a logger's file, in bounded memory; yields the report so far after every chunk.

    The same file again adds nothing: a row's id follows from job, room, logger and time. Raises
    LogNotReadable before anything is written.
    """
    report = LogReport()
    rows = temperature_log.rows(pieces, mapping)
    while chunk := list(islice(rows, CHUNK)):
        good: list[Row] = []
        for row in chunk:
            if isinstance(row, BadRow):
                report.refuse(row)
            elif isinstance(row, Duplicate):
                report.duplicates += 1
            elif row.at - at > CLOCK_WRONG:
                report.refuse(BadRow(row.line, f"{row.at:%Y-%m-%d %H:%M}Z is still to come."))
            else:
                good.append(row)
        if good:
            _add_rows(report, by, job, room, good, source_name, uncertainty_k, at)
        yield report
    if report.added:
        refresh_job(job.pk)
    yield report


@transaction.atomic
def _add_rows(
    report: LogReport,
    by: Member,
    job: Job,
    room: Room | None,
    rows: Sequence[Row],
    source_name: str,
    uncertainty_k: float,
    at: datetime,
) -> None:
    whose = f"{room.pk if room else ''}/{source_name}"
    named = {uuid5(job.pk, f"{whose}/{row.at.isoformat()}"): row for row in rows}
    # One file at a time in a job, so that what is seen here is still so when it is written.
    Job.objects.select_for_update(no_key=True).get(pk=job.pk)
    there = dict(
        SiteTemperature.objects.visible_to(by)
        .filter(client_id__in=list(named))
        .values_list("client_id", "celsius")
    )
    fresh: list[tuple[Any, ...]] = []
    for client_id, row in named.items():
        if client_id not in there:
            values = job.pk, room and room.pk, client_id, row.at, row.celsius, uncertainty_k
            told = row.humidity_percent, "logger", source_name, at, by.pk
            fresh.append((uuid7(), by.contractor_id, *values, *told))
        elif there[client_id] == row.celsius:
            report.duplicates += 1
        else:
            report.refuse(
                BadRow(row.line, f"Another temperature is kept for {row.at:%Y-%m-%d %H:%M}Z.")
            )
    copy(SiteTemperature, COLUMNS, fresh)
    report.added += len(fresh)
    report.first_at = min(filter(None, [report.first_at, min(row.at for row in rows)]))
    report.last_at = max(filter(None, [report.last_at, max(row.at for row in rows)]))


@transaction.atomic
def _record(by: Member, sent: Sequence[TemperatureSent], at: datetime) -> list[Found]:
    jobs = Job.objects.visible_to(by).in_bulk({one.job for one in sent})
    rooms = Room.objects.visible_to(by).in_bulk({one.room for one in sent if one.room})
    ids = [one.client_id for one in sent]
    known = {
        row.client_id: row
        for row in SiteTemperature.objects.visible_to(by).filter(client_id__in=ids)
    }
    found: list[Found] = []
    fresh = []
    for one in sent:
        try:
            if earlier := known.get(one.client_id):
                found.append(_again(earlier, one))
                continue
            row = _row(by, one, jobs, rooms, at)
        except DomainError as refused:
            found.append(refused)
            continue
        known[one.client_id] = row
        fresh.append(row)
        found.append(row)
    SiteTemperature.objects.bulk_create(fresh)
    for job_id in {row.job_id for row in fresh}:
        refresh_job(job_id)
    return found


def _row(
    by: Member,
    one: TemperatureSent,
    jobs: Mapping[Any, Job],
    rooms: Mapping[Any, Room],
    at: datetime,
) -> SiteTemperature:
    job, room = jobs.get(one.job), rooms.get(one.room)
    if job is None:
        raise UnknownId("Nothing of yours has this id. Look it up again.", pointer="#/job")
    if one.room is not None and (room is None or room.job_id != job.pk):
        raise UnknownId("No room of this job has this id.", pointer="#/room")
    if one.at - at > CLOCK_WRONG:
        raise NotYet("This time is still to come. Check the phone's clock.", pointer="#/at")
    require_plausible(one.celsius, pointer="#/celsius")
    if one.humidity_percent is not None:
        require_humidity(one.humidity_percent, pointer="#/humidity_percent")
    return SiteTemperature(
        id=uuid7(),
        contractor_id=by.contractor_id,
        job=job,
        room=room,
        client_id=one.client_id,
        at=one.at,
        celsius=one.celsius,
        uncertainty_k=one.uncertainty_k,
        humidity_percent=one.humidity_percent,
        source=one.source,
        source_name=one.source_name,
        received_at=at,
        taken_by=by,
    )


def _again(earlier: SiteTemperature, one: TemperatureSent) -> SiteTemperature:
    same = (
        earlier.job_id == one.job
        and earlier.room_id == one.room
        and earlier.at == one.at
        and earlier.celsius == one.celsius
        and earlier.source == one.source
        and earlier.source_name == one.source_name
        and earlier.uncertainty_k == one.uncertainty_k
        and earlier.humidity_percent == one.humidity_percent
    )
    if not same:
        raise TemperatureChanged(
            "This id was sent before with another temperature. Send it under a new id.",
            pointer="#/client_id",
        )
    return earlier
