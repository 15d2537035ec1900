"""Erasing a customer's personal data, while the technical record stays.

Name, telephone, e-mail, notes and address lines are replaced, where the service shows or searches
them. What proves what was built is never edited: a certificate that was issued and the signatures
under the handover stay as they are, for whoever has to settle a claim; nobody outside opens them
any more, since every private link of the jobs ends but the labels' (they warn whoever drills) and
the papers' (they compare a paper with the record): those name nobody. Checks, readings and
decisions have no personal data of the customer in them.
"""

import json
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q, TextField
from django.db.models.functions import Cast
from django.utils import translation
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.models import Answer
from config.sentence import Sentence
from jobs.models import Customer, Erasure, Export, Job, JobImport, Link, Member
from scheduling.models import Notice

# A label in the house warns whoever drills years later, and a paper can still be compared with the
# record; neither page names the customer.
LINKS_THAT_STAY = ("label", "verify")


class OpenJobs(DomainError):
    slug = "customer-has-open-jobs"


class ErasedAlready(DomainError):
    slug = "erased-already"


@transaction.atomic
def erase_personal_data(*, by: Member, customer: Customer, at: datetime) -> Erasure:
    """Replace what tells who the customer is and where, for good; raises OpenJobs, ErasedAlready.

    Files made for leaving go too, since they have it in them; so do remembered answers and lists of
    jobs that were taken in.
    """
    locked = Customer.objects.select_for_update().get(pk=customer.pk)
    if Erasure.objects.filter(customer=locked).exists():
        raise ErasedAlready("The personal data of this customer was erased before.")
    jobs = list(Job.objects.filter(customer=locked).select_for_update().order_by("pk"))
    if still := [str(job.number) for job in jobs if job.closed_at is None]:
        raise OpenJobs(
            Sentence("Not closed yet: job {numbers}. Close it first.", numbers=", ".join(still))
        )
    _forget_copies(locked, jobs, at)
    with translation.override(by.contractor.language):
        _replace(locked, name=_("Personal data erased"), email="", phone="", note="")
        for job in jobs:
            street = _("Job %(number)s, address erased") % {"number": job.number}
            _replace(job, street=street, postcode="", city="–", note="")
            for notice in Notice.objects.filter(visit__job=job).order_by("pk"):
                if "address" in notice.content:
                    notice.content["address"] = street
                    notice.save(update_fields=["content"])
    return Erasure.objects.create(
        contractor_id=by.contractor_id, customer=locked, erased_at=at, erased_by=by
    )


def _replace(row: Customer | Job, **fields: Any) -> None:
    for name, value in fields.items():
        setattr(row, name, value)
    row.version += 1
    row.save(update_fields=[*fields, "version"])


def _forget_copies(customer: Customer, jobs: list[Job], at: datetime) -> None:
    """End what shows it to others, and drop what was kept of it on the way in and out."""
    own = {"contractor_id": customer.contractor_id}
    links = Link.objects.filter(job__in=jobs, revoked_at=None)
    links.exclude(purpose__in=LINKS_THAT_STAY).update(revoked_at=at)
    Export.objects.filter(expires_at__gt=at, **own).update(expires_at=at)
    ids = [str(row.pk) for row in (customer, *jobs)]
    remembered = Q(body__id__in=ids) | Q(body__customer__in=ids) | Q(body__job__in=ids)
    Answer.objects.filter(remembered, **own).delete()
    name = json.dumps(customer.name, ensure_ascii=False)
    lists = JobImport.objects.annotate(
        text=Cast("rows", TextField()), wrong=Cast("bad", TextField())
    )
    lists.filter(Q(text__contains=name) | Q(wrong__contains=name[1:-1]), **own).exclude(
        confirmed_at__isnull=False, done_at=None
    ).delete()
