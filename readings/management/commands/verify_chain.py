"""`manage.py verify_chain [room]`: is every check what was accepted?"""

from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from readings.actions.verify import verify


class Command(BaseCommand):
    help = "Verify the chains of checks; exit status 1 if one is broken."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("room", nargs="?", type=UUID, help="only this room")

    def handle(self, *args: Any, room: UUID | None = None, **options: Any) -> None:
        rooms = checks = broken = 0
        for state in verify(room):
            rooms += 1
            checks += state.checks
            if state.broken:
                broken += 1
                self.stdout.write(f"Room {state.room}: {state.broken.because}")
        self.stdout.write(f"{checks} checks in {rooms} rooms, {broken} chains broken.")
        if broken:
            raise CommandError("The record is not what was accepted.")
