"""Generic sensor curves, and which of them would fit a reading."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from config.fields import Input, Output
from config.paging import chosen
from jobs.requests import MemberRequest
from readings.sensor import Entry, catalogue, fitting

CELSIUS = (-20, -10, 0, 5, 10, 15, 20, 25, 30, 35, 40, 50, 60)


class CurveFilters(Input):
    ohms = serializers.FloatField(min_value=0.001, required=False)
    at_c = serializers.FloatField(
        min_value=-40, max_value=100, required=False, help_text="With `ohms`: which curves fit."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("ohms" in attrs) != ("at_c" in attrs):
            raise serializers.ValidationError("Give `ohms` and `at_c` together.")
        return attrs


class CurveOutput(Output):
    key = serializers.CharField()
    name = serializers.CharField()
    source = serializers.CharField(help_text="Where its figures come from.")  # type: ignore[assignment]
    points = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField()),
        help_text="Pairs of °C and ohms, for a material of kind sensor.",
    )


class CurveList(APIView):
    @extend_schema(parameters=[CurveFilters], responses=CurveOutput(many=True))
    def get(self, request: MemberRequest) -> Response:
        """Generic curves, no maker's: what is printed for the sensor at hand rules."""
        wanted = chosen(request, CurveFilters)
        entries = fitting(wanted["ohms"], wanted["at_c"]) if wanted else catalogue()
        return Response(CurveOutput([_shown(one) for one in entries], many=True).data)


def _shown(one: Entry) -> dict[str, Any]:
    return {
        "key": one.key,
        "name": one.name,
        "source": one.source,
        "points": [[celsius, round(one.curve.ohms_at(celsius), 1)] for celsius in CELSIUS],
    }
