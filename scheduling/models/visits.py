"""Other trades and their visits; the calendars that tell of them."""

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from config.tenancy import SameContractor, TenantModel, VersionedModel
from jobs.models import LANGUAGES, Job, Room
from scheduling.exposure import ACTIVITIES
from scheduling.models.crews import Crew


class VisitingTrade(TenantModel):
    """A company of another trade that tells its times in a job itself, by its private link."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visiting_trades")
    trade = models.CharField(max_length=60)
    company = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    # What it does here unless it says otherwise.
    activities = ArrayField(models.CharField(max_length=20))

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="visitingtrade_job_same_contractor"),
            models.UniqueConstraint(
                fields=["job", "company", "trade"], name="visitingtrade_once_per_job"
            ),
        ]


class Visit(VersionedModel):
    """Another trade's planned time in a job, or in one room of it."""

    ACTIVITIES: ClassVar = [(name, name) for name in ACTIVITIES]

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, null=True, related_name="visits")
    trade = models.CharField(max_length=60)
    company = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=2, default="en")
    activities = ArrayField(models.CharField(max_length=20, choices=ACTIVITIES))
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    # Who told it by its own link; the office typed or imported the others.
    announced_by = models.ForeignKey(
        VisitingTrade, on_delete=models.PROTECT, null=True, related_name="visits"
    )
    # The calendar entry or line that it came from, if it came from one, and its last change.
    source_uid = models.CharField(max_length=255, blank=True)
    source_sequence = models.PositiveIntegerField(default=0)
    cancelled_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="job", name="visit_job_same_contractor"),
            SameContractor(field="room", name="visit_room_same_contractor"),
            SameContractor(field="announced_by", name="visit_announcer_same_contractor"),
            models.UniqueConstraint(
                fields=["job", "announced_by", "source_uid"],
                condition=~Q(source_uid=""),
                nulls_distinct=False,
                name="visit_once_per_source",
            ),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="visit_ends_after_start"
            ),
        ]


class CalendarEntry(TenantModel):
    """Something that feeds show: a crew's half-day, a visit, a day of heat, a step of warm-up.

    Kept beside what it stands for, so that what vanishes there is still told as called off.
    """

    KINDS: ClassVar = [(name, name) for name in ("booking", "visit", "heat", "warm-up")]

    kind = models.CharField(max_length=8, choices=KINDS)
    # Names what it stands for; the same thing at another time has the same key.
    key = models.CharField(max_length=120)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, null=True, related_name="+")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, null=True, related_name="+")
    trade = models.ForeignKey(VisitingTrade, on_delete=models.PROTECT, null=True, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    # Whole days of the job's calendar.
    all_day = models.BooleanField(default=False)
    # Expected, not known.
    likely = models.BooleanField(default=False)
    # What its title is made of, by kind; see scheduling.entries.
    detail = models.JSONField(default=dict)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="calendarentry_job_same_contractor"),
            SameContractor(field="room", name="calendarentry_room_same_contractor"),
            SameContractor(field="crew", name="calendarentry_crew_same_contractor"),
            SameContractor(field="trade", name="calendarentry_trade_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "key"], name="calendarentry_once_per_key"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="calendarentry_ends_after_start"
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["contractor", "ends_at"], name="calendarentry_by_end")
        ]


class StaleCalendar(TenantModel):
    """A job of which something was written that its calendar entries may have to follow.

    Triggers write these, one for each statement and job; nothing is locked by it.
    """

    travels = False  # worked out anew wherever the rows are

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="stalecalendar_job_same_contractor"),
        ]
