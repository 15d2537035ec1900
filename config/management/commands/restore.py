"""`manage.py restore FILE`: the database and the stored files as they were at a backup."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.files.storage import default_storage
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, connection

from config.backup import restore
from config.errors import DomainError
from config.services import ServiceFailed


class Command(BaseCommand):
    help = "Put database and stored files back as they were. Stop web, workers and beat before."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="an archive that `backup` wrote")
        parser.add_argument("--replace", action="store_true", help="what is there now goes")

    def handle(self, *, file: Path, replace: bool, **options: Any) -> None:
        try:
            with file.open("rb") as opened:
                done = restore(connection, default_storage, opened, replace=replace)
        except DomainError as refused:
            raise CommandError(f"Nothing was changed. {refused.detail}") from refused
        except ServiceFailed as failed:
            raise CommandError(f"The database is as it was. {failed}") from failed
        except OperationalError as error:
            said = f"Somebody still uses the database; stop web, workers and beat. {error}"
            raise CommandError(said) from error
        except OSError as error:
            raise CommandError(f"{error.filename} cannot be used: {error.strerror}.") from error
        self.stdout.write(f"The database and {done.files} files are back.")
        self.stdout.write(f"Digest {done.digest}")
        self.stdout.write(
            "Now run `manage.py migrate`, which changes nothing if all is up to date."
        )
