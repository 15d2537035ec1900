"""Crews and tools, their plans and bookings."""

from datetime import datetime
from typing import ClassVar, Self
from uuid import UUID

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from config.tenancy import SameContractor, TenantModel, TenantQuerySet, VersionedModel
from jobs.models import Job, Member, Room
from scheduling.models.claims import CLAIM_LASTS

HALVES = [("am", "am"), ("pm", "pm")]


class Crew(VersionedModel):
    """People who work together, what they can do, and when they work."""

    name = models.CharField(max_length=80)
    skills = ArrayField(models.CharField(max_length=20))
    # Seven pairs [am, pm] from Monday, 1 where the crew works.
    works = models.JSONField()
    # Whether the public holidays of the contractor's country are days off for it.
    keeps_holidays = models.BooleanField(default=True)
    members = models.ManyToManyField(Member, related_name="crews")
    retired_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "name"],
                condition=Q(retired_at__isnull=True),
                name="crew_name_once_per_contractor",
            ),
        ]


class CrewAbsence(TenantModel):
    """A half-day in which a crew that else works does not."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="absences")
    day = models.DateField()
    half = models.CharField(max_length=2, choices=HALVES)
    note = models.CharField(max_length=120, blank=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="crew", name="crewabsence_crew_same_contractor"),
            models.UniqueConstraint(fields=["crew", "day", "half"], name="crewabsence_once"),
        ]


class Tool(VersionedModel):
    """A shared tool of which there are only so many: an insulation tester, a drying heater."""

    name = models.CharField(max_length=80)
    capacity = models.PositiveSmallIntegerField()

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "name"], name="tool_name_once_per_contractor"
            ),
        ]


class PlanQuerySet(TenantQuerySet["Plan"]):
    def waiting(self, *, at: datetime) -> Self:
        """Plans that nobody works on, or whose worker is gone."""
        gone = Q(state="solving", claimed_at__lt=at - CLAIM_LASTS)
        return self.filter(Q(state="queued") | gone)

    def claim(self, plan_id: UUID, *, at: datetime) -> bool:
        """Take a plan to work on it; False means that another worker was first."""
        mine = self.waiting(at=at).filter(pk=plan_id)
        return mine.update(state="solving", claimed_at=at) == 1


class Plan(TenantModel):
    """One solved schedule: a proposal until somebody accepts it, all or nothing."""

    STATES: ClassVar = [
        (name, name)
        for name in ("queued", "solving", "proposed", "accepted", "declined", "cancelled", "failed")
    ]

    state = models.CharField(max_length=10, choices=STATES, default="queued")
    problem = models.JSONField()
    facts_digest = models.CharField(max_length=64)
    seconds = models.FloatField()
    seed = models.PositiveIntegerField()
    plan = models.JSONField(null=True)
    objective = models.JSONField(null=True)
    progress = models.JSONField(default=dict)
    because = models.JSONField(default=list)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    claimed_at = models.DateTimeField(null=True)
    solved_at = models.DateTimeField(null=True)
    settled_at = models.DateTimeField(null=True)
    settled_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")

    objects = PlanQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="asked_by", name="plan_asker_same_contractor"),
            SameContractor(field="settled_by", name="plan_settler_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor"],
                condition=Q(state__in=["queued", "solving"]),
                name="plan_one_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(settled_at__isnull=True, settled_by__isnull=True)
                | Q(settled_at__isnull=False, settled_by__isnull=False),
                name="plan_settled_at_and_by",
            ),
        ]


class Booking(VersionedModel):
    """One half-day of one crew, in the job's local calendar.

    A task that takes several half-days is several bookings with the same `span`.
    """

    TASKS: ClassVar = [
        (name, name)
        for name in (
            "survey",
            "prepare",
            "lay",
            "embed",
            "tile",
            "grout",
            "connect",
            "energize",
            "other",
        )
    ]

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="bookings")
    day = models.DateField()
    half = models.CharField(max_length=2, choices=HALVES)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="bookings")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, null=True, related_name="bookings")
    task = models.CharField(max_length=10, choices=TASKS)
    span = models.UUIDField()
    # Pinned by the office: planning takes it as a fact.
    pinned = models.BooleanField(default=False)
    plan = models.ForeignKey(Plan, on_delete=models.SET_NULL, null=True, related_name="bookings")
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    cancelled_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="crew", name="booking_crew_same_contractor"),
            SameContractor(field="job", name="booking_job_same_contractor"),
            SameContractor(field="room", name="booking_room_same_contractor"),
            SameContractor(field="booked_by", name="booking_member_same_contractor"),
            SameContractor(field="plan", name="booking_plan_same_contractor"),
            models.UniqueConstraint(
                fields=["crew", "day", "half"],
                condition=Q(cancelled_at__isnull=True),
                name="booking_crew_once_per_half_day",
            ),
        ]
