"""Customers and their jobs, typed in or brought along in a file."""

from datetime import datetime, timedelta
from typing import ClassVar, Self
from uuid import UUID

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models import F, Q

from config.tenancy import SameContractor, TenantModel, TenantQuerySet, VersionedModel
from jobs.models.people import LANGUAGES, UNITS, Member
from jobs.models.search import Digits, looked_for_in


class Customer(VersionedModel):
    """Who the floor is for."""

    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    note = models.TextField(blank=True)
    client_id = models.UUIDField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="customer_once_per_client_id"
            ),
        ]
        indexes: ClassVar = [
            looked_for_in("name", name="customer_by_part_of_name"),
            looked_for_in("email", name="customer_by_part_of_email"),
            GinIndex(
                OpClass(Digits("phone"), name="gin_trgm_ops"), name="customer_by_part_of_phone"
            ),
        ]


class Job(VersionedModel):
    """The work for one customer at one site address, in one time zone."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=120)
    street = models.CharField(max_length=160)
    postcode = models.CharField(max_length=20, blank=True)
    city = models.CharField(max_length=80)
    country = models.CharField(max_length=2)
    time_zone = models.CharField(max_length=64)
    units = models.CharField(max_length=8, choices=UNITS)
    supply_volts = models.FloatField()
    code_profile = models.CharField(max_length=16)
    # Nobody knows a temperature that was not measured: it counts as this cold at most.
    assume_c = models.FloatField(default=5.0)
    release_on = models.DateField(null=True)
    due_on = models.DateField(null=True)
    weight = models.PositiveSmallIntegerField(default=1)
    closed_at = models.DateTimeField(null=True)
    note = models.TextField(blank=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="customer", name="job_customer_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "number"], name="job_number_once_per_contractor"
            ),
            models.CheckConstraint(condition=Q(supply_volts__gt=0), name="job_supply_above_zero"),
            models.CheckConstraint(
                condition=Q(assume_c__gte=-40) & Q(assume_c__lte=70), name="job_assume_c_plausible"
            ),
            models.CheckConstraint(
                condition=Q(due_on__isnull=True)
                | Q(release_on__isnull=True)
                | Q(due_on__gte=F("release_on")),
                name="job_due_after_release",
            ),
        ]
        indexes: ClassVar = [
            looked_for_in("street", name="job_by_part_of_street"),
            looked_for_in("title", name="job_by_part_of_title"),
        ]


class JobImportQuerySet(TenantQuerySet["JobImport"]):
    def waiting(self, *, at: datetime) -> Self:
        """Lists that are to be taken in and that nobody works on, or whose worker is gone."""
        gone = at - JobImport.CLAIM_LASTS
        return self.filter(done_at=None, confirmed_at__isnull=False).filter(
            Q(claimed_at=None) | Q(claimed_at__lt=gone)
        )

    def claim(self, import_id: UUID, *, at: datetime) -> bool:
        """Take a list to work on it; False means that another worker was first."""
        return self.waiting(at=at).filter(pk=import_id).update(claimed_at=at) == 1


class JobImport(TenantModel):
    """A list of jobs as it was read: its good rows, its bad ones, and how far it is taken in."""

    CLAIM_LASTS: ClassVar = timedelta(seconds=60)

    travels = False  # what came of it are customers and jobs

    # Trees of `jobs.job_list.ListedJob`; of a bad row its line, text and reason.
    rows = models.JSONField()
    bad = models.JSONField()
    looked_at = models.DateTimeField()
    looked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(null=True)
    confirmed_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    worked = models.PositiveIntegerField(default=0)
    opened = models.PositiveIntegerField(default=0)
    done_at = models.DateTimeField(null=True)

    objects = JobImportQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="looked_by", name="jobimport_looker_same_contractor"),
            SameContractor(field="confirmed_by", name="jobimport_confirmer_same_contractor"),
            models.CheckConstraint(
                condition=Q(confirmed_at__isnull=True, confirmed_by__isnull=True)
                | Q(confirmed_at__isnull=False, confirmed_by__isnull=False),
                name="jobimport_confirmed_at_and_by",
            ),
        ]
