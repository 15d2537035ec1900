"""Layers and what is known of them; energize decisions, and the warm-up after them."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from config.tenancy import EITHER, SameContractor, TenantModel, VersionedModel
from jobs.models import Material, Member, Room


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
        indexes: ClassVar = [
            models.Index(
                fields=["contractor", "placed_at"],
                name="layer_covering_by_day",
                condition=Q(embeds=True, removed_at=None),
            )
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
