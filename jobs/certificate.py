"""The certificate as it is printed: worded, units chosen, in reading order."""

from collections.abc import Sequence
from dataclasses import dataclass

CAUTION_HEAD = (
    "Never drill, nail, screw or cut into these floors without asking where the cable lies."
)
CAUTION = (
    "Before any work on this circuit: isolate and prove dead. Connections by a licensed "
    "electrician. Local code and the makers’ instructions rule over this record."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A value with its mark: `outcome` is pass, fail or undecided, `word` says it, `said` why."""

    outcome: str
    word: str
    text: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementRow:
    room: str
    element: str
    serial: str
    tag: str
    last: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing: a plan to scale, a chart; `svg` is a whole element, made by us."""

    title: str
    svg: str
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofTable:
    """Readings of one room by stage; a cell is None where nothing was measured."""

    title: str
    stages: Sequence[str]
    rows: Sequence[tuple[str, Sequence[Verdict | None]]]
    notes: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """What one room's floor is made of, and why its date was what it was."""

    room: str
    chart: Drawing | None
    because: Sequence[str]
    terms: Sequence[tuple[str, str]]
    warm_up: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    who: str
    what: str
    when: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedReading:
    what: str
    shown: Verdict
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedCheck:
    """One visit with a meter, as it was accepted, whether or not it still counts."""

    head: str
    digest: str
    notes: Sequence[str]
    readings: Sequence[LoggedReading]


@dataclass(frozen=True, slots=True, kw_only=True)
class Annex:
    title: str
    drawing: Drawing | None = None
    checks: Sequence[LoggedCheck] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Exactly what is printed."""

    number: str
    digest: str
    contractor: str
    title: str
    head: str
    intro: str
    elements: Sequence[ElementRow]
    drawing: Drawing | None
    proofs: Sequence[ProofTable]
    floors: Sequence[Floor]
    assumed: Sequence[str]
    not_checked: Sequence[str]
    signatures: Sequence[Signature]
    call: str
    annexes: Sequence[Annex]
    caution_head: str = CAUTION_HEAD
    caution: str = CAUTION
