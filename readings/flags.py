"""What is odd about a check: kept and told, never a reason to drop it."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from readings import sets

CLOCK_WRONG = timedelta(minutes=5)  # more than a phone drifts or a request takes
SAME_VISIT = timedelta(hours=12)  # a day's work; common practice, no source
TWICE = "Measured twice:"


def flags(
    stage: str,
    *,
    taken_at: datetime,
    received_at: datetime,
    sent_at: datetime | None = None,
    passed: Mapping[str, datetime],
    joints: Iterable[datetime] = (),
    by_others: Iterable[datetime] = (),
) -> list[str]:
    """Sentences, each of at most 200 characters.

    `sent_at` is what the phone's clock said when it sent. `passed` are the stages that passed, with
    the time of their check; `joints` the times of repairs on the room's elements; `by_others` when
    other members took the same readings.
    """
    found = []
    if skipped := sets.out_of_order(stage, passed):
        found.append(f"Out of order: the stage {skipped} has not passed yet.")
    before = sets.ORDER[: sets.ORDER.index(stage)]
    if late := [name for name in before if name in passed and passed[name] > taken_at]:
        found.append(f"Taken before the check of the stage {late[-1]}, which comes first.")
    if sent_at is not None and abs(received_at - sent_at) > CLOCK_WRONG:
        wrong = _long(abs(received_at - sent_at))
        at = f"{taken_at + (received_at - sent_at):%Y-%m-%d %H:%M}Z"
        found.append(
            f"The phone's clock was {wrong} ahead when it sent; by ours it was taken at {at}."
            if sent_at > received_at
            else f"The phone's clock was {wrong} behind when it sent; by ours it was taken at {at}."
        )
    elif taken_at - received_at > CLOCK_WRONG:
        found.append(
            f"Taken {_long(taken_at - received_at)} after it was received: the phone's clock "
            "was wrong."
        )
    if sent_at is not None and taken_at - sent_at > CLOCK_WRONG:
        found.append("Taken after it was sent, by the phone's own clock: the clock was changed.")
    if any(joined_at > taken_at for joined_at in joints):
        found.append("Taken before the last repair joint: it does not prove the joint.")
    near = [other_at for other_at in by_others if abs(other_at - taken_at) <= SAME_VISIT]
    if near:
        found.append(
            f"{TWICE} another member took the same reading at {max(near):%Y-%m-%d %H:%M}Z. "
            "Both are kept; compare them."
        )
    return found


def _long(span: timedelta) -> str:
    minutes = round(span / timedelta(minutes=1))
    if minutes >= 48 * 60:
        return f"{minutes // (24 * 60)} days"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"
