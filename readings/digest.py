"""The chain of checks in a room: each digest covers a check's content and the digest before it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Literal, NamedTuple

START = ""  # what the first check of a room follows


class Link(NamedTuple):
    """One check as it is stored; `content` is the text that was digested."""

    sequence: int
    content: str
    previous_digest: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """The first link that does not hold, and what is wrong with it."""

    sequence: int
    fault: Literal["missing", "moved", "changed"]
    because: str


def canonical(content: Any) -> str:
    """`content` as the one JSON text that is stored and digested.

    Keys sorted, no spaces, nothing escaped that need not be. Refuses NaN and the infinities, which
    JSON does not know. After RFC 8785, whose spelling of numbers differs.
    """
    return json.dumps(
        content, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
    )


def digest_of(content: str, *, previous: str) -> str:
    """SHA-256 in 64 hexadecimal digits: over the digest before, a line feed and the content."""
    return sha256(f"{previous}\n{content}".encode()).hexdigest()


def first_broken(links: Iterable[Link]) -> Broken | None:
    """The first link of one room's chain that does not hold; None if all do.

    Links come by `sequence`, which begins at 1.
    """
    previous = START
    for at, link in enumerate(links, start=1):
        if link.sequence != at:
            return Broken(
                sequence=at, fault="missing", because=f"Check {at} of this room is missing."
            )
        if link.previous_digest != previous:
            return Broken(
                sequence=at,
                fault="moved",
                because=f"Check {at} does not follow the check before it as it was accepted.",
            )
        if digest_of(link.content, previous=previous) != link.digest:
            return Broken(
                sequence=at,
                fault="changed",
                because=f"Check {at} is not what was accepted: its content was changed.",
            )
        previous = link.digest
    return None
