"""`manage.py import_temperatures log.csv --member ... --job ...`: takes in a logger's file."""

from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.errors import DomainError
from jobs.models import Job, Member, Room
from readings.actions.temperatures import LogReport, import_log
from readings.temperature_log import Mapping

PIECE = 65_536


class Command(BaseCommand):
    help = "Take in the CSV file of a temperature logger."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--member", required=True, help="e-mail of who takes it in")
        parser.add_argument("--job", required=True, type=UUID)
        parser.add_argument("--room", type=UUID)
        parser.add_argument("--zone", help="of times without an offset; else the job's")
        parser.add_argument("--unit", choices=("C", "F"))
        parser.add_argument("--at-column")
        parser.add_argument("--temperature-column")
        parser.add_argument("--day-order", choices=("ymd", "dmy", "mdy"), default="ymd")
        parser.add_argument("--name", default="logger", help="of the logger")

    def handle(self, *args: Any, **options: Any) -> None:
        member = Member.objects.filter(email=options["member"]).first()
        if member is None:
            raise CommandError("There is no such member.")
        job = Job.objects.editable_by(member).filter(pk=options["job"]).first()
        room = Room.objects.visible_to(member).filter(job=job, pk=options["room"]).first()
        if job is None or (options["room"] and room is None):
            raise CommandError("There is no such job or room for that member.")
        size = options["file"].stat().st_size
        read = 0

        def pieces() -> Iterator[bytes]:
            nonlocal read
            with options["file"].open("rb") as file:
                while piece := file.read(PIECE):
                    read += len(piece)
                    yield piece

        report = LogReport()
        try:
            for report in import_log(
                by=member,
                job=job,
                room=room,
                pieces=pieces(),
                mapping=Mapping(
                    zone=options["zone"] or job.time_zone,
                    unit=options["unit"],
                    at_column=options["at_column"],
                    temperature_column=options["temperature_column"],
                    day_order=options["day_order"],
                ),
                source_name=options["name"],
                at=timezone.now(),
            ):
                self.stdout.write(f"{100 * read // max(size, 1):3d} %  {_counts(report)}")
        except DomainError as refused:
            raise CommandError(refused.detail) from refused
        for bad in report.problems:
            self.stdout.write(f"line {bad.line}: {bad.because}")


def _counts(report: LogReport) -> str:
    return f"{report.added} added, {report.duplicates} said before, {report.bad} bad"
