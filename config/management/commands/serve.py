"""`manage.py serve`: web server, worker and beat on this machine, until Ctrl-C."""

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from config import services
from config.serving import ServingFailed, heard_to_leave, serving, stop_all


class Command(BaseCommand):
    help = "Serve on loopback with a worker and beat, until Ctrl-C."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="or the next free one")
        parser.add_argument("--stop", action="store_true", help="end all that serve from here")

    def handle(self, *, port: int, stop: bool, **options: Any) -> None:
        if stop:
            stop_all()
            return
        heard = heard_to_leave()
        try:
            with services.held():
                call_command("migrate", interactive=False, verbosity=0)
                with serving(port=port) as running:
                    if not running.url.endswith(f":{port}"):
                        self.stdout.write(f"Port {port} is taken.")
                    self.stdout.write(f"Serving on {running.url} (Ctrl-C ends)")
                    call_command("first_link", base=running.url, if_empty=True, stdout=self.stdout)
                    while not heard:
                        running.check()
                        time.sleep(0.5)
        except ServingFailed as failed:
            raise CommandError(str(failed)) from failed
        except KeyboardInterrupt:
            pass
