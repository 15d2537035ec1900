"""Print the energize decision for a facts file; needs no database."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.errors import DomainError
from scheduling.energize import decide
from scheduling.facts import decision_to_json, facts_from_json


class Command(BaseCommand):
    help = "Print the energize decision for a facts file as JSON."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("facts", type=Path, help="a JSON file of facts")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["facts"]
        try:
            decision = decide(facts_from_json(path.read_bytes()))
        except OSError as error:
            raise CommandError(f"{path}: {error.strerror}") from error
        except DomainError as refused:
            raise CommandError(f"{refused.pointer}: {refused.detail}") from refused
        self.stdout.write(decision_to_json(decision), ending="")
