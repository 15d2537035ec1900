"""Which readings a stage needs, and which of them are still missing.

Common practice, no source, except the test at voltage before the first heating (initial
verification of IEC 60364-6). The maker's instructions may ask for more, at more stages.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from config.errors import DomainError

ORDER = ("arrival", "laid", "covered", "handover", "service")

LEADS = ("A", "B")  # the two ends of the heating conductor, marked on the first visit
AT_THE_CONTROL = ("supply", "load")

LABELS = {
    "element": "core to core",
    "lead_to_ground": "lead to ground",
    "insulation": "insulation at voltage",
    "sensor": "floor sensor",
    "supply": "supply voltage",
    "load": "current",
}


class UnknownStage(DomainError):
    """A stage that a job does not have."""

    slug = "not-acceptable"


class Wanted(NamedTuple):
    """One reading: what kind, of which element or sensor, at which lead (or "" for none)."""

    kind: str
    label: str
    lead: str = ""

    @property
    def words(self) -> str:
        """Such as `mat 1, lead to ground, lead N`."""
        parts = [self.label, LABELS[self.kind], f"lead {self.lead}" if self.lead else ""]
        return ", ".join(part for part in parts if part)


def needed(stage: str, elements: Sequence[str], sensors: Sequence[str]) -> list[Wanted]:
    """The readings of a full set, in the order in which one measures; everything by its label.

    Raises UnknownStage. A room without a sensor needs none; a second sensor is measured too, since
    nobody can reach it later.
    """
    if stage not in ORDER:
        raise UnknownStage(f"{stage!r} is no stage; there are {', '.join(ORDER)}.")
    wanted: list[Wanted] = []
    for label in elements:
        wanted.append(Wanted(kind="element", label=label))
        wanted += [Wanted(kind="lead_to_ground", label=label, lead=lead) for lead in LEADS]
        if stage == "handover":
            wanted.append(Wanted(kind="insulation", label=label))
    wanted += [Wanted(kind="sensor", label=label) for label in sensors]
    if stage == "handover":
        wanted += [Wanted(kind="supply", label=""), Wanted(kind="load", label="")]
    return wanted


def missing(wanted: Iterable[Wanted], taken: Iterable[Wanted]) -> list[Wanted]:
    """What of a set was not read.

    A test at voltage of an element (all leads together) says more than a first look, so it stands
    for the looks at its leads; never the other way round. A reading from core to core, a supply or
    a current that names no element covers them all: they were read together at the control.
    """
    had = set(taken)
    tested = {one.label for one in had if one.kind == "insulation"}
    together = {one.kind for one in had if not one.label or one.kind in AT_THE_CONTROL}
    if "" in tested:
        together.add("lead_to_ground")
    return [
        one
        for one in wanted
        if one not in had
        and one.kind not in together
        and not (one.kind == "lead_to_ground" and one.label in tested)
    ]


def out_of_order(stage: str, passed: Iterable[str]) -> str | None:
    """The stage that should have passed before this one and did not; None if all is in order."""
    if stage not in ORDER:
        raise UnknownStage(f"{stage!r} is no stage; there are {', '.join(ORDER)}.")
    done = set(passed)
    before = ORDER[: ORDER.index(stage)]
    return next((earlier for earlier in before if earlier not in done), None)
