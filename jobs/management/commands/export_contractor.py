"""`manage.py export_contractor WHO FILE`: everything of one contractor, in one zip."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from config.archive import new_file
from jobs.actions.leaving import write_archive
from jobs.models import Contractor


class Command(BaseCommand):
    help = "Write all rows, papers and photographs of a contractor into one zip."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("who", help="the contractor's id or name")
        parser.add_argument("file", type=Path, help="the zip to write; it must not be there yet")

    def handle(self, *, who: str, file: Path, **options: Any) -> None:
        contractor = _named(who)
        try:
            with new_file(file) as out:
                written = write_archive(contractor, out, report=lambda _: None)
        except OSError as error:
            raise CommandError(f"{file} cannot be written: {error.strerror}.") from error
        self.stdout.write(
            f"{contractor.name}: {written.rows} rows and {written.files} files in {file}.\n"
            f"Digest {written.digest}"
        )
        for name in written.missing:
            self.stderr.write(f"Not found, and so not in it: {name}")


def _named(who: str) -> Contractor:
    try:
        rows = Contractor.objects.filter(pk=UUID(who))
    except ValueError:
        rows = Contractor.objects.filter(name=who)
    found = list(rows[:2])
    if len(found) != 1:
        names = ", ".join(f"{row.name} ({row.pk})" for row in Contractor.objects.order_by("name"))
        raise CommandError(f"{len(found) or 'No'} contractors of that name. There are: {names}.")
    return found[0]
