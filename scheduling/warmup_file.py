"""The first heating of one room as a calendar file, to take over once (RFC 5545)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from scheduling.feed import FeedEvent, feed
from scheduling.warmup import CalendarEntry


def warm_up_file(
    entries: Sequence[CalendarEntry],
    *,
    uid: str,
    name: str,
    about: str,
    place: str,
    likely: bool,
    changed_at: datetime,
) -> bytes:
    """The file of a warm-up's entries; `uid` makes theirs unique in the world."""
    return feed(
        name=name,
        about=about,
        changed_at=changed_at,
        events=[
            FeedEvent(
                uid=f"{each.key}-{uid}",
                sequence=0,
                changed_at=changed_at,
                starts=each.starts_at,
                ends=each.ends_at,
                title=each.title,
                text=each.text,
                place=place,
                category="warm-up",
                status="TENTATIVE" if likely else "CONFIRMED",
            )
            for each in entries
        ],
    )
