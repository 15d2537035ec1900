"""Faults on the record: where an element is damaged, as somebody found it."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Instant, Number, Output, Text
from config.idempotency import idempotent
from config.paging import ListView, chosen
from config.tenancy import editable, may_write, referred, visible
from jobs.models import Element, Room
from jobs.requests import MemberRequest
from readings.actions import faults_found
from readings.actions.faults_found import Told, told_of, with_drawings
from readings.api.elements import PlaceOutput
from readings.models import FaultFound


class FaultFoundInput(Input):
    client_id = serializers.UUIDField()
    room = serializers.UUIDField()
    element = serializers.UUIDField()
    method = serializers.ChoiceField(choices=FaultFound.METHODS)
    construction = serializers.ChoiceField(
        choices=FaultFound.CONSTRUCTIONS,
        help_text="twin-return: the return core has next to no ohms.",
    )
    measured_from = serializers.ChoiceField(
        choices=FaultFound.ENDS, help_text="The lead from which the fraction counts."
    )
    fraction = Number(
        help_text="From 0 to 1: of the ohms from end to end, leads included; of the length of the "
        "heating cable with `open_core` and `reflectometer`."
    )
    tolerance = Number(help_text="The ± of the fraction, 19 times in 20; above 0, up to 0.5.")
    loop_ohms = Number(
        min_value=0.001,
        max_value=1e9,
        required=False,
        allow_null=True,
        help_text="End to end as measured, leads included; left out, the tag's ohms.",
    )
    found_at = Instant()
    note = Text(max_length=5000, required=False, allow_blank=True)


class FaultFoundOutput(Output):
    id = serializers.UUIDField(source="row.id")
    client_id = serializers.UUIDField(source="row.client_id")
    room = serializers.UUIDField(source="row.room_id")
    element = serializers.UUIDField(source="row.element_id")
    method = serializers.CharField(source="row.method")
    construction = serializers.CharField(source="row.construction")
    measured_from = serializers.CharField(source="row.measured_from")
    fraction = serializers.FloatField(source="row.fraction")
    tolerance = serializers.FloatField(source="row.tolerance")
    loop_ohms = serializers.FloatField(source="row.loop_ohms", allow_null=True)
    found_at = Instant(source="row.found_at")
    received_at = Instant(source="row.received_at")
    found_by = serializers.UUIDField(source="row.found_by_id")
    note = serializers.CharField(source="row.note")
    places = PlaceOutput(many=True, help_text="By the drawing of the room that counts now.")
    stands = serializers.BooleanField(
        help_text="Neither voided, nor repaired by a joint since, nor is the element removed."
    )
    repaired_at = Instant(allow_null=True, help_text="When the element was joined after it.")
    voided_at = Instant(source="row.voided_at", allow_null=True)
    voided_by = serializers.UUIDField(source="row.voided_by_id", allow_null=True)
    void_reason = serializers.CharField(source="row.void_reason")


@extend_schema_field(FaultFoundOutput)
class FaultRow(serializers.BaseSerializer[Any]):
    """A row that was read `with_drawings`, as `FaultFoundOutput` shows it."""

    def to_representation(self, instance: FaultFound) -> Any:
        return FaultFoundOutput(told_of(instance)).data


class FaultFilters(Input):
    room = serializers.UUIDField(required=False)
    element = serializers.UUIDField(required=False)


class FaultVoidInput(Input):
    reason = Text(max_length=300)


class FaultList(ListView):
    @extend_schema(parameters=[FaultFilters], responses=FaultFoundOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        wanted = chosen(request, FaultFilters)
        rows = FaultFound.objects.visible_to(request.user)
        if "room" in wanted:
            rows = rows.filter(room_id=wanted["room"])
        if "element" in wanted:
            rows = rows.filter(element_id=wanted["element"])
        return self.listing(request, with_drawings(rows), FaultRow)

    @extend_schema(request=FaultFoundInput, responses={201: FaultFoundOutput})
    @idempotent
    def post(self, request: MemberRequest) -> Response:
        """Record where a fault was found; it stands until it is repaired or voided."""
        may_write(FaultFound, request.user)
        sent = FaultFoundInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given: dict[str, Any] = dict(sent.validated_data)
        room = referred(Room.objects.all(), request.user, given.pop("room"), pointer="#/room")
        elements = Element.objects.select_related("material")
        element = referred(elements, request.user, given.pop("element"), pointer="#/element")
        row = faults_found.record_fault(
            by=request.user, room=room, element=element, at=timezone.now(), **given
        )
        return _shown(request, row, status=201)


class FaultDetail(APIView):
    @extend_schema(responses=FaultFoundOutput)
    def get(self, request: MemberRequest, fault_id: str) -> Response:
        return _shown(request, visible(FaultFound.objects.all(), request.user, pk=fault_id))


class FaultVoiding(APIView):
    @extend_schema(request=FaultVoidInput, responses=FaultFoundOutput)
    @idempotent
    def post(self, request: MemberRequest, fault_id: str) -> Response:
        """Say that a fault was recorded wrongly, and why; it stays in the record."""
        row = editable(FaultFound.objects.all(), request.user, pk=fault_id)
        sent = FaultVoidInput(data=request.data)
        sent.is_valid(raise_exception=True)
        voided = faults_found.void_fault(
            by=request.user,
            fault=row,
            reason=sent.validated_data["reason"],
            at=timezone.now(),
        )
        return _shown(request, voided)


def _shown(request: MemberRequest, row: FaultFound, status: int = 200) -> Response:
    found: Told = told_of(visible(with_drawings(FaultFound.objects.all()), request.user, pk=row.pk))
    return Response(FaultFoundOutput(found).data, status=status)
