"""Lay a room given as a file: `python manage.py lay room.json plan.json`. Needs no database."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from jobs.laying.lay import NothingToLay, lay
from jobs.laying.plan import dump_plan
from jobs.laying.problem import UnusableRoom, parse_room
from jobs.outline import checked, unit_doubt


class Command(BaseCommand):
    help = "Read a room and write a laying plan; without a plan, say why and write nothing."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("room", type=Path, help="the room, as JSON")
        parser.add_argument("plan", type=Path, help="where to write the plan")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["plan"].parent.is_dir():
            raise CommandError(f"There is no folder {options['plan'].parent} for the plan.")
        try:
            room = parse_room(json.loads(options["room"].read_text(encoding="utf-8")))
        except OSError as fault:
            raise CommandError(f"{options['room']}: {fault.strerror}.") from fault
        except (UnicodeDecodeError, json.JSONDecodeError) as fault:
            raise CommandError(f"{options['room']} is not JSON: {fault}.") from fault
        except UnusableRoom as refused:
            raise CommandError(f"{refused.pointer}: {refused.detail}") from refused
        doubt = unit_doubt(checked(room.outline))
        try:
            plan = lay(room)
        except NothingToLay as refused:
            raise CommandError(f"{refused.detail} {doubt or ''}".strip()) from refused
        options["plan"].write_text(json.dumps(dump_plan(plan)) + "\n", encoding="utf-8")
        if doubt:
            self.stderr.write(doubt)
