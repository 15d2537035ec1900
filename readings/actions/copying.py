"""Many new rows at once, by PostgreSQL's COPY: constraints and triggers hold as for any insert."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connection, models


def copy(model: type[models.Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Insert `rows`, each with the values of the fields `names` in that order; JSON as text.

    Raises IntegrityError as an insert would; see `config.tenancy.violated`.
    """
    quote = connection.ops.quote_name
    fields = {field.name: str(field.column) for field in model._meta.concrete_fields}
    columns = ", ".join(quote(fields[name]) for name in names)
    statement = f"COPY {quote(model._meta.db_table)} ({columns}) FROM STDIN"
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(statement) as into,
    ):
        for row in rows:
            into.write_row(row)
