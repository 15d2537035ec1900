"""The proof: instruments, checks, readings, site temperatures."""

import json
from typing import Any, ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.utils.functional import cached_property

from config.tenancy import EITHER, SameContractor, TenantModel, VersionedModel
from jobs.models import Element, FloorSensor, Job, Member, Room

STAGES = ("arrival", "laid", "covered", "handover", "service")
OUTCOMES = ("pass", "fail", "undecided")
KINDS = (
    "element",  # core to core, ohms
    "lead_to_ground",  # a meter's ohms between a lead and the screen: only a first look
    "insulation",  # megohms at a test voltage
    "sensor",  # the floor sensor's ohms
    "supply",  # volts
    "load",  # amperes
)


class Instrument(VersionedModel):
    """A meter of the contractor, with its calibration."""

    written_by: ClassVar[frozenset[str]] = EITHER

    name = models.CharField(max_length=80)
    serial = models.CharField(max_length=60, blank=True)
    calibrated_on = models.DateField(null=True)
    calibration_due_on = models.DateField(null=True)
    # Test leads and contacts, nulled or not: the most that they add, in ohms.
    lead_ohms = models.FloatField(default=0.0)
    retired_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            models.UniqueConstraint(
                fields=["contractor", "name"],
                condition=Q(retired_at__isnull=True),
                name="instrument_name_once_per_contractor",
            ),
            models.CheckConstraint(
                condition=Q(lead_ohms__gte=0), name="instrument_leads_not_negative"
            ),
        ]


class InstrumentRange(TenantModel):
    """One range of a meter, its figures in its quantity; insulation is tested at `test_volts`."""

    QUANTITIES: ClassVar = [(name, name) for name in ("ohms", "megohms", "volts", "amps")]

    instrument = models.ForeignKey(Instrument, on_delete=models.CASCADE, related_name="ranges")
    name = models.CharField(max_length=40)
    quantity = models.CharField(max_length=16, choices=QUANTITIES)
    full_scale = models.FloatField()
    resolution = models.FloatField()
    percent_of_reading = models.FloatField()
    digits = models.FloatField()
    test_volts = models.FloatField(null=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="instrument", name="range_instrument_same_contractor"),
            models.UniqueConstraint(
                fields=["instrument", "name"], name="range_name_once_per_instrument"
            ),
            models.CheckConstraint(
                condition=Q(full_scale__gt=0)
                & Q(resolution__gt=0)
                & Q(percent_of_reading__gte=0)
                & Q(digits__gte=0),
                name="range_figures_plausible",
            ),
        ]


class Check(TenantModel):
    """A visit with a meter. Never edited, never deleted: a trigger sees to it.

    `content` is what was sent and how it was accepted, as canonical JSON text; `digest` covers it
    and `previous_digest`, so that the checks of a room form a chain in the order in which they were
    accepted. The other columns and the readings are copies of it, for queries.
    """

    written_by: ClassVar[frozenset[str]] = EITHER

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="checks")
    client_id = models.UUIDField()
    sequence = models.PositiveIntegerField()
    stage = models.CharField(max_length=10, choices=[(s, s) for s in STAGES])
    taken_at = models.DateTimeField()
    received_at = models.DateTimeField()
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, related_name="superseded_by"
    )
    outcome = models.CharField(max_length=10, choices=[(o, o) for o in OUTCOMES])
    # What is odd about it, in words: out of order, a phone's clock that is wrong, ...
    flags = ArrayField(models.CharField(max_length=200), default=list)
    note = models.TextField(blank=True)
    content = models.TextField()
    previous_digest = models.CharField(max_length=64, blank=True)
    digest = models.CharField(max_length=64)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="check_room_same_contractor"),
            SameContractor(field="taken_by", name="check_member_same_contractor"),
            SameContractor(field="supersedes", name="check_supersedes_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="check_once_per_client_id"
            ),
            models.UniqueConstraint(fields=["room", "sequence"], name="check_once_per_sequence"),
            models.CheckConstraint(condition=Q(stage__in=STAGES), name="check_stage_known"),
        ]
        # The latest checks of a stage are looked up each time a check is accepted.
        indexes: ClassVar = [
            models.Index(fields=["room", "stage", "-sequence"], name="check_by_stage")
        ]

    @cached_property
    def record(self) -> dict[str, Any]:
        """`content` as data: what was `sent`, and how it was `accepted`."""
        return dict(json.loads(self.content))


class Reading(TenantModel):
    """One measured value of a check, with the verdict that it was given."""

    written_by: ClassVar[frozenset[str]] = EITHER

    # `check` is a name of Django's models; the column is check_id all the same.
    visit = models.ForeignKey(
        Check, on_delete=models.PROTECT, related_name="readings", db_column="check_id"
    )
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=16, choices=[(k, k) for k in KINDS])
    element = models.ForeignKey(Element, on_delete=models.PROTECT, null=True, related_name="+")
    sensor = models.ForeignKey(FloorSensor, on_delete=models.PROTECT, null=True, related_name="+")
    lead = models.CharField(max_length=20, blank=True)
    value = models.FloatField(null=True)
    over_range = models.BooleanField(default=False)
    instrument_range = models.ForeignKey(
        InstrumentRange, on_delete=models.PROTECT, null=True, related_name="+"
    )
    # The temperature of what was measured, where somebody looked.
    at_c = models.FloatField(null=True)
    outcome = models.CharField(max_length=10, choices=[(o, o) for o in OUTCOMES])
    because = models.TextField()
    # The verdict's figures (limits, uncertainty, probability), for "How this was worked out".
    figures = models.JSONField(default=dict)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="visit", name="reading_check_same_contractor"),
            SameContractor(field="element", name="reading_element_same_contractor"),
            SameContractor(field="sensor", name="reading_sensor_same_contractor"),
            SameContractor(field="instrument_range", name="reading_range_same_contractor"),
            models.UniqueConstraint(fields=["visit", "position"], name="reading_once_per_position"),
            models.CheckConstraint(
                condition=Q(over_range=True, value__isnull=True)
                | Q(over_range=False, value__isnull=False),
                name="reading_is_value_or_over_range",
            ),
        ]


class SiteTemperature(TenantModel):
    """A temperature of a room (or of the whole site), as somebody or something read it."""

    written_by: ClassVar[frozenset[str]] = EITHER
    SOURCES: ClassVar = [(name, name) for name in ("thermometer", "logger", "floor_sensor")]

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="temperatures")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, null=True, related_name="temperatures")
    client_id = models.UUIDField()
    at = models.DateTimeField()
    celsius = models.FloatField()
    uncertainty_k = models.FloatField(default=0.0)
    # Relative humidity of the air there and then, where somebody looked.
    humidity_percent = models.FloatField(null=True)
    source = models.CharField(max_length=12, choices=SOURCES)
    source_name = models.CharField(max_length=80, blank=True)
    received_at = models.DateTimeField()
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="job", name="sitetemperature_job_same_contractor"),
            SameContractor(field="room", name="sitetemperature_room_same_contractor"),
            SameContractor(field="taken_by", name="sitetemperature_member_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="sitetemperature_once_per_client_id"
            ),
            models.CheckConstraint(
                condition=Q(celsius__gte=-40) & Q(celsius__lte=70),
                name="sitetemperature_plausible",
            ),
            models.CheckConstraint(
                condition=Q(humidity_percent__isnull=True)
                | (Q(humidity_percent__gte=0) & Q(humidity_percent__lte=100)),
                name="sitetemperature_humidity_plausible",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["job", "at"], name="sitetemperature_by_time")]


class MonitorEvent(TenantModel):
    """What a continuity monitor on the leads said while the floor was covered."""

    written_by: ClassVar[frozenset[str]] = EITHER
    KINDS: ClassVar = [(name, name) for name in ("started", "alive", "alarm", "stopped")]

    element = models.ForeignKey(Element, on_delete=models.PROTECT, related_name="monitor_events")
    client_id = models.UUIDField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=8, choices=KINDS)
    received_at = models.DateTimeField()

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="element", name="monitorevent_element_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="monitorevent_once_per_client_id"
            ),
        ]


class FaultFound(TenantModel):
    """Where an element is damaged, as somebody measured it. Frozen; may be voided once.

    `fraction` is counted from the end `measured_from`, of the ohms (with a method by length, of
    the heating cable), `tolerance` is its ± 19 times in 20. What places they mean, the drawing
    that counts tells.
    """

    written_by: ClassVar[frozenset[str]] = EITHER
    METHODS: ClassVar = [
        (name, name)
        for name in (
            "core_to_ground",
            "bridge",
            "bridge_with_dial",
            "core_to_core",
            "open_core",
            "reflectometer",
        )
    ]
    CONSTRUCTIONS: ClassVar = [(name, name) for name in ("single", "twin-equal", "twin-return")]
    ENDS: ClassVar = [(name, name) for name in ("A", "B", "unknown")]

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="faults")
    element = models.ForeignKey(Element, on_delete=models.PROTECT, related_name="faults")
    client_id = models.UUIDField()
    method = models.CharField(max_length=16, choices=METHODS)
    construction = models.CharField(max_length=11, choices=CONSTRUCTIONS)
    measured_from = models.CharField(max_length=7, choices=ENDS)
    fraction = models.FloatField()
    tolerance = models.FloatField()
    # End to end as measured, cold leads included; without it the tag's ohms stand for it.
    loop_ohms = models.FloatField(null=True)
    found_at = models.DateTimeField()
    received_at = models.DateTimeField()
    found_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True)
    voided_at = models.DateTimeField(null=True)
    voided_by = models.ForeignKey(Member, on_delete=models.PROTECT, null=True, related_name="+")
    void_reason = models.CharField(max_length=300, blank=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="room", name="faultfound_room_same_contractor"),
            SameContractor(field="element", name="faultfound_element_same_contractor"),
            SameContractor(field="found_by", name="faultfound_finder_same_contractor"),
            SameContractor(field="voided_by", name="faultfound_voider_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "client_id"], name="faultfound_once_per_client_id"
            ),
            models.CheckConstraint(
                condition=Q(fraction__gte=0, fraction__lte=1), name="faultfound_on_the_element"
            ),
            models.CheckConstraint(
                condition=Q(tolerance__gt=0, tolerance__lte=0.5),
                name="faultfound_tolerance_plausible",
            ),
            models.CheckConstraint(
                condition=Q(loop_ohms__isnull=True) | Q(loop_ohms__gt=0),
                name="faultfound_loop_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(voided_at__isnull=True, voided_by__isnull=True, void_reason="")
                | Q(voided_at__isnull=False, voided_by__isnull=False) & ~Q(void_reason=""),
                name="faultfound_voided_at_by_and_why",
            ),
        ]
