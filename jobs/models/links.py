"""Private links: who may see what without an account."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import F, Q

from config.tenancy import SameContractor, TenantModel, TenantQuerySet
from jobs.models.work import Job


class LinkQuerySet(TenantQuerySet["Link"]):
    def open(self, *, purpose: str, digest: str, at: object) -> Self:
        """The link of that digest, if it has neither run out nor been revoked."""
        return self.filter(
            purpose=purpose, digest=digest, expires_at__gt=at, revoked_at__isnull=True
        )


class Link(TenantModel):
    """A private address that shows one job, or one thing of it, to somebody without an account."""

    travels = False  # it opens this installation only
    PURPOSES: ClassVar = [
        (purpose, purpose)
        for purpose in ("owner", "certificate", "verify", "notice", "label", "feed", "trade")
    ]

    job = models.ForeignKey(Job, on_delete=models.CASCADE, null=True, related_name="links")
    purpose = models.CharField(max_length=12, choices=PURPOSES)
    # The row that it opens, of the kind that the purpose names; the job itself if empty.
    subject_id = models.UUIDField(null=True)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)

    objects = LinkQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="link_job_same_contractor"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="link_expires_after_made"
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["contractor", "purpose", "subject_id"], name="link_by_subject")
        ]
