"""What a notice to another trade says: data only, so that it can be worded in any language."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from config.instants import rfc3339
from scheduling.exposure import Conflict, Window

REPEAT_AFTER = timedelta(hours=24)
MOST_REPEATS = 2
# A visit this near that nobody has answered for is the office's to call about.
RAISE_BEFORE = timedelta(hours=24)
# Ends nearer than this are one end to whoever plans by half-days.
SAME_END = timedelta(hours=12)
LASTING = ("room", "room_name", "state", "forbidden", "because")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reminder:
    """What to do about a notice that nobody answered: send it again, or tell the office."""

    send_again: bool
    tell_office: bool


def content(
    *,
    address: str,
    contact: Mapping[str, str],
    visit: Mapping[str, Any],
    room_names: Mapping[str, str],
    met: Sequence[Conflict],
) -> dict[str, Any]:
    """The notice to one visit as JSON values; equal facts give an equal notice.

    `contact` is whom to call (`name`, `phone`); `visit` has `trade`, `company`, `starts_at`,
    `ends_at`, `zone`. Times are RFC 3339 in UTC.
    """
    nearest = met[0].nearest_start_at if met else None
    return {
        "address": address,
        "contact": dict(contact),
        "visit": dict(visit),
        "conflicts": [
            {
                "room": conflict.room,
                "room_name": room_names[conflict.room],
                **exposure(conflict.window),
                "forbidden": list(conflict.forbidden),
            }
            for conflict in met
        ],
        "nearest_start_at": shown(nearest),
    }


def says_the_same(said: Mapping[str, Any], now: Mapping[str, Any]) -> bool:
    """Whether an answer to what was `said` still answers what holds `now`.

    A likely end that moves by less than half a day changes nobody's plans; anything else does.
    """

    def lasting(told: Mapping[str, Any]) -> dict[str, Any]:
        conflicts = [{name: conflict[name] for name in LASTING} for conflict in told["conflicts"]]
        return {**told, "conflicts": conflicts, "nearest_start_at": None}

    return lasting(said) == lasting(now) and all(
        _near(before["until"], after["until"])
        for before, after in zip(said["conflicts"], now["conflicts"], strict=True)
    )


def _near(one: str | None, other: str | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(datetime.fromisoformat(one) - datetime.fromisoformat(other)) < SAME_END


def exposure(window: Window) -> dict[str, Any]:
    """A window as JSON values."""
    return {
        "state": window.state,
        "starts_at": shown(window.starts_at),
        "until": shown(window.ends_at),
        "until_latest": shown(window.over_at),
        "likely": window.likely,
        "forbids": list(window.forbids),
        "because": window.because,
    }


def reminder(
    *, sent_at: datetime, repeated: int, visit_starts_at: datetime, at: datetime
) -> Reminder:
    """Repeat twice, a day apart; then, or when the visit is near, it is the office's turn."""
    near = visit_starts_at - at <= RAISE_BEFORE
    old = at - sent_at >= REPEAT_AFTER
    return Reminder(
        send_again=old and repeated < MOST_REPEATS and visit_starts_at > at,
        tell_office=near or (old and repeated >= MOST_REPEATS),
    )


def office_reaches(
    *, lasting: bool, made_at: datetime, visit_starts_at: datetime, at: datetime
) -> bool:
    """Whether somebody has to call, since e-mail does not get through.

    At once where it never will, or where the visit is near; else after a day of trying.
    """
    return lasting or visit_starts_at - at <= RAISE_BEFORE or at - made_at >= REPEAT_AFTER


def shown(at: datetime | None) -> str | None:
    return None if at is None else rfc3339(at)
