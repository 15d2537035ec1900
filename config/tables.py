"""The tables of one contractor as JSON lines, out of the database and into another.

What goes with a contractor follows from the models: every `TenantModel` that `travels`, the
contractor, its members, and who is in which group. PostgreSQL writes and reads the lines, so that
each value comes back as it was; rows stream, so that memory does not grow with them.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from graphlib import TopologicalSorter
from typing import Any
from uuid import UUID

from django.apps import apps
from django.contrib.auth import get_user_model
from django.db import DataError, IntegrityError, models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader

from config.archive import ArchiveNotUsable
from config.tenancy import TenantModel


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table of a contractor: what of it goes, and how its rows are found."""

    model: type[models.Model]

    @property
    def name(self) -> str:
        return self.model._meta.label_lower

    @property
    def in_database(self) -> str:
        return self.model._meta.db_table

    @cached_property
    def held(self) -> Mapping[str, Any]:
        """Columns that stay behind, and what stands in them on arrival."""
        behind: Mapping[str, Any] = getattr(self.model, "stays_behind", {})
        return {
            field.column: behind[field.name]
            for field in self._fields(models.Field)
            if field.name in behind
        }

    @cached_property
    def columns(self) -> list[str]:
        """Columns that go as JSON; a number that only counts rows of one database does not."""
        return [
            field.column
            for field in self._fields(models.Field)
            if field.column not in self.held
            and not isinstance(field, models.BinaryField | models.AutoField)
        ]

    @cached_property
    def blobs(self) -> list[str]:
        """Columns whose bytes go as files of their own."""
        return [field.column for field in self._fields(models.BinaryField)]

    @cached_property
    def files(self) -> list[Any]:
        """Fields that name a stored file."""
        return self._fields(models.FileField)

    @cached_property
    def references(self) -> list[Any]:
        return self._fields(models.ForeignKey)

    @cached_property
    def owned(self) -> str:
        """The SQL condition on a row `r` of being the contractor's, `%(contractor)s`."""
        if self.model is contractor_model():
            return "r.id = %(contractor)s"
        if "contractor_id" in self.columns:
            return "r.contractor_id = %(contractor)s"
        # Who is in which group: both ends are the contractor's.
        return " AND ".join(
            f"r.{field.column} IN (SELECT id FROM {field.related_model._meta.db_table} "
            "WHERE contractor_id = %(contractor)s)"
            for field in self.references
        )

    @cached_property
    def order(self) -> str:
        key = ["id"] if "id" in self.columns else [field.column for field in self.references]
        return ", ".join(f"r.{column}" for column in key)

    def _fields(self, kind: type[Any]) -> list[Any]:
        return [field for field in self.model._meta.concrete_fields if isinstance(field, kind)]


def contractor_model() -> type[models.Model]:
    return apps.get_model("jobs", "Contractor")


def tables() -> list[Table]:
    """Every table that goes with a contractor, each after those that it refers to."""
    going = {model: Table(model=model) for model in sorted(_models(), key=_label)}
    graph = {
        table: [
            going[field.related_model]
            for field in table.references
            if field.related_model in going and field.related_model is not model
        ]
        for model, table in going.items()
    }
    return list(TopologicalSorter(graph).static_order())


def schema(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The newest migration of each app with such tables: rows of one schema fit no other."""
    labels = {table.model._meta.app_label for table in tables()}
    newest = MigrationLoader(connection).graph.leaf_nodes()
    return {app: name for app, name in sorted(newest) if app in labels}


def lines(cursor: Any, table: Table, contractor_id: UUID) -> Iterator[str]:
    """The contractor's rows of a table, each as one line of JSON."""
    columns = ", ".join(f"r.{column}" for column in table.columns)
    asked = f"SELECT row_to_json(t) FROM ({_rows(table, columns)}) t"
    yield from _first(cursor, asked, contractor_id)


def blobs(
    cursor: Any, table: Table, column: str, contractor_id: UUID
) -> Iterator[tuple[str, bytes]]:
    """The id and the bytes of each row that has some in that column."""
    asked = _rows(table, f"r.id::text, encode(r.{column}, 'hex')", f"r.{column} IS NOT NULL")
    for row_id, content in _copied(cursor, asked, contractor_id):
        yield row_id, bytes.fromhex(content)


def file_names(cursor: Any, table: Table, column: str, contractor_id: UUID) -> Iterator[str]:
    """The names of the stored files of a column."""
    yield from _first(cursor, _rows(table, f"r.{column}", f"r.{column} <> ''"), contractor_id)


def take_in(
    cursor: Any,
    table: Table,
    contractor_id: UUID,
    given: Iterable[str],
    blob: Callable[[str, str], bytes | None],
) -> int:
    """Store lines of a table; returns how many. `blob(id, column)` is the bytes of a column.

    One statement stores them all, so that rows may refer to each other in any order. Raises
    ArchiveNotUsable if the database refuses them, or if one is another contractor's.
    """
    count = 0
    try:
        cursor.execute("CREATE TEMPORARY TABLE IF NOT EXISTS arriving (line json) ON COMMIT DROP")
        cursor.execute("TRUNCATE arriving")
        with cursor.db.wrap_database_errors, cursor.copy("COPY arriving FROM STDIN") as copy:
            for line in given:
                copy.write_row([_with_blobs(line, table, blob)])
                count += 1
        cursor.execute(*_stored(table, contractor_id))
    except (DataError, IntegrityError) as error:
        said = " ".join(str(error).split())
        raise ArchiveNotUsable(f"The rows of {table.name} cannot be stored: {said}") from error
    if cursor.rowcount != count:
        raise ArchiveNotUsable(f"{table.name} has rows of another contractor.")
    return count


def _models() -> Iterator[type[models.Model]]:
    yield contractor_model()
    yield get_user_model()
    for model in apps.get_models():
        if issubclass(model, TenantModel) and model.travels:
            yield model
            for group in model._meta.local_many_to_many:
                if (through := group.remote_field.through) is not None:
                    yield through


def _label(model: type[models.Model]) -> str:
    return model._meta.label_lower


def _rows(table: Table, columns: str, condition: str = "true") -> str:
    return (
        f"SELECT {columns} FROM {table.in_database} r "
        f"WHERE {table.owned} AND {condition} ORDER BY {table.order}"
    )


def _copied(cursor: Any, asked: str, contractor_id: UUID) -> Iterator[tuple[str, ...]]:
    with cursor.copy(f"COPY ({asked}) TO STDOUT", {"contractor": contractor_id}) as copy:
        yield from copy.rows()


def _first(cursor: Any, asked: str, contractor_id: UUID) -> Iterator[str]:
    return (row[0] for row in _copied(cursor, asked, contractor_id))


def _stored(table: Table, contractor_id: UUID) -> tuple[str, dict[str, Any]]:
    held = {f"held_{column}": value for column, value in table.held.items()}
    into = [*table.columns, *table.blobs, *table.held]
    values = [f"r.{column}" for column in (*table.columns, *table.blobs)]
    values += [f"%({name})s" for name in held]
    return (
        f"INSERT INTO {table.in_database} ({', '.join(into)}) SELECT {', '.join(values)} "
        f"FROM arriving, json_populate_record(NULL::{table.in_database}, line) r "
        f"WHERE {table.owned}",
        {"contractor": contractor_id, **held},
    )


def _with_blobs(line: str, table: Table, blob: Callable[[str, str], bytes | None]) -> str:
    """The line with the bytes of its columns in it, as PostgreSQL writes them in JSON."""
    if not table.blobs:
        return line
    row = json.loads(line)
    for column in table.blobs:
        content = blob(row["id"], column)
        row[column] = None if content is None else f"\\x{content.hex()}"
    return json.dumps(row)
