"""JSON as it comes in: bounded, finite, and without what PostgreSQL cannot keep."""

import json
from collections.abc import Mapping
from typing import IO, Any

from django.conf import settings
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from config.errors import DomainError

LARGEST_INTEGER = 2**63 - 1


class BodyTooLarge(DomainError):
    slug = "body-too-large"


class StrictJSONParser(BaseParser):
    media_type = "application/json"

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        length = int((parser_context or {})["request"].META.get("CONTENT_LENGTH") or 0)
        if length > settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            raise BodyTooLarge(
                f"The body has {length} bytes; at most {settings.DATA_UPLOAD_MAX_MEMORY_SIZE} "
                "are taken. Send it in several parts."
            )
        raw = stream.read()
        try:
            data = json.loads(
                raw.decode("utf-8"),
                parse_constant=_no_constant,
                parse_float=_finite,
                parse_int=_bounded,
            )
            if b"\\u" in raw:
                _refuse_unstorable(data)
            return data
        except (ValueError, RecursionError) as error:
            raise ParseError(f"The body is not JSON that can be read: {error}") from error


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is not a number")


def _finite(text: str) -> float:
    number = float(text)
    if number in (float("inf"), float("-inf")):
        raise ValueError(f"{text[:40]} is too large")
    return number


def _bounded(text: str) -> int:
    if len(text) > 20 or abs(number := int(text)) > LARGEST_INTEGER:
        raise ValueError(f"{text[:40]} is too large")
    return number


def _refuse_unstorable(data: Any) -> None:
    """Escapes can smuggle in what a text column refuses: NUL and halves of characters."""
    if isinstance(data, str):
        if "\0" in data:
            raise ValueError("a text contains the character NUL")
        data.encode("utf-8")
    elif isinstance(data, dict):
        for name, value in data.items():
            _refuse_unstorable(name)
            _refuse_unstorable(value)
    elif isinstance(data, list):
        for value in data:
            _refuse_unstorable(value)
