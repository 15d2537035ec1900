"""`Idempotency-Key`: sending a request again answers the same and changes nothing."""

from collections.abc import Callable
from functools import wraps
from hashlib import sha256
from typing import Any

from django.db import connection, transaction
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from uuid_utils.compat import uuid7

from config.errors import DomainError
from config.models import Answer

HEADER = "Idempotency-Key"
KEPT_HEADERS = ("ETag", "Location")

Handler = Callable[..., Response]


class KeyReused(DomainError):
    slug = "key-reused"


class KeyTooLong(DomainError):
    slug = "not-acceptable"


def idempotent(handler: Handler) -> Handler:
    """Make a `post` answer a repeated key as it did the first time.

    One transaction around key and work: a second request with the same key waits for the
    first one's row, and a refused request leaves the key unused.
    """

    @extend_schema(
        parameters=[
            OpenApiParameter(
                HEADER,
                str,
                OpenApiParameter.HEADER,
                description="Up to 255 characters; the same key with the same body answers the "
                "same for two days.",
            )
        ]
    )
    @wraps(handler)
    def post(view: Any, request: Request, *args: Any, **kwargs: Any) -> Response:
        key = request.headers.get(HEADER)
        if not key:
            return handler(view, request, *args, **kwargs)
        if len(key) > 255 or not key.isprintable():
            raise KeyTooLong(f"{HEADER} takes 1 to 255 printable characters.")
        fingerprint = _fingerprint(request)
        asker: Any = request.user
        with transaction.atomic():
            if not _claim(asker, key, fingerprint):
                return _again(asker, key, fingerprint)
            response = handler(view, request, *args, **kwargs)
            kept = {name: response[name] for name in KEPT_HEADERS if name in response}
            Answer.objects.filter(member=asker, key=key).update(
                status=response.status_code, body=response.data, headers=kept
            )
        return response

    post.takes_key = True  # type: ignore[attr-defined]
    return post


def _fingerprint(request: Request) -> str:
    whole = sha256(f"{request.method} {request.get_full_path()}\n".encode())
    whole.update(repr(request.data).encode("utf-8", "surrogatepass"))
    return whole.hexdigest()


def _claim(asker: Any, key: str, fingerprint: str) -> bool:
    """Insert the key's row; False means that it is there already (waits for an unfinished one)."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO config_answer (id, contractor_id, member_id, key, fingerprint, status, "
            "headers, answered_at) VALUES (%s, %s, %s, %s, %s, 0, '{}', %s) "
            "ON CONFLICT (member_id, key) DO NOTHING",
            [
                uuid7(),
                asker.contractor_id,
                asker.pk,
                key,
                fingerprint,
                timezone.now(),
            ],
        )
        return bool(cursor.rowcount == 1)


def _again(asker: Any, key: str, fingerprint: str) -> Response:
    kept = Answer.objects.get(member=asker, key=key)
    if kept.fingerprint != fingerprint:
        raise KeyReused("Use a new key for a new request.")
    return Response(
        kept.body, status=kept.status, headers={**kept.headers, "Idempotency-Replayed": "true"}
    )
