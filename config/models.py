"""Tables of the API's manners: device tokens and remembered answers."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from config.tenancy import FIELD, OFFICE, VIEWER, SameContractor, TenantModel


class DeviceToken(TenantModel):
    """What one device of one member shows instead of a password; only its digest is kept."""

    written_by: ClassVar[frozenset[str]] = frozenset({OFFICE, FIELD, VIEWER})
    travels = False  # it opens this installation only

    member = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="device_tokens"
    )
    name = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    issued_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="member", name="token_member_same_contractor"),
        ]


class Answer(TenantModel):
    """What was answered to an `Idempotency-Key`, so that sending again changes nothing."""

    travels = False  # whoever sends again sends it here

    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    body = models.JSONField(null=True)
    headers = models.JSONField(default=dict)
    answered_at = models.DateTimeField()

    class Meta(TenantModel.Meta):
        constraints: ClassVar = [
            *TenantModel.Meta.constraints,
            SameContractor(field="member", name="answer_member_same_contractor"),
            models.UniqueConstraint(fields=["member", "key"], name="answer_once_per_key"),
        ]
        indexes: ClassVar = [models.Index(fields=["answered_at"], name="answer_by_age")]
