"""The plan of a room as a drawing, as numbers and as files for those who draw."""

from dataclasses import replace
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output, Text
from config.paging import chosen
from config.tenancy import visible
from jobs import plan_picture
from jobs.actions.pictures import stored_picture
from jobs.api.shapes import AsDxf, AsGeoJson, AsSvg
from jobs.drawing import SCALES, draw
from jobs.exchange import to_dxf, to_geojson
from jobs.models import LANGUAGES, UNITS, Room
from jobs.plan_picture import PlanPicture
from jobs.requests import MemberRequest
from jobs.wire import UnusableWire, fault_spots, wire


class DrawingFilters(Input):
    language = serializers.ChoiceField(choices=LANGUAGES, required=False)
    units = serializers.ChoiceField(choices=UNITS, required=False)


class SvgFilters(DrawingFilters):
    faults = Text(
        max_length=200,
        required=False,
        help_text="Candidates as `fraction:uncertainty`, with commas between, of `element`.",
    )
    element = serializers.IntegerField(min_value=0, max_value=100, required=False)
    scale = serializers.ChoiceField(
        choices=[(scale, f"1:{scale}") for scale in SCALES],
        required=False,
        help_text="Prints to this scale; without one it fits the page.",
    )

    def validate_faults(self, value: str) -> list[tuple[float, float]]:
        try:
            pairs = [part.split(":") for part in value.split(",")]
            return [(float(fraction), float(u)) for fraction, u in pairs]
        except ValueError as refused:
            raise serializers.ValidationError("Write 0.38:0.02,0.62:0.02.") from refused


class PlanRowOutput(Output):
    mark = serializers.CharField()
    what = serializers.CharField()
    right_mm = serializers.ListField(child=serializers.FloatField())
    into_mm = serializers.ListField(child=serializers.FloatField())
    right = serializers.CharField()
    into = serializers.CharField()


class PlanTableOutput(Output):
    title = serializers.CharField()
    caption = serializers.CharField()
    measured_from = serializers.CharField()
    points = PlanRowOutput(many=True)
    walls = PlanRowOutput(many=True)
    runs = PlanRowOutput(many=True)


class GeoJsonOutput(Output):
    type = serializers.CharField()
    coordinates_in = serializers.CharField()
    basis = serializers.CharField()
    tolerance_mm = serializers.FloatField(allow_null=True)
    features = serializers.ListField(child=serializers.DictField())


def drawn_for(request: MemberRequest, room_id: str) -> PlanPicture:
    """The room as it is recorded, with the drawing that counts."""
    return stored_picture(request.user, visible(Room.objects.all(), request.user, pk=room_id))


def with_faults(
    shown: PlanPicture, element: int, candidates: list[tuple[float, float]]
) -> PlanPicture:
    """Mark where a fault of an element is likely; raises UnusableWire if it is not drawn."""
    if element >= len(shown.cables):
        raise UnusableWire("No such element is drawn.", pointer="#/element")
    cable = shown.cables[element]
    return replace(shown, faults=fault_spots(wire(cable.path, cable.chainage_mm), candidates))


def words_for(request: MemberRequest, asked: dict[str, Any]) -> dict[str, Any]:
    """Language and units as asked, else those of the member and the contractor."""
    return {
        "language": asked.get("language", request.user.language),
        "system": asked.get("units", request.user.contractor.units),
    }


class PlanSvg(APIView):
    renderer_classes = (AsSvg,)

    @extend_schema(parameters=[SvgFilters], responses={(200, "image/svg+xml"): OpenApiTypes.STR})
    def get(self, request: MemberRequest, room_id: str) -> Response:
        shown = drawn_for(request, room_id)
        asked = chosen(request, SvgFilters)
        scale = asked.get("scale")
        if "faults" in asked:
            shown = with_faults(shown, asked.get("element", 0), asked["faults"])
        return Response(draw(shown, scale=scale, **words_for(request, asked)))


class PlanTable(APIView):
    @extend_schema(parameters=[DrawingFilters], responses=PlanTableOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        """The drawing in words and numbers."""
        shown = drawn_for(request, room_id)
        words = words_for(request, chosen(request, DrawingFilters))
        body = {
            "title": plan_picture.title(shown, **words),
            "caption": plan_picture.caption(shown, language=words["language"]),
            "measured_from": plan_picture.measured_from(shown, words["language"]),
            "points": plan_picture.points(shown, **words),
            "walls": plan_picture.walls(shown, **words),
            "runs": plan_picture.cable_runs(shown, **words),
        }
        return Response(PlanTableOutput(body).data)


class PlanGeoJson(APIView):
    renderer_classes = (AsGeoJson,)

    @extend_schema(responses={(200, "application/geo+json"): GeoJsonOutput})
    def get(self, request: MemberRequest, room_id: str) -> Response:
        return Response(to_geojson(drawn_for(request, room_id)))


class PlanDxf(APIView):
    renderer_classes = (AsDxf,)

    @extend_schema(responses={(200, "image/vnd.dxf"): OpenApiTypes.STR})
    def get(self, request: MemberRequest, room_id: str) -> Response:
        drawing = to_dxf(drawn_for(request, room_id))
        name = 'attachment; filename="plan.dxf"'
        return Response(drawing, headers={"Content-Disposition": name})
