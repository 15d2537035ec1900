"""The test's own database, for processes that a test starts."""

from urllib.parse import quote

from django.db import connection


def database_url() -> str:
    here = connection.settings_dict
    host = quote(here["HOST"], safe="")
    return f"postgresql://{here['USER']}@/{here['NAME']}?host={host}&port={here['PORT']}"
