"""The database wrapper that starts the private server when somebody first connects."""

from typing import Any

from django.db.backends.postgresql import base

from config.services import ensure_postgres


class DatabaseWrapper(base.DatabaseWrapper):
    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        ensure_postgres()
        return super().get_new_connection(conn_params)
