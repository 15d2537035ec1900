"""The chain of checks in a room: each digest covers a check's content and the digest before it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Literal, NamedTuple

START = ""  # what the first check of a room follows


class Link(NamedTuple):
    """One check as it is stored; `content` is JSON text, in any spelling of the same content."""

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


def canonical(content: str) -> bytes:
    """JSON text as the bytes that are digested.

    Keys sorted, no spaces, UTF-8, every number as the shortest decimal of its double (so that
    1, 1.0 and 1e0 are one). After RFC 8785, whose spelling of numbers differs.
    """
    return json.dumps(
        json.loads(content, parse_int=float),
        ensure_ascii=False,
        allow_nan=False,
        sort_keys=True,
        separators=(",", ":"),
    ).encode()


def digest_of(content: str, *, previous: str) -> str:
    """SHA-256 as 64 hexadecimal digits, over the digest before (or "") and the content."""
    return sha256(previous.encode() + b"\n" + canonical(content)).hexdigest()


def dumped(content: Any) -> str:
    """`content` as JSON text; refuses NaN and what JSON does not know."""
    return json.dumps(content, ensure_ascii=False, allow_nan=False)


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
