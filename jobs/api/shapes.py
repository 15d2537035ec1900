"""Points, lengths and drawings as they go over the API; all in millimetres."""

from math import isfinite
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import renderers, serializers

from config.fields import Number
from jobs.units import UnreadableLength, length_mm

# A room of a kilometre is a mix-up of units; so is a corner there.
FARTHEST_MM = 1_000_000.0
MOST_CORNERS = 500


class PointField(serializers.ListField):
    child: serializers.Field[Any, Any, Any, Any] = Number(
        min_value=-FARTHEST_MM, max_value=FARTHEST_MM
    )

    def __init__(self, **kwargs: Any) -> None:
        what = "A point is two numbers in millimetres: [x, y]."
        wrong: dict[str, Any] = dict.fromkeys(("not_a_list", "min_length", "max_length"), what)
        super().__init__(min_length=2, max_length=2, error_messages=wrong, **kwargs)


class OutlineField(serializers.ListField):
    child = PointField()

    def __init__(self, **kwargs: Any) -> None:
        what = "An outline is a list of points in millimetres: [[x, y], [x, y], [x, y]]."
        kwargs.setdefault("max_length", MOST_CORNERS)
        wrong: dict[str, Any] = {"not_a_list": what}
        super().__init__(error_messages=wrong, **kwargs)


class QueryNumber(serializers.FloatField):
    """A finite number in a query string."""

    def to_internal_value(self, data: Any) -> float:
        value = float(super().to_internal_value(data))
        if not isfinite(value):
            self.fail("invalid")
        return value


@extend_schema_field({"oneOf": [{"type": "number"}, {"type": "string"}]})
class Length(serializers.Field[float, Any, float, Any]):
    """Millimetres as a JSON number, or a text such as `1.2 m` or `5' 3 1/2"`."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float | str):
            raise serializers.ValidationError("Give millimetres or a text with its unit.")
        try:
            value = length_mm(data) if isinstance(data, str) else float(data)
        except UnreadableLength as refused:
            raise serializers.ValidationError(refused.detail) from refused
        if not -FARTHEST_MM <= value <= FARTHEST_MM:
            raise serializers.ValidationError("No room is a kilometre wide.")
        return value


class AsText(renderers.JSONRenderer):
    """Writes ready text as it is, and problem documents as JSON."""

    def render(self, data: Any, *args: Any, **kwargs: Any) -> Any:
        return data.encode() if isinstance(data, str) else super().render(data, *args, **kwargs)


class AsSvg(AsText):
    media_type = "image/svg+xml"
    format = "svg"


class AsCsv(AsText):
    media_type = "text/csv"
    format = "csv"


class AsDxf(AsText):
    media_type = "image/vnd.dxf"
    format = "dxf"


class AsGeoJson(renderers.JSONRenderer):
    media_type = "application/geo+json"
    format = "geojson"
