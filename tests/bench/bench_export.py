"""Leaving: how long everything of 100, 1 000 and 10 000 jobs takes, and whether memory grows.

Each job has a room with four checks, 200 temperatures, a decision with its facts, and a
certificate with its PDF; they are copies of one that was worked out.
"""

import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from config.services import CHECKOUT
from tests.bench.server import database, row
from tests.database import database_url

JOBS = 100, 1_000, 10_000
TEMPERATURES = 200
AT_ONCE = 500
GOAL_SECONDS = 300
GROWTH_MOST = 1.2  # of the memory of a tenth and of a hundredth of the jobs
COPIED = (
    "jobs.customer", "jobs.job", "jobs.room", "jobs.element", "jobs.floorsensor", "jobs.control",
    "jobs.layingplan", "readings.check", "readings.reading", "readings.sitetemperature",
    "scheduling.layer", "scheduling.decision", "scheduling.energizing", "scheduling.warmupstep",
    "scheduling.signoff", "scheduling.certificate",
)  # fmt: skip


def main() -> list[str]:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FILES_DIR"] = f"{folder}/files"
        with database():
            return [
                "| what | measured | goal | met |",
                "| --- | --- | --- | --- |",
                *measured(Path(folder)),
            ]


def measured(folder: Path) -> list[str]:
    first, lines, memory = template(), [], []
    there = 1
    for jobs in JOBS:
        copies(first, there, jobs)
        there = jobs
        file = folder / f"{jobs}.zip"
        seconds, peak_mb = exported(first.contractor_id, file)
        memory.append(peak_mb)
        lines.append(
            row(
                f"export of {jobs} jobs",
                f"{seconds:.0f} s, {file.stat().st_size / 1e6:.0f} MB; peak {peak_mb:.0f} MB",
                f"10 000 in {GOAL_SECONDS} s, flat",
                met=seconds <= GOAL_SECONDS and peak_mb <= GROWTH_MOST * memory[0],
            )
        )
        file.unlink()
    return lines


def template() -> Any:
    """One finished job with its certificate; returns the job."""
    from datetime import timedelta
    from uuid import uuid4

    from readings.models import SiteTemperature
    from scheduling.actions.certificates import issue_certificate
    from scheduling.actions.papers import make_pdf
    from tests.factories import NOW, MemberFactory
    from tests.scheduling.finished import Finished

    olive, at = MemberFactory(), NOW.replace(year=2026)
    site = Finished(olive, at)
    issued = issue_certificate(by=olive, job=site.job, at=at)
    make_pdf(certificate_id=issued.pk, at=at)
    SiteTemperature.objects.bulk_create(
        SiteTemperature(
            contractor=olive.contractor,
            job=site.job,
            room=site.room,
            client_id=uuid4(),
            at=at - timedelta(hours=hour),
            celsius=18 + hour % 7 / 10,
            source="logger",
            received_at=at,
            taken_by=olive,
        )
        for hour in range(TEMPERATURES)
    )
    return site.job


def copies(job: Any, have: int, want: int) -> None:
    """Copy the job's rows until there are so many jobs; the PDFs are links to one file."""
    from django.conf import settings
    from django.db import connection

    from config.tables import tables
    from scheduling.models import Certificate

    pdf = Path(settings.MEDIA_ROOT) / Certificate.objects.order_by("pk")[0].pdf.name
    for number in range(have, want):
        os.link(pdf, pdf.with_name(f"copy-{number}.pdf"))
    copied = [table for table in tables() if table.name in COPIED]
    own = {table.model for table in copied}
    with connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica")  # no marks for lists
        for table in copied:
            names = ", ".join(field.column for field in table.model._meta.concrete_fields)
            values = ", ".join(
                copied_value(field, own) for field in table.model._meta.concrete_fields
            )
            if have == 1:  # what there is now is what is copied
                cursor.execute(
                    f"CREATE TABLE of_{table.in_database} AS SELECT * FROM {table.in_database}"
                )
            for low in range(have, want, AT_ONCE):
                cursor.execute(
                    f"INSERT INTO {table.in_database} ({names}) SELECT {values} "
                    f"FROM of_{table.in_database}, generate_series(%s, %s) n",
                    [low, min(low + AT_ONCE, want) - 1],
                )
        cursor.execute("SET session_replication_role = DEFAULT")
        cursor.execute("ANALYZE")


def copied_value(field: Any, own: set[Any]) -> str:
    """The SQL of a column's value in copy `n`: new where it has to be, the same elsewhere."""
    from django.db.models import ForeignKey, UUIDField

    new_id = f"md5({field.column}::text || n)::uuid"
    if isinstance(field, ForeignKey):
        return new_id if field.related_model in own else field.column
    if isinstance(field, UUIDField):
        return new_id
    if field.name == "pdf":
        return "regexp_replace(pdf, '[^/]+$', 'copy-' || n || '.pdf')"
    if field.name == "number":
        return "number + n" if field.model.__name__ == "Job" else "number || '-' || n"
    return f"{field.column} || '-' || n" if field.name == "serial" else field.column


def exported(contractor_id: Any, file: Path) -> tuple[float, float]:
    """Seconds and peak megabytes of a process that exports."""
    command = [sys.executable, "manage.py", "export_contractor", str(contractor_id), str(file)]
    began = time.perf_counter()
    pid = os.posix_spawn(
        command[0],
        [command[0], str(CHECKOUT / command[1]), *command[2:]],
        {**os.environ, "DATABASE_URL": database_url()},
        file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)],
    )
    _, status, used = os.wait4(pid, 0)
    assert status == 0, f"the export failed: {status}"
    return time.perf_counter() - began, used.ru_maxrss / 1e3
