"""When: layers, decisions, crews and their bookings, visits and notices, certificates."""

from datetime import datetime, timedelta
from typing import ClassVar, Self
from uuid import UUID

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from config.tenancy import M, SameContractor, TenantModel, TenantQuerySet, VersionedModel
from jobs.models import EITHER, LANGUAGES, Job, Material, Member, Room
from scheduling.exposure import ACTIVITIES

HALVES = [("am", "am"), ("pm", "pm")]
# A worker that took a row and died gives it up after this long.
CLAIM_LASTS = timedelta(seconds=60)
CERTIFICATE_CLAIM_LASTS = timedelta(seconds=15)  # made in a second or two


class Layer(VersionedModel):
    """One course of a room's floor build-up, from the bottom up."""

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="layers")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    # Whether the heating cable lies in it, which makes the floor wet, then embedded.
    embeds = models.BooleanField(default=False)
    thickness_mm = models.FloatField(null=True)
    # Set when it is laid; a layer that is only planned has none.
    client_id = models.UUIDField(null=True)
    placed_at = models.DateTimeField(null=True)
    placed_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")
    # The material's figures on that day: a later change of the catalogue moves no date.
    curing = models.JSONField(null=True)
    removed_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="room", name="layer_room_same_contractor"),
            SameContractor(field="material", name="layer_material_same_contractor"),
            SameContractor(field="placed_by", name="layer_member_same_contractor"),
            models.UniqueConstraint(
                fields=["room", "position"],
                condition=Q(removed_at__isnull=True),
                name="layer_once_per_position",
            ),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="layer_once_per_client_id"
            ),
            models.CheckConstraint(
                condition=Q(placed_at__isnull=True, placed_by__isnull=True)
                | Q(placed_at__isnull=False, placed_by__isnull=False),
                name="layer_placed_at_and_by",
            ),
        ]


class Evidence(TenantModel):
    """Something proven (or found wrong) in a room that is no reading: never edited.

    Kinds are those of the energize decision; a newer row of a kind replaces an older one.
    """

    written_by: ClassVar[frozenset[str]] = EITHER
    KINDS: ClassVar = [
        (kind, kind)
        for kind in (
            "sensor",
            "control",
            "leakage-protection",
            "electrician",
            "moisture",
            "open-fault",
            "frost-cleared",
        )
    ]
    OUTCOMES: ClassVar = [(name, name) for name in ("pass", "fail", "undecided")]

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="evidence")
    client_id = models.UUIDField()
    kind = models.CharField(max_length=20, choices=KINDS)
    outcome = models.CharField(max_length=10, choices=OUTCOMES)
    at = models.DateTimeField()
    received_at = models.DateTimeField()
    layer = models.ForeignKey(Layer, on_delete=models.PROTECT, null=True, related_name="+")
    value = models.FloatField(null=True)
    method = models.CharField(max_length=40, blank=True)
    recorded_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    # Who answers for it, where that is not the member: the electrician, an inspector.
    name = models.CharField(max_length=120, blank=True)
    licence_number = models.CharField(max_length=60, blank=True)
    scope = models.TextField(blank=True)
    note = models.TextField(blank=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="evidence_room_same_contractor"),
            SameContractor(field="layer", name="evidence_layer_same_contractor"),
            SameContractor(field="recorded_by", name="evidence_member_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="evidence_once_per_client_id"
            ),
            models.CheckConstraint(
                condition=~Q(kind="electrician") | (~Q(name="") & ~Q(licence_number="")),
                name="evidence_electrician_has_licence",
            ),
        ]


class Promise(TenantModel):
    """A temperature that somebody promises to keep in a room."""

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="promises")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    celsius = models.FloatField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="promise_room_same_contractor"),
            SameContractor(field="made_by", name="promise_member_same_contractor"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="promise_ends_after_start"
            ),
        ]


class Decision(TenantModel):
    """One energize decision with everything it was worked out from; never changed."""

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="decisions")
    decided_at = models.DateTimeField()
    # Facts and decision in the file format of `scheduling.facts`.
    facts = models.JSONField()
    facts_digest = models.CharField(max_length=64)
    result = models.JSONField()
    may_energize = models.BooleanField()
    earliest = models.DateTimeField(null=True)
    likely = models.DateTimeField(null=True)
    latest = models.DateTimeField(null=True)
    # Why it differs from the one before it, in English, and its reasons as `[template, figures]`;
    # empty for the first.
    moved_because = models.TextField(blank=True)
    reasons = models.JSONField(default=list)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="decision_room_same_contractor"),
        ]
        indexes: ClassVar = [models.Index(fields=["room", "-id"], name="decision_newest")]


class Energizing(TenantModel):
    """Heat was switched on: for good, or for a test of some minutes."""

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="energizings")
    client_id = models.UUIDField()
    at = models.DateTimeField()
    # Minutes of a brief power-on test before the date; null once heat is on for good.
    test_minutes = models.FloatField(null=True)
    decision = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="+")
    recorded_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="energizing_room_same_contractor"),
            SameContractor(field="decision", name="energizing_decision_same_contractor"),
            SameContractor(field="recorded_by", name="energizing_member_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="energizing_once_per_client_id"
            ),
            models.UniqueConstraint(
                fields=["room"],
                condition=Q(test_minutes__isnull=True),
                name="energizing_for_good_once",
            ),
        ]


class WarmUpStep(TenantModel):
    """A step of the first heating that somebody ticked off, or at which it was stopped.

    One that was stopped goes on from that step once somebody says so.
    """

    written_by: ClassVar[frozenset[str]] = EITHER

    energizing = models.ForeignKey(Energizing, on_delete=models.PROTECT, related_name="steps")
    step = models.PositiveSmallIntegerField()
    done_at = models.DateTimeField()
    floor_c = models.FloatField(null=True)
    stopped_because = models.TextField(blank=True)
    resumed_at = models.DateTimeField(null=True)
    resumed_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")
    recorded_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="energizing", name="warmupstep_energizing_same_contractor"),
            SameContractor(field="recorded_by", name="warmupstep_member_same_contractor"),
            SameContractor(field="resumed_by", name="warmupstep_resumer_same_contractor"),
            models.UniqueConstraint(
                fields=["energizing", "step"],
                condition=Q(stopped_because=""),
                name="warmupstep_once",
            ),
            models.UniqueConstraint(
                fields=["energizing"],
                condition=~Q(stopped_because="") & Q(resumed_at__isnull=True),
                name="warmupstep_stopped_once",
            ),
            models.CheckConstraint(
                condition=Q(resumed_at__isnull=True, resumed_by__isnull=True)
                | Q(resumed_at__isnull=False, resumed_by__isnull=False) & ~Q(stopped_because=""),
                name="warmupstep_resumed_at_and_by",
            ),
        ]


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


class MessageQuerySet(TenantQuerySet[M]):
    def due(self, at: datetime) -> Self:
        """Messages that wait for a sender: never taken, or taken by a worker that died."""
        return self.filter(
            Q(claimed_at__isnull=True) | Q(claimed_at__lt=at - CLAIM_LASTS),
            sent_at__isnull=True,
            withdrawn_at__isnull=True,
            send_after__lte=at,
        )

    def claim(self, message_id: UUID, *, at: datetime) -> bool:
        """Take a message for sending; False means that another worker was first."""
        return self.due(at).filter(pk=message_id).update(claimed_at=at) == 1


class Notice(TenantModel):
    """A hazard warning to one visit, as it was worded when it was made, and its answer."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="notices")
    # What it said: rooms, exposures, what is forbidden until when, whom to call. Its private
    # links have its id as their subject: each sending makes one, and all of them stay good.
    content = models.JSONField()
    made_at = models.DateTimeField()
    send_after = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.CharField(max_length=200, blank=True)
    repeated = models.PositiveSmallIntegerField(default=0)
    raised_at = models.DateTimeField(null=True)
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.CharField(max_length=120, blank=True)
    withdrawn_at = models.DateTimeField(null=True)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, related_name="replaced_by"
    )

    objects = MessageQuerySet["Notice"].as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="visit", name="notice_visit_same_contractor"),
            SameContractor(field="replaces", name="notice_replaced_same_contractor"),
            models.CheckConstraint(
                condition=(Q(acknowledged_at__isnull=True) & Q(acknowledged_by=""))
                | (Q(acknowledged_at__isnull=False) & ~Q(acknowledged_by="")),
                name="notice_acknowledged_at_and_by",
            ),
        ]


class DateMove(TenantModel):
    """News about a room's energize date against the decision that was told before it.

    `kind` is that of `scheduling.moves`; `why` its reasons as `[template, figures]`. The office
    reads it, or it is done with when heat is on.
    """

    travels = False  # the decisions tell it; what was said about it left from here

    KINDS: ClassVar = [(kind, kind) for kind in ("date", "held", "cleared")]

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="moves")
    before = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="+")
    decision = models.OneToOneField(Decision, on_delete=models.PROTECT, related_name="move")
    kind = models.CharField(max_length=8, choices=KINDS)
    was = models.DateTimeField(null=True)
    likely = models.DateTimeField(null=True)
    why = models.JSONField()
    moved_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True)
    read_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="datemove_room_same_contractor"),
            SameContractor(field="before", name="datemove_before_same_contractor"),
            SameContractor(field="decision", name="datemove_decision_same_contractor"),
            SameContractor(field="read_by", name="datemove_reader_same_contractor"),
            models.CheckConstraint(
                condition=Q(read_at__isnull=True, read_by__isnull=True)
                | Q(read_at__isnull=False, read_by__isnull=False),
                name="datemove_read_at_and_by",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["room", "-id"], name="datemove_newest")]


class MoveMessage(TenantModel):
    """An e-mail to one person who depends on a date that moved; a newer one takes its place.

    `since` is the decision that this person was told last.
    """

    travels = False  # sent from this installation

    AUDIENCES: ClassVar = [(name, name) for name in ("crew", "owner")]

    move = models.ForeignKey(DateMove, on_delete=models.CASCADE, related_name="messages")
    since = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="+")
    audience = models.CharField(max_length=5, choices=AUDIENCES)
    email = models.EmailField()
    language = models.CharField(max_length=2)
    send_after = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.CharField(max_length=200, blank=True)
    withdrawn_at = models.DateTimeField(null=True)

    objects = MessageQuerySet["MoveMessage"].as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="move", name="movemessage_move_same_contractor"),
            SameContractor(field="since", name="movemessage_since_same_contractor"),
            models.UniqueConstraint(
                fields=["move", "audience", "email"], name="movemessage_once_per_person"
            ),
        ]


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

    class Meta:
        abstract = True


class JobWait(TenantModel, Said):
    """What an open job waits for, as `scheduling.waiting` worked it out: kept for lists only."""

    travels = False  # worked out anew wherever the rows are

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="wait")
    room = models.ForeignKey(Room, on_delete=models.CASCADE, null=True, related_name="+")
    band = models.CharField(max_length=10)
    until = models.DateTimeField(null=True)
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
