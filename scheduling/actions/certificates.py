"""Certificates: issued from a frozen record, made into a PDF by a worker, voided, shown by link."""

import json
from datetime import datetime, timedelta
from hashlib import sha256
from uuid import UUID

from django.core.files.base import ContentFile
from django.db import transaction
from django.template.loader import render_to_string

from config import paper
from config.celery import wake
from config.errors import DomainError
from config.instants import rfc3339
from config.tenancy import told
from jobs.actions.links import make_link, open_link
from jobs.actions.refreshing import refresh_job
from jobs.models import Contractor, Job, Link, Member, Room
from scheduling.actions.record import handover_of, record_of
from scheduling.certificate import printed
from scheduling.facts import digest_of
from scheduling.handover import require_complete
from scheduling.models import Certificate, SignOff

MAKE = "scheduling.tasks.make_certificate"
LINK_LASTS = timedelta(days=365)


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
    record = {"number": number, "issued_at": rfc3339(at)}
    record |= record_of(job)
    replaced = Certificate.objects.filter(
        job=job, voided_at__isnull=False, replaced_by__isnull=True
    ).order_by("pk")
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
            replaces=replaced.last(),
        )
    wake(MAKE, certificate.pk)
    return certificate


def make_pdf(*, certificate_id: UUID, at: datetime) -> bool:
    """Make the PDF of a certificate that waits for one; False if there was nothing to do.

    May run late, twice, or be killed: the claim runs out, and only one PDF is ever taken.
    """
    if not Certificate.objects.claim(certificate_id, at=at):
        return False
    certificate = Certificate.objects.get(pk=certificate_id)
    try:
        content = pdf_of(certificate)
    except paper.OutsideResource as refused:
        Certificate.objects.filter(pk=certificate_id, made_at__isnull=True).update(
            failed_at=at, failure=refused.detail[:300]
        )
        return False
    field = Certificate._meta.get_field("pdf")
    name = field.generate_filename(certificate, f"{certificate.pk}.pdf")
    name = field.storage.save(name, ContentFile(content))
    taken = Certificate.objects.filter(pk=certificate_id, made_at__isnull=True).update(
        made_at=at, pdf=name, pdf_digest=sha256(content).hexdigest()
    )
    if not taken:  # our claim ran out, and another worker was quicker
        field.storage.delete(name)
    return bool(taken)


def pdf_of(certificate: Certificate) -> bytes:
    """The PDF of a certificate's frozen record; raises paper.OutsideResource."""
    html = render_to_string(
        "scheduling/certificate.html",
        {"certificate": printed(certificate.data, digest=certificate.data_digest)},
    )
    return paper.pdf(
        html,
        identifier=bytes.fromhex(certificate.data_digest[:32]),
        data=json.dumps(certificate.data, ensure_ascii=False, indent=1).encode(),
        made_at=certificate.issued_at,
    )


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
    return locked


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
    link = open_link(purpose="certificate", secret=secret, at=at)
    if link is None or link.subject_id is None:
        return None
    made = Certificate.objects.filter(contractor_id=link.contractor_id, made_at__isnull=False)
    return made.filter(pk=link.subject_id).defer("data").first()
