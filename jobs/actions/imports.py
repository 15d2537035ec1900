"""Lists of jobs: looked at first, taken in by a worker when the office says so, each row once."""

from collections.abc import Callable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from config.celery import wake
from config.errors import DomainError
from config.sentence import Sentence
from jobs.actions.customers import add_customer
from jobs.actions.jobs import USUAL_SUPPLY, add_job
from jobs.job_list import ListedJob, from_tree, read
from jobs.models import Customer, Job, JobImport, Member

TAKE_IN = "jobs.tasks.take_in_jobs"
AT_ONCE = 100


class ImportUnderWay(DomainError):
    slug = "import-under-way"


def look_at(*, by: Member, text: str, country: str, at: datetime) -> JobImport:
    """Read a list and keep what came of it; nothing is taken in. Raises UnreadableList."""
    found = read(text, country=country)
    return JobImport.objects.create(
        contractor_id=by.contractor_id,
        rows=[job.as_tree() for job in found.jobs],
        bad=[
            {"line": row.line, "text": row.text, "template": row.why.template}
            | {"figures": row.why.figures}
            for row in found.bad
        ],
        looked_at=at,
        looked_by=by,
    )


def confirm(*, by: Member, listed: JobImport, at: datetime) -> None:
    """Have a worker take the good rows in; raises ImportUnderWay if that was said before."""
    waits = JobImport.objects.visible_to(by).filter(pk=listed.pk, confirmed_at=None)
    if not waits.update(confirmed_at=at, confirmed_by=by):
        raise ImportUnderWay(Sentence("This list is being taken in already."))
    wake(TAKE_IN, listed.pk)


def take_in(*, import_id: UUID, clock: Callable[[], datetime]) -> int:
    """Take in the rows that are left, some at once; return how many jobs were opened.

    Rows and the count of them are one transaction: a worker that dies leaves none half done.
    """
    if not JobImport.objects.claim(import_id, at=clock()):
        return 0
    opened = 0
    while True:
        with transaction.atomic():
            listed = JobImport.objects.select_for_update().get(pk=import_id)
            some = listed.rows[listed.worked : listed.worked + AT_ONCE]
            for tree in some:
                if _open(listed.looked_by, from_tree(tree)):
                    listed.opened += 1
                    opened += 1
            listed.worked += len(some)
            listed.claimed_at = clock()
            if listed.worked >= len(listed.rows):
                listed.done_at = clock()
            listed.save(update_fields=["opened", "worked", "claimed_at", "done_at"])
        if listed.done_at is not None:
            return opened


def _open(by: Member, row: ListedJob) -> bool:
    """Open the job of one row, and take its customer in; False if that job is there already."""
    known = Customer.objects.visible_to(by).filter(name=row.customer, email=row.email)
    customer = known.order_by("pk").first()
    if customer is None:
        customer = add_customer(by=by, name=row.customer, email=row.email, phone=row.phone)
    same = Job.objects.visible_to(by).filter(
        customer=customer, title=row.title, street=row.street, closed_at=None
    )
    if same.exists():
        return False
    profile, volts = USUAL_SUPPLY[by.contractor.units]
    add_job(
        by=by,
        customer=customer,
        title=row.title,
        street=row.street,
        postcode=row.postcode,
        city=row.city,
        country=row.country,
        due_on=row.due_on,
        note=row.note,
        supply_volts=volts,
        code_profile=profile,
    )
    return True
