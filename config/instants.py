"""Instants as they leave the house, RFC 3339 in UTC, and as they are typed."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


def rfc3339(at: datetime) -> str:
    """Such as 2027-03-10T07:00:00Z; `at` has a zone."""
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def minute_typed(local: datetime, zone: ZoneInfo, now: datetime) -> datetime:
    """The instant of a time that was typed to the minute: its end, as far as that has come.

    Counted from the start of the minute, mortar would be older than it is, and what was done
    within the same minute would come after it.
    """
    start = local.replace(tzinfo=zone)
    end = start + timedelta(seconds=59)
    return now if start <= now < end else end
