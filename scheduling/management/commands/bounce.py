"""`manage.py bounce < mail`: take in mail that came back, from a mail server's pipe."""

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from scheduling import bounce
from scheduling.actions.notices import not_delivered


class Command(BaseCommand):
    help = (
        "Read one mail from standard input. If it is the bounce of a notice, the office is told. "
        "Let the mail server pipe what comes to DEFAULT_FROM_EMAIL into this."
    )
    requires_system_checks = ()

    def handle(self, **options: Any) -> None:
        found = bounce.read(sys.stdin.buffer.read())
        if found and not_delivered(
            notice_id=found.notice, because=found.because, at=timezone.now()
        ):
            self.stdout.write(f"Notice {found.notice} did not arrive: {found.because}")
        else:
            self.stdout.write("This is no bounce of a notice that waits for an answer.")
