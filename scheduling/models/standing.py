"""What each job waits for and needs, kept at hand for the pages of the office."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from config.tenancy import SameContractor, TenantModel
from jobs.models import Job, Room


class StaleJob(TenantModel):
    """A job of which something was written since it was last worked out what it waits for.

    Triggers write these, one for each statement and job; nothing is locked by it.
    """

    travels = False  # worked out anew wherever the rows are

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="stalejob_job_same_contractor"),
        ]


class Said(models.Model):
    """A state with its sentence: a key of `scheduling.waiting.SAYS` and what is put into it."""

    mark = models.CharField(max_length=12)
    says = models.CharField(max_length=20)
    figures = models.JSONField(default=dict)
    assumed = models.BooleanField(default=False)  # its date rests on figures without a data sheet

    class Meta:
        abstract = True


class JobWait(TenantModel, Said):
    """What an open job waits for, as `scheduling.waiting` worked it out: kept for lists only."""

    travels = False  # worked out anew wherever the rows are

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="wait")
    room = models.ForeignKey(Room, on_delete=models.CASCADE, null=True, related_name="+")
    band = models.CharField(max_length=10)
    until = models.DateTimeField(null=True)
    # From the due date to the last booking; None if that is not late.
    days_late = models.PositiveIntegerField(null=True)
    # When time alone may change it; None for never.
    changes_at = models.DateTimeField(null=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="jobwait_job_same_contractor"),
            SameContractor(field="room", name="jobwait_room_same_contractor"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["contractor", "band", "until", "job"], name="jobwait_by_band"),
            models.Index(fields=["contractor", "changes_at"], name="jobwait_by_change"),
            models.Index(
                fields=["contractor", "-days_late", "job"],
                name="jobwait_by_lateness",
                condition=Q(days_late__isnull=False),
            ),
        ]


class JobNeed(TenantModel, Said):
    """Why a person must act in a job, beside its `JobWait`: kept for lists only."""

    travels = False  # worked out anew wherever the rows are

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="needs")
    room = models.ForeignKey(Room, on_delete=models.CASCADE, null=True, related_name="+")
    group = models.CharField(max_length=10)
    until = models.DateTimeField(null=True)
    since = models.DateTimeField(null=True)
    call = models.CharField(max_length=40, blank=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="jobneed_job_same_contractor"),
            SameContractor(field="room", name="jobneed_room_same_contractor"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["contractor", "group", "until", "job"], name="jobneed_by_group")
        ]
