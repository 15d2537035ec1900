"""Sign-offs and certificates."""

from datetime import datetime
from typing import ClassVar, Self
from uuid import UUID

from django.db import models
from django.db.models import Q

from config.tenancy import EITHER, SameContractor, TenantModel, TenantQuerySet
from jobs.models import Job, Member
from scheduling.models.claims import CERTIFICATE_CLAIM_LASTS


class SignOff(TenantModel):
    """A name under the whole job: the licensed electrician's, the customer's."""

    written_by: ClassVar[frozenset[str]] = EITHER
    KINDS: ClassVar = [(name, name) for name in ("electrician", "customer")]

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="sign_offs")
    client_id = models.UUIDField()
    kind = models.CharField(max_length=12, choices=KINDS)
    name = models.CharField(max_length=120)
    licence_number = models.CharField(max_length=60, blank=True)
    scope = models.TextField(blank=True)
    signed_at = models.DateTimeField()
    received_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="signoff_job_same_contractor"),
            SameContractor(field="recorded_by", name="signoff_member_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="signoff_once_per_client_id"
            ),
            models.CheckConstraint(
                condition=~Q(kind="electrician") | ~Q(licence_number=""),
                name="signoff_electrician_has_licence",
            ),
        ]


class CertificateQuerySet(TenantQuerySet["Certificate"]):
    def due(self, at: datetime) -> Self:
        """Certificates whose PDF waits for a worker, or for one that died."""
        return self.filter(
            Q(claimed_at__isnull=True) | Q(claimed_at__lt=at - CERTIFICATE_CLAIM_LASTS),
            made_at__isnull=True,
            failed_at__isnull=True,
        )

    def claim(self, certificate_id: UUID, *, at: datetime) -> bool:
        return self.due(at).filter(pk=certificate_id).update(claimed_at=at) == 1


class Certificate(TenantModel):
    """The warranty record of a job. Its data freezes at issue, its PDF once made; a trigger
    lets nothing but the worker's marks and the voiding change afterwards."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=30)
    data = models.JSONField()
    data_digest = models.CharField(max_length=64)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    made_at = models.DateTimeField(null=True)
    failed_at = models.DateTimeField(null=True)
    failure = models.CharField(max_length=300, blank=True)
    pdf = models.FileField(upload_to="certificates/%Y/%m", blank=True)
    pdf_digest = models.CharField(max_length=64, blank=True)
    # Whose key signed the PDF: `config.signing.Signer` and `whose`, as JSON.
    signature = models.JSONField(null=True)
    voided_at = models.DateTimeField(null=True)
    voided_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")
    void_reason = models.CharField(max_length=300, blank=True)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, related_name="replaced_by"
    )

    objects = CertificateQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="certificate_job_same_contractor"),
            SameContractor(field="issued_by", name="certificate_issuer_same_contractor"),
            SameContractor(field="voided_by", name="certificate_voider_same_contractor"),
            SameContractor(field="replaces", name="certificate_replaced_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "number"], name="certificate_number_once_per_contractor"
            ),
            models.UniqueConstraint(
                fields=["job"],
                condition=Q(voided_at__isnull=True),
                name="certificate_one_in_force_per_job",
            ),
            models.CheckConstraint(
                condition=Q(voided_at__isnull=True, voided_by__isnull=True)
                | Q(voided_at__isnull=False, voided_by__isnull=False),
                name="certificate_voided_at_and_by",
            ),
            models.CheckConstraint(
                condition=Q(made_at__isnull=True, pdf_digest="") | Q(made_at__isnull=False),
                name="certificate_made_with_pdf",
            ),
        ]

    @property
    def state(self) -> str:
        """How far it is: waiting, making, made, failed; void whatever was made."""
        if self.voided_at:
            return "void"
        if self.made_at:
            return "made"
        if self.failed_at:
            return "failed"
        return "making" if self.claimed_at else "waiting"
