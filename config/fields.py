"""Serializer fields and bases that refuse what JSON lets through."""

import math
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from rest_framework import serializers
from rest_framework.settings import api_settings

EARLIEST_YEAR, LATEST_YEAR = 2000, 2200


class Input(serializers.Serializer[Any]):
    """What comes in: a field nobody knows is told, not dropped.

    In a PATCH only the outermost fields may be left out: what is nested is replaced whole.
    """

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            wrong = {
                name: ["There is no such field here."]
                for name in sorted(set(data) - set(self.fields))
            }
            if self.parent is not None:
                wrong |= {
                    name: ["This field is required."]
                    for name, field in self.fields.items()
                    if field.required and name not in data
                }
            if wrong:
                raise serializers.ValidationError(wrong)
        elif data is not None:
            raise serializers.ValidationError(
                {api_settings.NON_FIELD_ERRORS_KEY: [self._expected()]}
            )
        return super().to_internal_value(data)

    def _expected(self) -> str:
        needed = [f"“{name}”" for name, field in self.fields.items() if field.required]
        others = [f"“{name}”" for name, field in self.fields.items() if not field.required]
        may = f"may have {', '.join(others)}" if others else ""
        has = f"has {', '.join(needed)}" if needed else ""
        return f"Give an object that {' and '.join(filter(None, (has, may)))}."


class Output(serializers.Serializer[Any]):
    """What goes out."""


class Number(serializers.FloatField):
    """A finite JSON number; a text or a truth value is none."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("invalid")
        value = float(data)
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class Whole(serializers.IntegerField):
    """A JSON integer; 1.5, "1" and true are none."""

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        return int(data)


class Instant(serializers.DateTimeField):
    """An RFC 3339 time with its zone, kept in UTC."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(default_timezone=UTC, **kwargs)

    def enforce_timezone(self, value: datetime) -> datetime:
        if value.tzinfo is None:
            raise serializers.ValidationError(
                "Give the time with its zone, such as 2027-03-01T14:30:00+01:00."
            )
        if not EARLIEST_YEAR <= value.year < LATEST_YEAR:
            raise serializers.ValidationError(
                f"Give a year from {EARLIEST_YEAR} to {LATEST_YEAR - 1}."
            )
        return value.astimezone(UTC)

    def to_representation(self, value: Any) -> Any:
        if isinstance(value, datetime):
            value = value.astimezone(UTC)
        return super().to_representation(value)


class Text(serializers.CharField):
    """A JSON string; a number is none."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return str(super().to_internal_value(data))
