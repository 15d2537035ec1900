"""Instants as they leave the house: RFC 3339 in UTC."""

from datetime import UTC, datetime


def rfc3339(at: datetime) -> str:
    """Such as 2027-03-10T07:00:00Z; `at` has a zone."""
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")
