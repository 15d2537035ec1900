"""`manage.py backup FILE`: the whole database and all stored files, in one archive."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.files.storage import default_storage
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from config.archive import new_file
from config.backup import back_up
from config.services import ServiceFailed


class Command(BaseCommand):
    help = (
        "Write the database and all stored files into one archive, while the service goes on. "
        "It has all secrets in it: keep it where only you can read it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the archive; it must not be there yet")

    def handle(self, *, file: Path, **options: Any) -> None:
        try:
            with new_file(file) as out:
                made = back_up(connection, default_storage, out)
        except OSError as error:
            raise CommandError(f"{file} cannot be written: {error.strerror}.") from error
        except ServiceFailed as failed:
            raise CommandError(str(failed)) from failed
        self.stdout.write(f"The database and {made.files} files are in {file}.")
        self.stdout.write(f"Digest {made.digest}")
