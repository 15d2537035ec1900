"""`manage.py first_link`: the address at which an empty installation is set up in a browser."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from jobs.actions.links import first_secret
from jobs.actions.members import is_set_up


class Command(BaseCommand):
    help = "Print the address at which an empty installation is set up; it opens for two days."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--base", default=settings.PUBLIC_URL, help="what addresses begin with")
        parser.add_argument(
            "--if-empty", action="store_true", help="say nothing where a company is set up"
        )

    def handle(self, *, base: str, if_empty: bool, **options: Any) -> None:
        if not is_set_up():
            url = base.rstrip("/") + reverse("first", args=[first_secret()])
            self.stdout.write(f"Set up your company within two days: {url}")
        elif not if_empty:
            raise CommandError("A company is set up already. Its office asks others in.")
