"""Messages to whom it concerns: notices, and dates that moved."""

from datetime import datetime
from typing import ClassVar, Self
from uuid import UUID

from django.db import models
from django.db.models import Q

from config.tenancy import M, SameContractor, TenantModel, TenantQuerySet
from jobs.models import Member, Room
from scheduling.models.claims import CLAIM_LASTS
from scheduling.models.curing import Decision
from scheduling.models.visits import Visit


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
