"""Points and outlines as JSON: `[x, y]` in millimetres."""

from typing import Any

from rest_framework import serializers

from config.fields import Number

# A room of a kilometre is a mix-up of units; so is a corner there.
FARTHEST_MM = 1_000_000.0
MOST_CORNERS = 500


class PointField(serializers.ListField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            child=Number(min_value=-FARTHEST_MM, max_value=FARTHEST_MM),
            min_length=2,
            max_length=2,
            **kwargs,
        )


class OutlineField(serializers.ListField):
    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", MOST_CORNERS)
        super().__init__(child=PointField(), **kwargs)
