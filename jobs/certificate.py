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
    """Readings by stage, of one room or summed up by room; a cell is None where nothing was
    measured. `first` is the head of the first column."""

    title: str
    first: str
    stages: Sequence[str]
    rows: Sequence[tuple[str, Sequence[Verdict | None]]]
    notes: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """What one room's floor is made of, and why its date was what it was."""

    title: str
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
class Verify:
    """Where the paper is compared with the record: the code of its address, and the address."""

    code: str
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedReading:
    what: str
    shown: Verdict
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedCheck:
    """One visit with a meter, as it was accepted; `readings` if it was replaced since."""

    head: str
    digest: str
    notes: Sequence[str]
    readings: Sequence[LoggedReading]


@dataclass(frozen=True, slots=True, kw_only=True)
class Annex:
    """One annex, with a number of its own; only what is given is printed.

    `reasons` pairs the stages that a sentence is of with the sentence.
    """

    title: str
    drawing: Drawing | None = None
    elements: Sequence[ElementRow] = ()
    proof: ProofTable | None = None
    floor: Floor | None = None
    lists: Sequence[tuple[str, Sequence[str]]] = ()
    reasons: Sequence[tuple[str, str]] = ()
    checks: Sequence[LoggedCheck] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Exactly what is printed: two pages to read, then the annexes.

    `void` is empty for one in force; `drawing` is None where no plan leaves the first page whole.
    """

    number: str
    digest: str
    issued_at: str
    contractor: str
    title: str
    void: str
    head: str
    intro: str
    elements: Sequence[ElementRow]
    elements_note: str
    drawing: Drawing | None
    drawing_note: str
    proofs: Sequence[ProofTable]
    floor: Floor
    assumed: Sequence[str]
    not_checked: Sequence[str]
    signatures: Sequence[Signature]
    verify: Verify | None
    call: str
    annexes: Sequence[Annex]
    caution_head: str = CAUTION_HEAD
    caution: str = CAUTION
