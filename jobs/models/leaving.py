"""What leaves: exports of everything, and personal data that was erased."""

from datetime import datetime, timedelta
from typing import ClassVar, Self
from uuid import UUID

from django.db import models
from django.db.models import Q

from config.tenancy import SameContractor, TenantModel, TenantQuerySet
from jobs.models.people import Member
from jobs.models.work import Customer


class ExportQuerySet(TenantQuerySet["Export"]):
    def open(self) -> Self:
        return self.filter(made_at=None, failed_at=None)

    def waiting(self, *, at: datetime) -> Self:
        """Exports that nobody works on, or whose worker is gone."""
        gone = at - Export.CLAIM_LASTS
        return self.open().filter(Q(claimed_at=None) | Q(claimed_at__lt=gone))

    def claim(self, export_id: UUID, *, at: datetime) -> bool:
        """Take an export to make it; False means that another worker was first."""
        return self.waiting(at=at).filter(pk=export_id).update(claimed_at=at) == 1

    def expired(self, *, at: datetime) -> Self:
        """Exports whose file has lain here for long enough."""
        return self.filter(expires_at__lte=at).exclude(file="")


class Export(TenantModel):
    """Everything of the contractor in one file: asked for, made by a worker, kept for a week."""

    travels = False  # its file lies here
    CLAIM_LASTS: ClassVar = timedelta(minutes=2)  # a worker that works on renews it
    KEPT_FOR: ClassVar = timedelta(days=7)

    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    # {"step", "of", "rows", "files"} while it is made.
    progress = models.JSONField(default=dict)
    made_at = models.DateTimeField(null=True)
    failed_at = models.DateTimeField(null=True)
    failure = models.CharField(max_length=200, blank=True)
    expires_at = models.DateTimeField(null=True)
    # Empty again once it has expired.
    file = models.FileField(upload_to="exports", blank=True)
    size_bytes = models.BigIntegerField(null=True)
    digest = models.CharField(max_length=64, blank=True)
    # Files that rows name and that were not found: whoever leaves has to know.
    missing_files = models.JSONField(default=list)

    objects = ExportQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="asked_by", name="export_member_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor"],
                condition=Q(made_at__isnull=True, failed_at__isnull=True),
                name="export_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(made_at__isnull=True) | Q(expires_at__isnull=False),
                name="export_expires_once_made",
            ),
        ]

    @property
    def state(self) -> str:
        """How far it is: waiting, making, made, expired, failed."""
        if self.made_at:
            return "made" if self.file else "expired"
        if self.failed_at:
            return "failed"
        return "making" if self.claimed_at else "waiting"


class Erasure(TenantModel):
    """That, when and by whom a customer's personal data was erased; never edited."""

    customer = models.OneToOneField(Customer, on_delete=models.PROTECT, related_name="erasure")
    erased_at = models.DateTimeField()
    erased_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="customer", name="erasure_customer_same_contractor"),
            SameContractor(field="erased_by", name="erasure_member_same_contractor"),
        ]
