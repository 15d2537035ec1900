"""Leaving: everything of a contractor in one archive, and out of it into another installation.

`tables/` has the rows as JSON lines, `files/` the papers and photographs, `export.json` what it is.
Private links, devices' tokens, passwords and other secrets stay behind: they open this
installation only (`travels` and `stays_behind` of each model).
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import file_digest, sha256
from typing import IO, Any
from uuid import UUID

from django.core.exceptions import SuspiciousFileOperation
from django.core.files import File
from django.db import connection, transaction

from config.archive import ArchiveNotUsable, ArchiveReader, ArchiveWriter
from config.tables import Table, blobs, file_names, lines, schema, tables, take_in
from jobs.models import Contractor

FORMAT = "firstwarm-export/1"
ABOUT = "export.json"
ROWS_A_REPORT = 5_000

Report = Callable[[dict[str, int]], None]
Judge = Callable[[Contractor, dict[str, str]], None]


class ContractorAlreadyThere(ArchiveNotUsable):
    """The contractor of an archive has rows here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What was written: `digest` stands for all of it; `missing` are files that were not found."""

    digest: str
    rows: int
    files: int
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What came in."""

    contractor: Contractor
    digest: str
    rows: int
    files: int


def write_archive(contractor: Contractor, file: IO[bytes], *, report: Report) -> Written:
    """Write all of a contractor, as it was at one instant; `report` is told how far it is.

    Memory does not grow with the rows. Rows are read through a connection of their own, so that
    what `report` writes is seen at once.
    """
    archive = ArchiveWriter(file)
    reader = connection.copy()
    try:
        with reader.cursor() as cursor:
            cursor.execute("BEGIN TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            written = _Writing(archive, cursor, contractor.pk, report)
            for table in written.tables:
                written.put(table)
            written.tell_about(contractor)
    finally:
        reader.close()
    return Written(
        digest=archive.close(),
        rows=sum(written.rows.values()),
        files=written.files,
        missing=tuple(written.missing),
    )


class _Writing:
    """The archive while it is written, and what went into it so far."""

    def __init__(
        self, archive: ArchiveWriter, cursor: Any, contractor_id: UUID, report: Report
    ) -> None:
        self.archive, self.cursor, self.contractor_id = archive, cursor, contractor_id
        self.report = report
        self.tables = tables()
        self.rows: dict[str, int] = {}
        self.files = 0
        self.missing: list[str] = []

    def put(self, table: Table) -> None:
        count = 0
        with self.archive.member(_lines_of(table)) as write:
            for line in lines(self.cursor, table, self.contractor_id):
                write(f"{line}\n".encode())
                count += 1
                if count % ROWS_A_REPORT == 0:
                    self._report(count)
        self.rows[table.name] = count
        for column in table.blobs:
            for row_id, content in blobs(self.cursor, table, column, self.contractor_id):
                name = _blob_name(table, row_id, column)
                with self.archive.member(name, squeeze=False) as write:
                    write(content)
                self._count_file()
        for field in table.files:
            for name in file_names(self.cursor, table, field.column, self.contractor_id):
                self._put_file(field.storage, name)
        self._report()

    def tell_about(self, contractor: Contractor) -> None:
        about = {
            "format": FORMAT,
            "contractor": str(contractor.pk),
            "name": contractor.name,
            "schema": schema(connection),
            "rows": self.rows,
            "missing_files": self.missing,
        }
        with self.archive.member(ABOUT) as write:
            write(json.dumps(about, indent=1, ensure_ascii=False).encode())

    def _put_file(self, storage: Any, name: str) -> None:
        try:
            with storage.open(name) as file:
                self.archive.add(_stored_name(name), file)
        except FileNotFoundError:
            self.missing.append(name)
        else:
            self._count_file()

    def _count_file(self) -> None:
        self.files += 1
        if self.files % 100 == 0:
            self._report()

    def _report(self, more_rows: int = 0) -> None:
        rows = sum(self.rows.values()) + more_rows
        step = len(self.rows)
        self.report({"step": step, "of": len(self.tables), "rows": rows, "files": self.files})


@transaction.atomic
def read_archive(file: IO[bytes], *, judge: Judge) -> TakenIn:
    """Take a contractor in, with the same ids; nothing is stored if anything is wrong.

    `judge` sees the contractor's rows, and the digest of each stored file by its name, before the
    files are stored; what it raises refuses the whole.

    Raises ArchiveNotUsable with what is wrong: changed, missing or surplus members, another
    schema, rows that do not come out again as they went in, a contractor who is here already.
    """
    archive = ArchiveReader(file)
    archive.require_whole()
    contractor_id, missing = _about(archive)
    if there := Contractor.objects.filter(pk=contractor_id).first():
        raise ContractorAlreadyThere(f"{there.name} is here already; nothing was changed.")
    with connection.cursor() as cursor:
        reading = _Reading(archive, cursor, contractor_id, missing=missing)
        rows = sum(reading.take(table) for table in tables())
    contractor = Contractor.objects.get(pk=contractor_id)
    reading.require_no_surplus()
    judge(contractor, reading.digests_of_files())
    reading.store_files()
    return TakenIn(
        contractor=contractor,
        digest=archive.digest,
        rows=rows,
        files=reading.files,
    )


class _Reading:
    """An archive while it is taken in."""

    def __init__(
        self, archive: ArchiveReader, cursor: Any, contractor_id: UUID, *, missing: list[str]
    ) -> None:
        self.archive, self.cursor, self.contractor_id = archive, cursor, contractor_id
        self.missing = frozenset(missing)
        self.files = 0
        self.expected = {ABOUT}
        self.to_store: list[tuple[Any, str]] = []

    def take(self, table: Table) -> int:
        """Store a table's rows and see that they come out again as they came."""
        member = _lines_of(table)
        self.expected.add(member)
        if member not in self.archive.names:
            raise ArchiveNotUsable(f"{member} is missing.")
        with self.archive.open(member) as file:
            given = (line.decode().rstrip("\n") for line in file)
            count = take_in(
                self.cursor, table, self.contractor_id, given, lambda *at: self._blob(table, *at)
            )
        digest = sha256()
        for line in lines(self.cursor, table, self.contractor_id):
            digest.update(f"{line}\n".encode())
        if digest.hexdigest() != self.archive.digests[member]:
            raise ArchiveNotUsable(f"{member} does not come out again as it came in.")
        for field in table.files:
            names = file_names(self.cursor, table, field.column, self.contractor_id)
            self.to_store += [(field.storage, name) for name in names]
        return count

    def require_no_surplus(self) -> None:
        """Raise ArchiveNotUsable if a member is nothing that a row names."""
        named = {_stored_name(name) for _, name in self.to_store if name not in self.missing}
        if surplus := sorted(self.archive.names - self.expected - named):
            raise ArchiveNotUsable(f"No row names {', '.join(surplus[:3])}.")

    def digests_of_files(self) -> dict[str, str]:
        names = [name for _, name in self.to_store if _stored_name(name) in self.archive.names]
        return {name: self.archive.digests[_stored_name(name)] for name in names}

    def store_files(self) -> None:
        """Store the files that rows name; last, since a transaction does not undo them."""
        stored: list[tuple[Any, str]] = []
        try:
            for storage, name in self.to_store:
                if self._store(storage, name):
                    stored.append((storage, name))
        except BaseException:
            for storage, name in stored:
                storage.delete(name)
            raise

    def _blob(self, table: Table, row_id: str, column: str) -> bytes | None:
        name = _blob_name(table, row_id, column)
        if name not in self.archive.names:
            return None
        self.expected.add(name)
        self.files += 1
        with self.archive.open(name) as file:
            return file.read()

    def _store(self, storage: Any, name: str) -> bool:
        """Store one file; False if it needs no storing. One that is here is never overwritten."""
        member = _stored_name(name)
        try:
            there = storage.exists(name)
        except SuspiciousFileOperation as error:
            raise ArchiveNotUsable(f"A row names {name!r}, which is no stored file.") from error
        if name in self.missing and not there:
            return False
        if member not in self.archive.names:
            raise ArchiveNotUsable(f"{member} is missing, which a row names.")
        self.files += 1
        if there:
            if _digest_of(storage, name) != self.archive.digests[member]:
                raise ArchiveNotUsable(f"Another file lies at {name} already.")
            return False
        with self.archive.open(member) as file:
            storage.save(name, File(file))
        return True


def _about(archive: ArchiveReader) -> tuple[UUID, list[str]]:
    """Whose rows an archive has, and the files that were missing when it was made.

    Raises ArchiveNotUsable if it is no export, or one of another version.
    """
    if ABOUT not in archive.names:
        raise ArchiveNotUsable(f"{ABOUT} is missing: this is no export.")
    try:
        with archive.open(ABOUT) as file:
            about = json.load(file)
        made_by, said = about["format"], dict(about["schema"])
        whose, missing = UUID(about["contractor"]), [str(name) for name in about["missing_files"]]
    except (ValueError, KeyError, TypeError) as error:
        raise ArchiveNotUsable(f"{ABOUT} does not say what it should: {error!r}.") from error
    if made_by != FORMAT:
        raise ArchiveNotUsable(f"{ABOUT} says {made_by!r}; read here is {FORMAT!r}.")
    if said != (here := schema(connection)):
        raise ArchiveNotUsable(
            f"It was made at {_versions(said)}; this installation is at {_versions(here)}. "
            "Bring both to the same version first."
        )
    return whose, missing


def _versions(of: dict[str, str]) -> str:
    return ", ".join(f"{app} {name}" for app, name in sorted(of.items()))


def _lines_of(table: Table) -> str:
    return f"tables/{table.name}.jsonl"


def _blob_name(table: Table, row_id: str, column: str) -> str:
    return f"files/{table.name}/{row_id}.{column}"


def _stored_name(name: str) -> str:
    return f"files/{name}"


def _digest_of(storage: Any, name: str) -> str:
    with storage.open(name) as file:
        return file_digest(file, "sha256").hexdigest()
