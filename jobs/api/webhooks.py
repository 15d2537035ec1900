"""Webhooks: who of the contractor's other systems is told what, and what came of it."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.etags import etag, expected_version, guarded
from config.fields import Input, Instant, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write
from jobs.actions import webhooks
from jobs.models import Delivery, DeliveryAttempt, Webhook
from jobs.requests import MemberRequest
from jobs.webhook import EVENTS

MOST_REPLAYED = 1000


class WebhookInput(Input):
    url = Text(max_length=500, help_text="Begins with https://.")
    events = serializers.ListField(
        child=serializers.ChoiceField(choices=list(EVENTS)), min_length=1, max_length=len(EVENTS)
    )


class WebhookOutput(Output):
    id = serializers.UUIDField()
    version = serializers.IntegerField()
    url = serializers.CharField()
    events = serializers.ListField(child=serializers.CharField())
    made_at = Instant()
    rotated_at = Instant(allow_null=True)
    failing_since = Instant(allow_null=True, help_text="Since when it takes nothing.")
    disabled_at = Instant(allow_null=True, help_text="Given up after five days of failures.")
    removed_at = Instant(allow_null=True)


class SecretOutput(WebhookOutput):
    secret = serializers.CharField(help_text="Signs what is sent. Shown once.")


class DeliveryOutput(Output):
    id = serializers.UUIDField(help_text="Sent as webhook-id; the same each time.")
    webhook = serializers.UUIDField(source="webhook_id")
    event = serializers.CharField()
    made_at = Instant()
    attempts = serializers.IntegerField()
    send_after = Instant()
    settled_at = Instant(allow_null=True)
    outcome = serializers.CharField(help_text="delivered, given-up, or empty while it waits.")


class AttemptOutput(Output):
    at = Instant()
    took_ms = serializers.IntegerField()
    status = serializers.IntegerField(allow_null=True)
    error = serializers.CharField()
    answer = serializers.CharField(help_text="The beginning of what was answered.")


class LoggedDeliveryOutput(DeliveryOutput):
    body = serializers.CharField(help_text="What is sent, to the byte.")
    tries = AttemptOutput(many=True, source="log")


class WebhookList(ListView):
    @extend_schema(responses=WebhookOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        may_write(Webhook, request.user)
        rows = Webhook.objects.visible_to(request.user).filter(removed_at=None)
        return self.listing(request, rows, WebhookOutput)

    @extend_schema(request=WebhookInput, responses={201: SecretOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Have events sent to an address; the secret that signs them is shown once."""
        may_write(Webhook, request.user)
        sent = WebhookInput(data=request.data)
        sent.is_valid(raise_exception=True)
        row, secret = webhooks.add_webhook(
            by=request.user, at=timezone.now(), **sent.validated_data
        )
        return _shown(row, secret=secret, status=201)


class WebhookDetail(APIView):
    @extend_schema(responses=WebhookOutput)
    def get(self, request: MemberRequest, webhook_id: str) -> Response:
        return _shown(editable(Webhook.objects.all(), request.user, pk=webhook_id))

    @extend_schema(request=WebhookInput, responses=WebhookOutput)
    @guarded
    def patch(self, request: MemberRequest, webhook_id: str) -> Response:
        row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
        version = expected_version(request)
        sent = WebhookInput(data=request.data, partial=True)
        sent.is_valid(raise_exception=True)
        return _shown(webhooks.change_webhook(row=row, version=version, fields=sent.validated_data))

    @extend_schema(responses={200: WebhookOutput})
    @guarded
    def delete(self, request: MemberRequest, webhook_id: str) -> Response:
        """Send nothing more to it; its log stays."""
        row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
        version = expected_version(request)
        return _shown(webhooks.remove_webhook(row=row, version=version, at=timezone.now()))


class WebhookSecret(APIView):
    @extend_schema(request=None, responses={201: SecretOutput})
    @guarded
    @idempotent
    def post(self, request: MemberRequest, webhook_id: str) -> Response:
        """Make a new secret; for a day both sign."""
        row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
        version = expected_version(request)
        changed, secret = webhooks.rotate_secret(row=row, version=version, at=timezone.now())
        return _shown(changed, secret=secret, status=201)


class WebhookOn(APIView):
    @extend_schema(request=None, responses=WebhookOutput)
    @idempotent
    def post(self, request: MemberRequest, webhook_id: str) -> Response:
        """Send again to one that was given up, what it missed first."""
        row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
        return _shown(webhooks.switch_on(row=row, at=timezone.now()))


class WebhookTrial(APIView):
    @extend_schema(request=None, responses={202: DeliveryOutput})
    @idempotent
    def post(self, request: MemberRequest, webhook_id: str) -> Response:
        """Send an event that says nothing, to see whether it is taken."""
        row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
        made = webhooks.try_webhook(row=row, at=timezone.now())
        return Response(DeliveryOutput(made).data, status=202)


class ReplayInput(Input):
    since = Instant(help_text="Everything that happened from then on.")


class ReplayOutput(Output):
    count = serializers.IntegerField(help_text="At most 1000 at once, the oldest first.")


class WebhookReplay(APIView):
    @extend_schema(request=ReplayInput, responses={202: ReplayOutput})
    @idempotent
    def post(self, request: MemberRequest, webhook_id: str) -> Response:
        """Send everything since a time again, under the same ids."""
        row = editable(Webhook.objects.filter(removed_at=None), request.user, pk=webhook_id)
        sent = ReplayInput(data=request.data)
        sent.is_valid(raise_exception=True)
        rows = (
            Delivery.objects.visible_to(request.user)
            .filter(webhook=row, made_at__gte=sent.validated_data["since"])
            .select_related("webhook")
            .order_by("pk")
        )
        count = webhooks.replay(rows=list(rows[:MOST_REPLAYED]), at=timezone.now())
        return Response({"count": count}, status=202)


class DeliveryFilters(Input):
    webhook = serializers.UUIDField(required=False)
    event = serializers.ChoiceField(choices=list(EVENTS), required=False)
    outcome = serializers.ChoiceField(choices=["delivered", "given-up"], required=False)


class DeliveryList(ListView):
    @extend_schema(parameters=[DeliveryFilters], responses=DeliveryOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        may_write(Delivery, request.user)
        wanted = chosen(request, DeliveryFilters)
        rows = Delivery.objects.visible_to(request.user).filter(**wanted)
        return self.listing(request, rows, DeliveryOutput)


class DeliveryDetail(APIView):
    @extend_schema(responses=LoggedDeliveryOutput)
    def get(self, request: MemberRequest, delivery_id: str) -> Response:
        """A delivery with its log."""
        row: Any = editable(Delivery.objects.all(), request.user, pk=delivery_id)
        row.log = (
            DeliveryAttempt.objects.visible_to(request.user).filter(delivery=row).order_by("pk")
        )
        return Response(LoggedDeliveryOutput(row).data)


class DeliveryReplay(APIView):
    @extend_schema(request=None, responses={202: DeliveryOutput})
    @idempotent
    def post(self, request: MemberRequest, delivery_id: str) -> Response:
        """Send one delivery again, under the same id."""
        rows = Delivery.objects.select_related("webhook")
        row = editable(rows, request.user, pk=delivery_id)
        webhooks.replay(rows=[row], at=timezone.now())
        row.refresh_from_db()
        return Response(DeliveryOutput(row).data, status=202)


def _shown(row: Webhook, *, secret: str = "", status: int = 200) -> Response:
    body: dict[str, Any] = dict(WebhookOutput(row).data)
    if secret:
        body["secret"] = secret
    return Response(body, status=status, headers={"ETag": etag(row)})
