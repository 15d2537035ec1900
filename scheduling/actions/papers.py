"""Certificates as PDF: made and signed by a worker, once; a voided one shown as such."""

import json
from dataclasses import asdict
from datetime import datetime
from hashlib import sha256
from uuid import UUID

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import transaction
from django.template.loader import render_to_string

from config import paper, signing
from config.secrets import new_secret
from jobs.actions.links import make_link
from scheduling.actions.certificates import VERIFY_LASTS, number_after
from scheduling.certificate import Voided, printed
from scheduling.models import Certificate

REFUSALS = (paper.OutsideResource, signing.KeyNotUsable)


def make_pdf(*, certificate_id: UUID, at: datetime) -> bool:
    """Make the PDF of a certificate that waits for one; False if there was nothing to do.

    May run late, twice, or be killed: the claim runs out, and only one PDF is ever taken, with
    the link that is printed on it.
    """
    if not Certificate.objects.claim(certificate_id, at=at):
        return False
    row = Certificate.objects.select_related("job").get(pk=certificate_id)
    secret = new_secret()
    try:
        key = signing.key_for(row.contractor_id, at=at)
        content = pdf_of(row, key, secret=secret)
    except REFUSALS as refused:
        Certificate.objects.filter(pk=certificate_id, made_at__isnull=True).update(
            failed_at=at, failure=refused.detail[:300]
        )
        return False
    field = Certificate._meta.get_field("pdf")
    name = field.generate_filename(row, f"{row.pk}.pdf")
    name = field.storage.save(name, ContentFile(content))
    with transaction.atomic():
        taken = Certificate.objects.filter(pk=certificate_id, made_at__isnull=True).update(
            made_at=at,
            pdf=name,
            pdf_digest=sha256(content).hexdigest(),
            signature={**asdict(signing.signer_of(key)), "whose": key.whose},
        )
        if taken:
            make_link(
                job=row.job,
                purpose="verify",
                subject_id=row.pk,
                at=at,
                lasts=VERIFY_LASTS,
                secret=secret,
            )
    if not taken:  # our claim ran out, and another worker was quicker
        field.storage.delete(name)
    return bool(taken)


def pdf_of(row: Certificate, key: signing.Key, *, secret: str) -> bytes:
    """The signed PDF of a certificate's frozen record, with the address that compares it.

    Raises paper.OutsideResource or signing.KeyNotUsable.
    """
    content = _pdf(row, verify_url=f"{settings.PUBLIC_URL}/verify/{secret}/", signed=True)
    return signing.sign(content, key, reason=f"Issued as certificate {row.number}")


def void_copy(row: Certificate) -> bytes:
    """What is shown of a voided certificate: the same, with that said first; not signed.

    The PDF as issued stays as it is.
    """
    assert row.voided_at is not None
    void = Voided(at=row.voided_at, reason=row.void_reason, replaced_by=number_after(row))
    return _pdf(row, void=void)


def _pdf(
    row: Certificate, *, verify_url: str = "", void: Voided | None = None, signed: bool = False
) -> bytes:
    said = printed(row.data, digest=row.data_digest, verify_url=verify_url, void=void)
    return paper.pdf(
        render_to_string("scheduling/certificate.html", {"certificate": said}),
        identifier=bytes.fromhex(row.data_digest[:32]),
        record=json.dumps(row.data, ensure_ascii=False, indent=1).encode(),
        says=f"sha256:{row.data_digest}",
        made_at=row.issued_at,
        signed=signed,
    )
