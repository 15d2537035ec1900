"""Derive stored energize decisions again from their stored facts, and tell what differs."""

from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from config.errors import DomainError
from scheduling.actions.decisions import rederive
from scheduling.models import Decision


class Command(BaseCommand):
    help = "Derive stored decisions again; exit status 1 if one would be different now."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("decisions", nargs="*", type=UUID, help="ids; all if left out")
        parser.add_argument("--room", type=UUID, help="only decisions of this room")

    def handle(self, *args: Any, **options: Any) -> None:
        rows = Decision.objects.order_by("pk")
        if options["decisions"]:
            rows = rows.filter(pk__in=options["decisions"])
        if options["room"]:
            rows = rows.filter(room=options["room"])
        looked_at = different = 0
        for decision in rows.iterator(chunk_size=100):
            looked_at += 1
            if said := _difference(decision):
                different += 1
                self.stdout.write(f"{decision.pk} room {decision.room_id}: {said}")
        self.stdout.write(f"{looked_at} derived again, {different} different.")
        if different:
            raise CommandError(f"{different} of {looked_at} would be different now.")


def _difference(decision: Decision) -> str:
    try:
        found = rederive(decision)
    except DomainError as refused:
        return f"its facts are refused now: {refused.pointer} {refused.detail}"
    said = [f"different in {', '.join(found.differences)}"] if found.differences else []
    if not found.facts_untouched:
        said.append("its facts do not match their digest")
    return "; ".join(said)
