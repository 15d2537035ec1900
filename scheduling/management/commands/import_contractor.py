"""`manage.py import_contractor FILE`: take in a contractor who left another installation."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.errors import DomainError
from scheduling.actions.arriving import take_in


class Command(BaseCommand):
    help = (
        "Take in a contractor from the zip of `export_contractor`, with the same ids. "
        "Nothing is stored if anything in it is wrong."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the zip")
        parser.add_argument(
            "--accept-broken",
            action="store_true",
            help="take it in although its checks or certificates are not what was accepted; "
            "they stay as they are, and stay visible as broken",
        )

    def handle(self, *, file: Path, accept_broken: bool, **options: Any) -> None:
        try:
            with file.open("rb") as opened:
                came, broken = take_in(opened, accept_broken=accept_broken)
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from error
        except DomainError as refused:
            raise CommandError(f"Nothing was stored. {refused.detail}") from refused
        for said in broken:
            self.stderr.write(said)
        self.stdout.write(
            f"{came.contractor.name}: {came.rows} rows and {came.files} files taken in.\n"
            f"Digest {came.digest}\n"
            "Private links and devices' tokens did not come along; members set a new password by "
            "the link that the log-in page sends, or with `manage.py changepassword`."
        )
