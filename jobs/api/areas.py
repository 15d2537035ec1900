"""The heatable area of a room, with the reason for every excluded part."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView
from shapely import MultiPolygon, Polygon

from config.fields import Input, Output
from config.paging import chosen
from config.tenancy import visible
from jobs.api.shapes import OutlineField, QueryNumber
from jobs.area import heatable_room, reaches
from jobs.models import KeepOut, Room
from jobs.requests import MemberRequest

# What a mat and its wire measure where nobody says; common practice, no source.
MAT_WIDTH_MM, SPACING_MM = 500.0, 75.0


class AreaFilters(Input):
    mat_width_mm = QueryNumber(min_value=1, max_value=10_000, required=False)
    spacing_mm = QueryNumber(min_value=1, max_value=1000, required=False)


class PieceOutput(Output):
    outline = OutlineField()
    holes = serializers.ListField(child=OutlineField())


class ExcludedOutput(Output):
    kind = serializers.CharField()
    because = serializers.CharField()
    area_m2 = serializers.FloatField()
    keep_out = serializers.IntegerField(allow_null=True)
    pieces = PieceOutput(many=True)


class ReachOutput(Output):
    reach = serializers.CharField(help_text="mat, loose wire, single run or apart")
    because = serializers.CharField()
    area_m2 = serializers.FloatField()
    pieces = PieceOutput(many=True)


class AreaOutput(Output):
    floor_m2 = serializers.FloatField()
    area_m2 = serializers.FloatField()
    pieces = PieceOutput(many=True)
    excluded = ExcludedOutput(many=True)
    reaches = ReachOutput(many=True)
    notes = serializers.ListField(child=serializers.CharField())


class HeatableArea(APIView):
    @extend_schema(parameters=[AreaFilters], responses=AreaOutput)
    def get(self, request: MemberRequest, room_id: str) -> Response:
        room = visible(Room.objects.all(), request.user, pk=room_id)
        asked = chosen(request, AreaFilters)
        keep_outs = KeepOut.objects.visible_to(request.user).filter(room=room)
        area = heatable_room(
            room.outline,
            list(keep_outs.order_by("position").values("kind", "outline", "margin_mm")),
            joints=room.joints,
            margins_mm=room.margins_mm,
            doorways=room.doorways,
        )
        parts = reaches(
            area,
            mat_width_mm=asked.get("mat_width_mm", MAT_WIDTH_MM),
            spacing_mm=asked.get("spacing_mm", SPACING_MM),
        )
        body = {
            "floor_m2": round(area.floor_m2, 4),
            "area_m2": round(area.area_m2, 4),
            "pieces": _pieces(area.polygon),
            "excluded": [
                _part(part, kind=part.kind, keep_out=part.keep_out) for part in area.excluded
            ],
            "reaches": [_part(part, reach=part.reach) for part in parts],
            "notes": area.notes,
        }
        return Response(AreaOutput(body).data)


def _part(part: Any, **named: Any) -> dict[str, Any]:
    return {
        **named,
        "because": part.because,
        "area_m2": round(part.area_m2, 4),
        "pieces": _pieces(part.shape),
    }


def _pieces(shape: Polygon | MultiPolygon) -> list[dict[str, Any]]:
    """Rings to a hundredth of a millimetre; the arcs have many chords."""
    return [
        {
            "outline": _ring(piece.exterior.coords),
            "holes": [_ring(hole.coords) for hole in piece.interiors],
        }
        for piece in getattr(shape, "geoms", [shape])
        if not piece.is_empty
    ]


def _ring(points: Any) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in list(points)[:-1]]
