"""Proof that is no reading, and promised temperatures."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred
from jobs.models import Room
from jobs.requests import MemberRequest
from scheduling.actions import evidence
from scheduling.models import Evidence, Layer, Promise


class EvidenceInput(Input):
    client_id = serializers.UUIDField()
    room = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=Evidence.KINDS)
    outcome = serializers.ChoiceField(
        choices=Evidence.OUTCOMES,
        required=False,
        help_text="Of an open fault: `fail` while it stands, `pass` once it is closed.",
    )
    at = Instant()
    layer = serializers.UUIDField(required=False, allow_null=True)
    value = Number(min_value=0, max_value=100, required=False, allow_null=True)
    method = Text(max_length=40, required=False, allow_blank=True)
    name = Text(max_length=120, required=False, allow_blank=True)
    licence_number = Text(max_length=60, required=False, allow_blank=True)
    scope = Text(max_length=5000, required=False, allow_blank=True)
    note = Text(max_length=5000, required=False, allow_blank=True)


class EvidenceOutput(Output):
    id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    kind = serializers.CharField()
    outcome = serializers.CharField()
    at = Instant()
    received_at = Instant()
    layer = serializers.UUIDField(source="layer_id", allow_null=True)
    value = serializers.FloatField(allow_null=True)
    method = serializers.CharField()
    recorded_by = serializers.UUIDField(source="recorded_by_id")
    name = serializers.CharField()
    licence_number = serializers.CharField()
    scope = serializers.CharField()
    note = serializers.CharField()


class EvidenceFilters(Input):
    room = serializers.UUIDField(required=False)
    kind = serializers.ChoiceField(choices=Evidence.KINDS, required=False)


class PromiseInput(Input):
    room = serializers.UUIDField()
    starts_at = Instant()
    ends_at = Instant()
    celsius = Number(min_value=-40, max_value=70)


class PromiseOutput(Output):
    id = serializers.UUIDField()
    room = serializers.UUIDField(source="room_id")
    starts_at = Instant()
    ends_at = Instant()
    celsius = serializers.FloatField()
    made_at = Instant()
    made_by = serializers.UUIDField(source="made_by_id")
    withdrawn_at = Instant(allow_null=True)


class PromiseFilters(Input):
    room = serializers.UUIDField(required=False)


class EvidenceList(ListView):
    @extend_schema(parameters=[EvidenceFilters], responses=EvidenceOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, EvidenceFilters)
        rows = Evidence.objects.visible_to(request.user)
        if "room" in wanted:
            rows = rows.filter(room_id=wanted["room"])
        if "kind" in wanted:
            rows = rows.filter(kind=wanted["kind"])
        return self.listing(request, rows, EvidenceOutput)

    @extend_schema(request=EvidenceInput, responses={201: EvidenceOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Record a proof; a newer one of its kind replaces an older one."""
        may_write(Evidence, request.user)
        sent = EvidenceInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given: dict[str, Any] = dict(sent.validated_data)
        room = referred(Room.objects.all(), request.user, given.pop("room"), pointer="#/room")
        layer_id = given.pop("layer", None)
        layer = layer_id and referred(
            Layer.objects.filter(removed_at=None), request.user, layer_id, pointer="#/layer"
        )
        given.setdefault("outcome", "fail" if given["kind"] == "open-fault" else "pass")
        row = evidence.record_evidence(
            by=request.user,
            room=room,
            layer=layer,
            shown_at=given.pop("at"),
            at=timezone.now(),
            **given,
        )
        return Response(EvidenceOutput(row).data, status=201)


class PromiseList(ListView):
    @extend_schema(parameters=[PromiseFilters], responses=PromiseOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, PromiseFilters)
        rows = Promise.objects.visible_to(request.user)
        if "room" in wanted:
            rows = rows.filter(room_id=wanted["room"])
        return self.listing(request, rows, PromiseOutput)

    @extend_schema(request=PromiseInput, responses={201: PromiseOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Note a temperature that the site promises to keep."""
        may_write(Promise, request.user)
        sent = PromiseInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given: dict[str, Any] = dict(sent.validated_data)
        room = referred(Room.objects.all(), request.user, given.pop("room"), pointer="#/room")
        row = evidence.promise(by=request.user, room=room, at=timezone.now(), **given)
        return Response(PromiseOutput(row).data, status=201)


class PromiseDetail(APIView):
    @extend_schema(responses={204: None})
    def delete(self, request: MemberRequest, promise_id: str) -> Response:
        """Stop counting on a promise; it stays in the record as withdrawn."""
        promise = editable(Promise.objects.all(), request.user, pk=promise_id)
        evidence.withdraw_promise(promise=promise, at=timezone.now())
        return Response(status=204)
