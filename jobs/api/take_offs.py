"""What to order for a room, as data and as a list to order by."""

from uuid import UUID

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output, Text
from config.paging import chosen
from config.tenancy import visible
from jobs.actions.worked_out import order_of
from jobs.api.shapes import AsCsv
from jobs.models import Room
from jobs.ordering import order_csv
from jobs.quantities import TakeOff
from jobs.requests import MemberRequest

MOST_MATERIALS = 100


class TakeOffFilters(Input):
    materials = Text(
        max_length=40 * MOST_MATERIALS,
        required=False,
        help_text="Ids with commas between them; without it the only one of each kind.",
    )

    def validate_materials(self, value: str) -> list[UUID]:
        try:
            return [UUID(part.strip()) for part in value.split(",")]
        except ValueError as refused:
            raise serializers.ValidationError("Give ids with commas between them.") from refused


class LineOutput(Output):
    use = serializers.CharField()
    name = serializers.CharField()
    needed = serializers.FloatField()
    unit = serializers.CharField()
    waste_fraction = serializers.FloatField()
    holds = serializers.FloatField()
    exact = serializers.FloatField()
    packages = serializers.IntegerField()
    package = serializers.CharField()
    left_over = serializers.FloatField()
    because = serializers.CharField()


class TakeOffOutput(Output):
    lines = LineOutput(many=True)
    not_counted = serializers.ListField(child=serializers.CharField())


class RoomTakeOff(APIView):
    @extend_schema(parameters=[TakeOffFilters], responses=TakeOffOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        return Response(TakeOffOutput(_order(request, room_id)).data)


class RoomTakeOffCsv(APIView):
    renderer_classes = (AsCsv,)

    @extend_schema(parameters=[TakeOffFilters], responses={(200, "text/csv"): OpenApiTypes.STR})
    def get(self, request: MemberRequest, room_id: str) -> Response:
        name = 'attachment; filename="order.csv"'
        order = order_csv(_order(request, room_id))
        return Response(order, headers={"Content-Disposition": name})


def _order(request: MemberRequest, room_id: str) -> TakeOff:
    room = visible(Room.objects.all(), request.user, pk=room_id)
    return order_of(request.user, room, chosen(request, TakeOffFilters).get("materials"))
