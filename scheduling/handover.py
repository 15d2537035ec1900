"""The handover: what a job still lacks before its certificate, and who can clear it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from config.errors import DomainError

Clears = Literal["office", "installer", "electrician", "customer"]

STAGES = {
    "arrival": "on arrival",
    "laid": "laid, before covering",
    "covered": "after covering",
    "handover": "at handover",
}
SIGNATURES: Mapping[str, tuple[str, Clears]] = {
    "electrician": ("The licensed electrician has not signed.", "electrician"),
    "customer": ("The customer has not signed.", "customer"),
}


class HandoverIncomplete(DomainError):
    """A certificate was asked for while something is missing."""

    slug = "handover-incomplete"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomProof:
    """What is proven of a room. `stages` has how each stage stands, None for not begun;
    `holds` are sentences of the newest energize decision."""

    name: str
    elements: int
    stages: Mapping[str, str | None]
    embedded: bool
    energized: bool
    holds: Sequence[str] = ()
    warm_up_stopped: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """One thing that stands between a job and its certificate. `room` is empty for the job."""

    room: str
    what: str
    clears: Clears


def missing(rooms: Sequence[RoomProof], *, signed: frozenset[str]) -> tuple[Missing, ...]:
    """Everything that is missing, rooms first, in the order in which it is cleared."""
    if not rooms:
        return (Missing(room="", what="The job has no room.", clears="office"),)
    found = [item for room in rooms for item in _of_room(room)]
    found += [
        Missing(room="", what=what, clears=who)
        for kind, (what, who) in SIGNATURES.items()
        if kind not in signed
    ]
    return tuple(found)


def _of_room(room: RoomProof) -> Iterator[Missing]:
    def item(what: str, clears: Clears) -> Missing:
        return Missing(room=room.name, what=what, clears=clears)

    if room.elements == 0:
        yield item("No heating element is recorded.", "installer")
        return
    for stage, words in STAGES.items():
        match room.stages.get(stage):
            case "pass":
                continue
            case None:
                yield item(f"The check {words} is missing.", "installer")
            case "undecided":
                yield item(f"The check {words} is undecided: measure again.", "installer")
            case _:
                yield item(f"The check {words} failed: find the cause.", "installer")
    if not room.embedded:
        yield item("No layer is recorded that covers the element.", "installer")
    for hold in room.holds:
        yield item(hold, "office")
    if not room.energized:
        yield item("Heat was not recorded as switched on.", "electrician")
    if room.warm_up_stopped:
        yield item(f"The warm-up was stopped: {room.warm_up_stopped}", "installer")


def require_complete(found: Sequence[Missing]) -> None:
    """Raise HandoverIncomplete, naming all that is missing and who clears it."""
    if found:
        told = " ".join(
            f"{item.room + ': ' if item.room else ''}{item.what} ({item.clears})" for item in found
        )
        raise HandoverIncomplete(told)
