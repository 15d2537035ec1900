"""`manage.py demo`: one invented job, played over the API from survey to certificate."""

import sys
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config import services
from config.serving import CHECKOUT, ServingFailed, heard_to_leave, serving
from jobs.models import Contractor, Member
from scheduling.demo import scenario
from scheduling.demo.client import StoryBroke
from scheduling.demo.play import play

LOGS = CHECKOUT / "var" / "demo"


class Command(BaseCommand):
    help = "Play one whole job over the API, then serve it until Ctrl-C."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="or the next free one")
        parser.add_argument("--no-serve", action="store_true", help="end after the story")

    def handle(self, *, port: int, no_serve: bool, **options: Any) -> None:
        self.heard = heard_to_leave()
        try:
            with services.held():
                call_command("migrate", interactive=False, verbosity=0)
                people()
                with serving(port=port, logs=LOGS) as running:
                    play(url=running.url, now=timezone.now(), folder=LOGS, tell=self._tell)
                    self._tell("")
                    self._tell(f"Serving on {running.url}")
                    for member in scenario.MEMBERS:
                        self._tell(f"    {member['email']}  ({member['role']})")
                    self._tell(f"    password of all: {scenario.PASSWORD}")
                    if no_serve:
                        return
                    self._tell("Ctrl-C ends it.")
                    while not self.heard:
                        running.check()
                        time.sleep(0.5)
        except (ServingFailed, StoryBroke) as failed:
            raise CommandError(f"{failed}\nThe logs are in var/demo/.") from failed
        except KeyboardInterrupt:
            self._tell("")

    def _tell(self, line: str) -> None:
        """Say a line of the story; between two of them it can be left."""
        if self.heard:
            sys.exit(1)
        self.stdout.write(line)
        self.stdout.flush()


def people() -> None:
    """The demo's contractor and its members; there already on a second run."""
    contractor, _ = Contractor.objects.get_or_create(
        name=scenario.CONTRACTOR["name"], defaults=scenario.CONTRACTOR
    )
    for member in scenario.MEMBERS:
        if not Member.objects.filter(email=member["email"]).exists():
            Member.objects.create_member(
                contractor=contractor, password=scenario.PASSWORD, **member
            )
