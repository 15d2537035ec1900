"""Certificates: issued from a frozen record, voided, shown and compared by link."""

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from config.celery import wake
from config.errors import DomainError
from config.instants import rfc3339
from config.tenancy import told
from jobs.actions.links import make_link, open_link
from jobs.actions.refreshing import refresh_job
from jobs.actions.webhooks import announce
from jobs.models import Contractor, Job, Link, Member, Room
from scheduling.actions.record import handover_of, record_of
from scheduling.facts import digest_of
from scheduling.handover import require_complete
from scheduling.models import Certificate, SignOff

MAKE = "scheduling.tasks.make_certificate"
LINK_LASTS = timedelta(days=365)
VERIFY_LASTS = timedelta(days=365 * 50)
"""As long as a floor may lie: the address is printed on the certificate."""


class SignedAlready(DomainError):
    slug = "already-there"


class CertificateInForce(DomainError):
    slug = "certificate-in-force"


class CertificateVoid(DomainError):
    slug = "certificate-void"


class SignedInFuture(DomainError):
    slug = "implausible-time"


@transaction.atomic
def sign_off(*, by: Member, job: Job, client_id: UUID, at: datetime, **fields: object) -> SignOff:
    """Record a signature under the job once, however often it is sent; raises SignedAlready."""
    signed_at = fields["signed_at"]
    if isinstance(signed_at, datetime) and signed_at > at:
        raise SignedInFuture("A signature cannot be from the future.", pointer="#/signed_at")
    row = SignOff(
        contractor_id=by.contractor_id,
        job=job,
        client_id=client_id,
        received_at=at,
        recorded_by=by,
        **fields,
    )
    sent = SignOff.objects.visible_to(by).filter(client_id=client_id)
    Job.objects.select_for_update().get(pk=job.pk)  # the same one sent twice at once
    if before := sent.first():
        if all(getattr(before, name) == getattr(row, name) for name in ("job_id", *fields)):
            return before
        raise SignedAlready("Another signature was sent under this id.", pointer="#/id")
    row.save(force_insert=True)
    refresh_job(job.pk)
    return row


@transaction.atomic
def issue_certificate(*, by: Member, job: Job, at: datetime) -> Certificate:
    """Freeze the job's record under the next number, and have a worker make its PDF.

    Raises HandoverIncomplete or CertificateInForce.
    """
    contractor = Contractor.objects.select_for_update().get(pk=by.contractor_id)  # one number each
    # Nothing is accepted into these rooms while they are read.
    list(Room.objects.filter(job=job).select_for_update().order_by("pk"))
    require_complete(handover_of(job))
    issued = Certificate.objects.filter(contractor=contractor, number__startswith=f"{at:%Y}-")
    number = f"{at:%Y}-{issued.count() + 1:04}"
    voided = Certificate.objects.filter(
        job=job, voided_at__isnull=False, replaced_by__isnull=True
    ).order_by("pk")
    replaced = voided.last()
    record = {"number": number, "issued_at": rfc3339(at), "replaces": _replaced(replaced)}
    record |= record_of(job)
    in_force = CertificateInForce(
        "This job has a certificate in force. Void that one first if it is wrong.", pointer="#/job"
    )
    with told({"certificate_one_in_force_per_job": in_force}):
        certificate = Certificate.objects.create(
            contractor=contractor,
            job=job,
            number=number,
            data=record,
            data_digest=digest_of(record),
            issued_at=at,
            issued_by=by,
            replaces=replaced,
        )
    wake(MAKE, certificate.pk)
    announce(contractor.pk, [("certificate.issued", _event(certificate))], at=at)
    return certificate


def _replaced(before: Certificate | None) -> dict[str, str] | None:
    if before is None or before.voided_at is None:
        return None
    return {
        "number": before.number,
        "voided_at": rfc3339(before.voided_at),
        "reason": before.void_reason,
    }


@transaction.atomic
def void_certificate(
    *, by: Member, certificate: Certificate, reason: str, at: datetime
) -> Certificate:
    """Take a certificate out of force; it stays in the record. Raises CertificateVoid."""
    locked = Certificate.objects.select_for_update().get(pk=certificate.pk)
    if locked.voided_at:
        raise CertificateVoid("This certificate was voided before. Issue another one.")
    locked.voided_at, locked.voided_by, locked.void_reason = at, by, reason
    locked.save(update_fields=["voided_at", "voided_by", "void_reason"])
    announce(locked.contractor_id, [("certificate.voided", _event(locked))], at=at)
    return locked


def _event(certificate: Certificate) -> dict[str, str]:
    """What other systems are told of a certificate."""
    return {
        "certificate": str(certificate.pk),
        "job": str(certificate.job_id),
        "number": certificate.number,
    }


def link_to_certificate(
    *, certificate: Certificate, at: datetime, lasts: timedelta = LINK_LASTS
) -> tuple[Link, str]:
    """A private link that downloads one certificate, and its secret."""
    return make_link(
        job=certificate.job,
        purpose="certificate",
        subject_id=certificate.pk,
        at=at,
        lasts=lasts,
    )


def certificate_of_link(*, secret: str, at: datetime) -> Certificate | None:
    """What a private link opens now; None alike for no link, and for a PDF not made yet."""
    return _opened("certificate", secret, at)


def certificate_to_verify(*, secret: str, at: datetime) -> Certificate | None:
    """The certificate that bears this address."""
    return _opened("verify", secret, at)


def number_after(row: Certificate) -> str:
    """The number of the certificate that replaces this one; empty if none does."""
    found = Certificate.objects.filter(contractor_id=row.contractor_id, replaces=row)
    return found.values_list("number", flat=True).first() or ""


def _opened(purpose: str, secret: str, at: datetime) -> Certificate | None:
    link = open_link(purpose=purpose, secret=secret, at=at)
    if link is None or link.subject_id is None:
        return None
    made = Certificate.objects.filter(contractor_id=link.contractor_id, made_at__isnull=False)
    return made.filter(pk=link.subject_id).select_related("job", "contractor").first()
