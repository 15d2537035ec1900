"""`manage.py services`: the private PostgreSQL and Redis of this checkout, by hand."""

import os
import subprocess
import sys
from argparse import REMAINDER, ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from config import services


class Command(BaseCommand):
    help = "Start, stop or look at the private PostgreSQL and Redis; or hold them for a command."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        verbs = parser.add_subparsers(dest="verb", required=True)
        verbs.add_parser("start", help="have both running, until stopped")
        verbs.add_parser("stop", help="stop those of this checkout")
        verbs.add_parser("status", help="tell what is used and whether it runs")
        run = verbs.add_parser("run", help="have both running while a command runs")
        run.add_argument("command", nargs=REMAINDER, help="the command and its arguments")

    def handle(self, *, verb: str, **options: Any) -> None:
        if verb == "run":
            with services.held():
                # The command chooses its settings by itself.
                kept = {k: v for k, v in os.environ.items() if k != "DJANGO_SETTINGS_MODULE"}
                sys.exit(subprocess.run(options["command"], env=kept, check=False).returncode)
        if verb == "start":
            services.ensure_postgres()
            services.ensure_redis()
        if verb == "stop":
            services.stop_all()
        for name, word in services.status().items():
            self.stdout.write(f"{name}: {word}")
