"""What other systems are told, and how that went."""

from datetime import datetime, timedelta
from typing import ClassVar, Self
from uuid import UUID

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from config.tenancy import SameContractor, TenantModel, TenantQuerySet, VersionedModel
from jobs.models.people import Member


class Webhook(VersionedModel):
    """An address that another system gave, and the events that are sent to it.

    Its secret is not kept: it follows from the installation's key, the id and `generation`.
    """

    travels = False  # it is signed with the key of this installation

    url = models.CharField(max_length=500)
    events = ArrayField(models.CharField(max_length=30))
    generation = models.PositiveSmallIntegerField(default=1)
    rotated_at = models.DateTimeField(null=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    # Since when nothing came through, and until when it is left in peace.
    failing_since = models.DateTimeField(null=True)
    failures = models.PositiveSmallIntegerField(default=0)
    quiet_until = models.DateTimeField(null=True)
    # Given up after a long failure; the office is told once.
    disabled_at = models.DateTimeField(null=True)
    told_at = models.DateTimeField(null=True)
    removed_at = models.DateTimeField(null=True)

    class Meta(VersionedModel.Meta):
        constraints: ClassVar = [
            *VersionedModel.Meta.constraints,
            SameContractor(field="made_by", name="webhook_maker_same_contractor"),
            models.UniqueConstraint(
                fields=["contractor", "url"],
                condition=Q(removed_at__isnull=True),
                name="webhook_once_per_url",
            ),
        ]


class DeliveryQuerySet(TenantQuerySet["Delivery"]):
    def due(self, at: datetime) -> Self:
        """Deliveries that wait for a sender, and of which the receiver is not left in peace."""
        return self.filter(
            Q(claimed_at__isnull=True) | Q(claimed_at__lt=at - Delivery.CLAIM_LASTS),
            Q(webhook__quiet_until__isnull=True) | Q(webhook__quiet_until__lte=at),
            settled_at__isnull=True,
            send_after__lte=at,
            webhook__disabled_at__isnull=True,
            webhook__removed_at__isnull=True,
        )

    def claim(self, delivery_id: UUID, *, at: datetime) -> bool:
        """Take a delivery for sending; False means that another worker was first."""
        due = self.due(at).filter(pk=delivery_id).values("pk")
        return self.filter(pk__in=due).update(claimed_at=at) == 1


class Delivery(TenantModel):
    """One event on its way to one webhook; its id stays the same however often it is sent."""

    travels = False  # sent from this installation

    CLAIM_LASTS: ClassVar = timedelta(seconds=60)
    OUTCOMES: ClassVar = [(name, name) for name in ("delivered", "given-up")]

    webhook = models.ForeignKey(Webhook, on_delete=models.PROTECT, related_name="deliveries")
    event = models.CharField(max_length=30)
    # What is sent, to the byte: the signature is over it.
    body = models.TextField()
    made_at = models.DateTimeField()
    send_after = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    settled_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=10, choices=OUTCOMES, blank=True)

    objects = DeliveryQuerySet.as_manager()  # type: ignore[misc]

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="webhook", name="delivery_webhook_same_contractor"),
            models.CheckConstraint(
                condition=Q(settled_at__isnull=True, outcome="")
                | (Q(settled_at__isnull=False) & ~Q(outcome="")),
                name="delivery_settled_with_outcome",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["send_after"], condition=Q(settled_at__isnull=True), name="delivery_open"
            ),
            models.Index(fields=["webhook", "-id"], name="delivery_by_webhook"),
        ]


class DeliveryAttempt(TenantModel):
    """One try to deliver: what the receiver answered, or why there was no answer."""

    travels = False  # sent from this installation

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="tries")
    at = models.DateTimeField()
    took_ms = models.PositiveIntegerField()
    status = models.PositiveSmallIntegerField(null=True)
    error = models.CharField(max_length=200, blank=True)
    # The beginning of what it answered.
    answer = models.CharField(max_length=500, blank=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="delivery", name="deliveryattempt_delivery_same_contractor"),
        ]
