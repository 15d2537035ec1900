"""`ETag` and `If-Match` for what several people edit."""

from typing import Any, TypeVar

from django.db import transaction
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request

from config.errors import DomainError
from config.tenancy import VersionedModel

V = TypeVar("V", bound=VersionedModel)

# Documents a method that wants `If-Match`.
guarded = extend_schema(
    parameters=[
        OpenApiParameter(
            "If-Match",
            str,
            OpenApiParameter.HEADER,
            description="The ETag under which you read what you are changing.",
        )
    ]
)


class Stale(DomainError):
    slug = "stale"


class PreconditionMissing(DomainError):
    slug = "precondition-missing"


def etag(row: VersionedModel) -> str:
    return f'"{row.version}"'


def expected_version(request: Request) -> int:
    """The version named by `If-Match`; raises PreconditionMissing or Stale (never ours)."""
    sent = request.headers.get("If-Match", "")
    if not sent:
        raise PreconditionMissing("Send If-Match with the ETag of your last read.")
    plain = sent.strip().strip('"')
    if not (plain.isascii() and plain.isdigit() and len(plain) < 10):
        raise Stale("Read it again: this ETag is none of ours.")
    return int(plain)


def require_version(row: VersionedModel, version: int) -> None:
    """Refuse a change to a (locked) row that has moved on; raises Stale."""
    if row.version != version:
        raise Stale("Read it again, look at what changed, and send your change anew.")


@transaction.atomic
def change_row(row: V, *, version: int, fields: dict[str, Any]) -> V:
    """Set `fields` on the row if it still has `version`; raises Stale if it moved on."""
    locked: V = type(row)._default_manager.select_for_update().get(pk=row.pk)  # type: ignore[assignment]
    require_version(locked, version)
    for name, value in fields.items():
        setattr(locked, name, value)
    locked.version += 1
    locked.save()
    return locked
