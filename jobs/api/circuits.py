"""The circuit that feeds a room's elements, by the job's code profile."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output, Text
from config.paging import chosen
from config.tenancy import visible
from jobs.actions.worked_out import circuit_of
from jobs.api.shapes import QueryNumber
from jobs.models import Room
from jobs.requests import MemberRequest


class CircuitFilters(Input):
    one_way_m = QueryNumber(min_value=0, max_value=1000, required=False)
    breaker_a = QueryNumber(min_value=1, max_value=1000, required=False)
    conductor = Text(max_length=20, required=False)
    other_a = QueryNumber(min_value=0, max_value=1000, required=False)
    leakage_ma = QueryNumber(min_value=0.1, max_value=10_000, required=False)


class CircuitOutput(Output):
    loads = serializers.ListField(child=serializers.CharField())
    amps = serializers.FloatField()
    continuous_a = serializers.FloatField()
    breaker_a = serializers.FloatField()
    conductor = serializers.CharField()
    drop_volts = serializers.FloatField(
        allow_null=True, help_text="Null while the run's length is not known."
    )
    drop_fraction = serializers.FloatField(allow_null=True)


class RuleOutput(Output):
    rule = serializers.CharField()
    outcome = serializers.ChoiceField(choices=["holds", "fails", "required", "look up"])
    because = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]


class CircuitCheckOutput(Output):
    profile = serializers.CharField()
    circuits = CircuitOutput(many=True)
    controls = serializers.IntegerField(allow_null=True)
    findings = RuleOutput(many=True)
    not_checked = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class RoomCircuit(APIView):
    @extend_schema(parameters=[CircuitFilters], responses=CircuitCheckOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        room = visible(Room.objects.select_related("job"), request.user, pk=room_id)
        asked = chosen(request, CircuitFilters)
        found = circuit_of(request.user, room, **asked)
        return Response(CircuitCheckOutput(found).data)
