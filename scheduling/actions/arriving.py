"""Arriving: a contractor is taken in from an archive, and its record is held against itself."""

from collections.abc import Iterator
from typing import IO

from config.archive import ArchiveNotUsable
from jobs.actions.leaving import TakenIn, read_archive
from jobs.models import Contractor
from readings.actions.verify import verify
from scheduling.facts import digest_of
from scheduling.models import Certificate

MOST_TOLD = 10


def take_in(file: IO[bytes], *, accept_broken: bool = False) -> tuple[TakenIn, list[str]]:
    """Take a contractor in; returns what came, and what of its record is not what was accepted.

    Raises ArchiveNotUsable, and stores nothing, if the archive is wrong; or if the record in it is
    and that is not accepted.
    """
    broken: list[str] = []

    def judge(contractor: Contractor, digests: dict[str, str]) -> None:
        broken.extend(_broken(contractor, digests))
        if broken and not accept_broken:
            told = " ".join(broken[:MOST_TOLD])
            raise ArchiveNotUsable(f"The record in it is broken. {told}")

    return read_archive(file, judge=judge), broken


def _broken(contractor: Contractor, digests: dict[str, str]) -> Iterator[str]:
    for state in verify(contractor_id=contractor.pk):
        if state.broken:
            yield f"Room {state.room}: {state.broken.because}"
    certificates = Certificate.objects.filter(contractor=contractor).order_by("pk")
    for row in certificates.iterator(chunk_size=100):
        if digest_of(row.data) != row.data_digest:
            yield f"Certificate {row.number}: its data is not what was issued."
        if digests.get(row.pdf.name or "", row.pdf_digest) != row.pdf_digest:
            yield f"Certificate {row.number}: its PDF is not what was made."
