"""May somebody fasten here?"""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Output
from config.paging import chosen
from jobs.api.drawings import DrawingFilters, drawn_for, words_for
from jobs.api.shapes import FARTHEST_MM, PointField, QueryNumber
from jobs.clearance import Clearance, may_fasten, recorded
from jobs.plan_picture import PlanPicture, view
from jobs.requests import MemberRequest


class Coordinate(QueryNumber):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=-FARTHEST_MM, max_value=FARTHEST_MM, **kwargs)


class ClearanceFilters(DrawingFilters):
    """A point, or a line to a second one."""

    x_mm = Coordinate()
    y_mm = Coordinate()
    to_x_mm = Coordinate(required=False)
    to_y_mm = Coordinate(required=False)
    depth_mm = QueryNumber(min_value=0.1, max_value=10_000)
    drill_mm = QueryNumber(min_value=0.1, max_value=1000)
    where_u_mm = QueryNumber(
        min_value=0,
        max_value=10_000,
        required=False,
        help_text="How well the asked place itself is known.",
    )
    measured = serializers.ChoiceField(
        choices=[
            ("room", "in the room's coordinates"),
            ("door", "from the corner left of the door"),
        ],
        required=False,
    )

    def validate(self, attrs: Any) -> Any:
        if ("to_x_mm" in attrs) != ("to_y_mm" in attrs):
            raise serializers.ValidationError("A line ends at to_x_mm and to_y_mm.")
        return attrs


class ClearanceOutput(Output):
    answer = serializers.ChoiceField(
        choices=["keep out", "only after locating on site", "no cable recorded"]
    )
    says = serializers.CharField()
    distance_mm = serializers.FloatField(allow_null=True)
    reach_mm = serializers.FloatField()
    within_mm = serializers.FloatField(allow_null=True)
    nearest = PointField(allow_null=True)
    because = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class ClearanceAnswer(APIView):
    @extend_schema(parameters=[ClearanceFilters], responses=ClearanceOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        shown = drawn_for(request, room_id)
        asked = chosen(request, ClearanceFilters)
        return Response(ClearanceOutput(_answer(shown, asked, words_for(request, asked))).data)


def _answer(shown: PlanPicture, asked: dict[str, Any], words: dict[str, Any]) -> Clearance:
    where = [(asked["x_mm"], asked["y_mm"])]
    if "to_x_mm" in asked:
        where.append((asked["to_x_mm"], asked["to_y_mm"]))
    if asked.get("measured") == "door":
        where = [view(shown).stored(point) for point in where]
    return may_fasten(
        recorded(shown),
        where,
        depth_mm=asked["depth_mm"],
        drill_mm=asked["drill_mm"],
        where_u_mm=asked.get("where_u_mm", 0.0),
        **words,
    )
