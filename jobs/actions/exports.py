"""Exports: asked for by the office, made by a worker into one file, gone after a week."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO
from uuid import UUID

from django.conf import settings
from django.core.files import File
from django.db import transaction

from config.celery import wake
from config.errors import DomainError
from config.tenancy import told
from jobs.actions.leaving import write_archive
from jobs.models import Export, Member

MAKE = "jobs.tasks.make_export"
Clock = Callable[[], datetime]


class ExportUnderWay(DomainError):
    slug = "export-under-way"


class ExportNotMade(DomainError):
    slug = "export-not-made"


@transaction.atomic
def ask_for_export(*, by: Member, at: datetime) -> Export:
    """Have everything of the contractor put into one file; raises ExportUnderWay."""
    refusal = ExportUnderWay("One is being made already. Wait until it is there.")
    with told({"export_one_at_a_time": refusal}):
        row = Export.objects.create(contractor_id=by.contractor_id, asked_at=at, asked_by=by)
    wake(MAKE, row.pk)
    return row


def make_export(*, export_id: UUID, clock: Clock) -> bool:
    """Make the file of an export that waits for one; False if there was nothing to do.

    May run late, twice, or be killed: the claim is renewed while it works, and only one file is
    ever taken. A disk that is full is told.
    """
    if not Export.objects.claim(export_id, at=clock()):
        return False
    row = Export.objects.select_related("contractor").get(pk=export_id)

    def report(progress: dict[str, int]) -> None:
        Export.objects.filter(pk=export_id).update(progress=progress, claimed_at=clock())

    try:
        Path(settings.MEDIA_ROOT).mkdir(parents=True, exist_ok=True)
        # Beside the stored files: a folder for temporary ones may lie in memory.
        with TemporaryFile(dir=settings.MEDIA_ROOT) as file:
            written = write_archive(row.contractor, file, report=report)
            size = file.tell()
            name = _stored(row, file)
    except OSError as error:
        Export.objects.open().filter(pk=export_id).update(
            failed_at=clock(), failure=f"{type(error).__name__}: {error}"[:200]
        )
        return False
    at = clock()
    taken = (
        Export.objects.open()
        .filter(pk=export_id)
        .update(
            made_at=at,
            expires_at=at + Export.KEPT_FOR,
            file=name,
            size_bytes=size,
            digest=written.digest,
            missing_files=list(written.missing),
        )
    )
    if not taken:  # our claim ran out, and another worker was quicker
        row.file.storage.delete(name)
    return bool(taken)


def file_of(export: Export) -> IO[bytes]:
    """The file of an export; raises ExportNotMade with what to do."""
    if export.state == "made" and export.file.name and export.file.storage.exists(export.file.name):
        return export.file.open()
    if export.state in ("made", "expired"):
        raise ExportNotMade("It was kept for a week and is gone. Ask for another one.")
    raise ExportNotMade("It is not made yet. Look again in a while.")


def remove_expired(*, at: datetime) -> int:
    """Delete the files that have lain for long enough; returns how many."""
    rows = list(Export.objects.expired(at=at).order_by("pk"))
    for row in rows:
        row.file.delete(save=False)
        Export.objects.filter(pk=row.pk).update(file="")
    return len(rows)


def _stored(row: Export, file: IO[bytes]) -> str:
    file.seek(0)
    field = Export._meta.get_field("file")
    name = field.generate_filename(row, f"{row.pk}.zip")
    return field.storage.save(name, File(file))
