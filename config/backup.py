"""Backup and restore: the whole database and all stored files, in one archive.

The archive has everything that the database has, secrets too: whoever reads it reads all.
"""

import json
import os
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from django.core.files import File
from django.core.files.storage import Storage
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from psycopg.conninfo import make_conninfo

from config.archive import PIECE_BYTES, ArchiveNotUsable, ArchiveReader, ArchiveWriter
from config.services import ServiceFailed, postgres_client
from config.tables import contractor_model, schema

FORMAT = "firstwarm-backup/1"
ABOUT, DUMP, FILES = "backup.json", "database.dump", "files/"
KEPT = "before_restore"
LOCK_SECONDS = 10


class RestoreRefused(ArchiveNotUsable):
    """What a restore would overwrite."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """What was written or restored: `digest` stands for all of it."""

    digest: str
    files: int


def back_up(connection: BaseDatabaseWrapper, storage: Storage, file: IO[bytes]) -> Backup:
    """Write database and files. The service may go on meanwhile.

    Files are stored before a row names them, so those of the dump are all there when the files
    are read after it. Raises ServiceFailed.
    """
    archive = ArchiveWriter(file)
    about = {"format": FORMAT, "schema": schema(connection)}
    with archive.member(ABOUT) as write:
        write(json.dumps(about, indent=1).encode())
    with archive.member(DUMP, squeeze=False) as write:
        dump = _command(connection, "pg_dump", "--format=custom", "--no-owner", "--no-privileges")
        with _running(connection, dump, stdout=subprocess.PIPE) as running:
            assert running.stdout is not None
            while piece := running.stdout.read(PIECE_BYTES):
                write(piece)
    files = 0
    for name in _names(storage):
        with storage.open(name) as stored:
            archive.add(f"{FILES}{name}", stored)
        files += 1
    return Backup(digest=archive.close(), files=files)


def restore(
    connection: BaseDatabaseWrapper, storage: Storage, file: IO[bytes], *, replace: bool = False
) -> Backup:
    """Put database and files back as they were; nothing else may use the database meanwhile.

    What is there is replaced only if `replace`, and only once the backup is in. Raises
    ArchiveNotUsable, RestoreRefused or ServiceFailed, and leaves the database as it was.
    """
    archive = ArchiveReader(file)
    archive.require_whole()
    _require_ours(archive, connection)
    _finish_a_killed_one(connection)
    names = [name.removeprefix(FILES) for name in archive.names if name.startswith(FILES)]
    if not replace:
        _require_empty(connection)
        _require_free(storage, names)
    with _schema_set_aside(connection):
        load = _command(connection, "pg_restore", "--single-transaction", "--no-owner")
        with _running(connection, load, stdin=subprocess.PIPE) as running:
            assert running.stdin is not None
            with archive.open(DUMP) as dump, running.stdin as into:
                while piece := dump.read(PIECE_BYTES):
                    into.write(piece)
        for name in sorted(names):
            storage.delete(name)
            with archive.open(f"{FILES}{name}") as stored:
                storage.save(name, File(stored))
    return Backup(digest=archive.digest, files=len(names))


def _require_ours(archive: ArchiveReader, connection: BaseDatabaseWrapper) -> None:
    if not {ABOUT, DUMP} <= archive.names:
        raise ArchiveNotUsable("This is no backup.")
    with archive.open(ABOUT) as file:
        about = json.load(file)
    known = MigrationLoader(connection).disk_migrations
    newer = [f"{app} {name}" for app, name in about["schema"].items() if (app, name) not in known]
    if about["format"] != FORMAT or newer:
        told = ", ".join(newer) or about["format"]
        raise ArchiveNotUsable(f"A newer version made it ({told}). Update this installation first.")


def _require_empty(connection: BaseDatabaseWrapper) -> None:
    table = contractor_model()._meta.db_table
    with connection.cursor() as cursor:
        if table not in connection.introspection.table_names(cursor):
            return
        cursor.execute(f"SELECT count(*), min(name) FROM {table}")
        count, name = cursor.fetchone()
    if count:
        more = f" and {count - 1} more" if count > 1 else ""
        raise RestoreRefused(
            f"The database has {name}{more} in it. Restore into an empty one, or say --replace."
        )


def _require_free(storage: Storage, names: list[str]) -> None:
    if taken := [name for name in names if storage.exists(name)]:
        raise RestoreRefused(
            f"{len(taken)} files lie there already, such as {taken[0]}. "
            "Restore into an empty folder, or say --replace."
        )


@contextmanager
def _schema_set_aside(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """An empty schema for the block; what was there comes back if it fails, and goes if not."""
    with connection.cursor() as cursor:
        cursor.execute(f"SET lock_timeout = '{LOCK_SECONDS}s'")
        cursor.execute(
            f"ALTER SCHEMA public RENAME TO {KEPT};"
            "CREATE SCHEMA public AUTHORIZATION pg_database_owner;"
            "GRANT USAGE ON SCHEMA public TO PUBLIC"
        )
        _move_extensions(cursor, KEPT, "public")
        try:
            yield
        except BaseException:
            _bring_back(cursor)
            raise
        cursor.execute(f"DROP SCHEMA {KEPT} CASCADE")


def _finish_a_killed_one(connection: BaseDatabaseWrapper) -> None:
    """Have one schema again after a restore that was killed on the way.

    Its tables come in one transaction: if there are none, what was set aside is what counts.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_namespace WHERE nspname = %s", [KEPT])
        if cursor.fetchone():
            if connection.introspection.table_names(cursor):
                cursor.execute(f"DROP SCHEMA {KEPT} CASCADE")
            else:
                _bring_back(cursor)


def _bring_back(cursor: Any) -> None:
    _move_extensions(cursor, "public", KEPT)
    cursor.execute(f"DROP SCHEMA public CASCADE; ALTER SCHEMA {KEPT} RENAME TO public")


def _move_extensions(cursor: Any, source: str, target: str) -> None:
    """Extensions are there once in a database, and both schemas lean on them by their schema."""
    cursor.execute(
        "SELECT extname FROM pg_extension JOIN pg_namespace n ON n.oid = extnamespace "
        "WHERE n.nspname = %s",
        [source],
    )
    for (name,) in cursor.fetchall():
        cursor.execute(f'ALTER EXTENSION "{name}" SET SCHEMA {target}')


def _command(connection: BaseDatabaseWrapper, program: str, *options: str) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version_num")
        server = int(cursor.fetchone()[0]) // 10_000
    return [postgres_client(program, server=server), *options, "--dbname", _address(connection)]


def _address(connection: BaseDatabaseWrapper) -> str:
    """The database for its programs; the password goes by the environment."""
    given = connection.settings_dict
    named = {
        "dbname": given["NAME"],
        "user": given["USER"],
        "host": given["HOST"],
        "port": given["PORT"],
        **given["OPTIONS"],
    }
    return make_conninfo(**{name: value for name, value in named.items() if value})


@contextmanager
def _running(
    connection: BaseDatabaseWrapper, command: list[str], **pipe: int
) -> Iterator[subprocess.Popen[bytes]]:
    """Run a program of the database's; raises ServiceFailed with its last words if it fails."""
    password = connection.settings_dict["PASSWORD"]
    environment = {**os.environ, **({"PGPASSWORD": password} if password else {})}
    with tempfile.TemporaryFile() as words:
        with (
            subprocess.Popen(command, stderr=words, env=environment, **pipe) as running,  # type: ignore[call-overload]
            suppress(BrokenPipeError),  # it has ended: its words say why
        ):
            yield running
        if running.returncode != 0:
            words.seek(0)
            told = "\n".join(words.read().decode("utf-8", "replace").splitlines()[-10:])
            raise ServiceFailed(f"{Path(command[0]).name} failed:\n{told}")


def _names(storage: Storage, folder: str = "") -> Iterator[str]:
    """The names of all stored files."""
    folders, files = storage.listdir(folder) if storage.exists(folder) else ([], [])
    yield from sorted(f"{folder}{name}" for name in files)
    for name in sorted(folders):
        yield from _names(storage, f"{folder}{name}/")
