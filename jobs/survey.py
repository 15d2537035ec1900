"""The survey of a room: what has to be known before anything is ordered, worked out as it comes in.

Millimetres, square metres, amperes. What is not known is None, and is asked for.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from itertools import pairwise
from math import hypot
from typing import Any, Literal

from config.errors import DomainError
from config.sentence import Sentence
from jobs.outline import Point
from jobs.quantities import BOX_LEAD_MM

State = Literal["known", "missing", "problem"]

SUBSTRATES = ("concrete", "screed", "timber", "old tile", "board")
SUPPLIERS = ("contractor", "electrician", "customer")
SUPPLIED = ("element", "control", "mortar", "covering", "electrical work")

FLATNESS_MM_PER_2M = 3.0
"""Under a 2 m straightedge, before a mat is laid; common practice, no source."""

DOOR_GAP_MM = 5.0
"""Left under a door after the floor is built up; common practice, no source."""

STEP_MM = 6.0
"""From one floor to the next without a ramp or strip; common practice, no source."""

SPLICE_COVER_MM = 3.0
"""Mortar over the splice, its thickest part; common practice, no source."""

CONTROL_HEIGHT_MM = (900.0, 1500.0)
"""Within reach, standing or seated; common practice, no source."""

BOX_LEAST_CM3 = 295.0
"""A single device box of 18 in3; common practice, no source."""

CONDUITS = 2
"""One for the leads, one for the sensor; common practice, no source."""

SPARE_LEAD_MM = 100.0
"""For bends and for what walls are out of true; common practice, no source."""


PRACTICE, NOTHING = Sentence("common practice"), Sentence("")
NOT_KNOWN, YES, NO = Sentence("Not known yet"), Sentence("Yes"), Sentence("No")


class UnusableSurvey(DomainError):
    """A fact that cannot be."""

    slug = "survey-not-usable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the survey found. `layers_mm` are (use, thickness) from the substrate up.

    `door_gap_mm` is free under the door now, above the substrate; `neighbour_mm` is how high the
    neighbouring finished floor stands above this substrate.
    """

    substrate: str | None = None
    substrate_sound: bool | None = None
    substrate_dry: bool | None = None
    unevenness_mm_per_2m: float | None = None
    covering: str | None = None
    layers_mm: tuple[tuple[str, float], ...] | None = None
    door_gap_mm: float | None = None
    door_can_be_cut: bool | None = None
    neighbour_mm: float | None = None
    splice_mm: float | None = None
    recess_possible: bool | None = None
    supply_volts: float | None = None
    supply_free_a: float | None = None
    load_a: float | None = None
    control_open: bool | None = None
    control_behind_door: bool | None = None
    control_in_cabinet: bool | None = None
    control_height_mm: float | None = None
    box_cm3: float | None = None
    conduits: int | None = None
    lead_mm: float | None = None
    lead_way_mm: float | None = None
    supplied_by: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One question of the survey. A problem stops the order; what is missing has to be asked."""

    key: str
    question: str
    state: State
    says: str
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """The whole list, and whether anything may be ordered by it."""

    items: tuple[Item, ...]
    may_order: bool
    says: str


def read_facts(data: Mapping[str, Any]) -> Facts:
    """Return facts from plain data. Raises UnusableSurvey for a fact that cannot be."""
    known = {one.name for one in fields(Facts)}
    if unknown := sorted(set(data) - known):
        raise UnusableSurvey(f"The survey does not ask {unknown[0]}.", pointer=f"#/{unknown[0]}")
    given = dict(data)
    if (layers := given.get("layers_mm")) is not None:
        given["layers_mm"] = tuple((str(use), float(mm)) for use, mm in layers)
    facts = Facts(**given)
    for name in sorted(known - {"layers_mm", "supplied_by"}):
        value = getattr(facts, name)
        if isinstance(value, int | float) and not isinstance(value, bool) and value < 0:
            raise UnusableSurvey(f"{name} cannot be below 0.", pointer=f"#/{name}")
    for at, (use, mm) in enumerate(facts.layers_mm or ()):
        if mm <= 0:
            raise UnusableSurvey(f"A layer of {use} has a thickness.", pointer=f"#/layers_mm/{at}")
    if facts.substrate is not None and facts.substrate not in SUBSTRATES:
        raise UnusableSurvey(
            f"A substrate is one of {', '.join(SUBSTRATES)}.", pointer="#/substrate"
        )
    for thing, who in facts.supplied_by.items():
        if thing not in SUPPLIED or who not in SUPPLIERS:
            raise UnusableSurvey(
                f"{thing}: one of {', '.join(SUPPLIERS)} supplies {', '.join(SUPPLIED)}.",
                pointer=f"#/supplied_by/{thing}",
            )
    return facts


def survey(facts: Facts) -> Survey:
    """Return every question with its answer worked out as far as the facts go."""
    items = (
        *_substrate(facts),
        *_heights(facts),
        _splice(facts),
        _supply(facts),
        *_control(facts),
        *_box(facts),
        _lead(facts),
        *_supplied(facts),
    )
    problems = sum(item.state == "problem" for item in items)
    missing = sum(item.state == "missing" for item in items)
    says = Sentence("Everything is known; the order may be made.")
    if problems or missing:
        says = Sentence(
            "Not yet: {problems} to solve, {missing} to find out before anything is ordered.",
            problems=problems,
            missing=missing,
        )
    return Survey(items=items, may_order=not problems and not missing, says=says)


def lead_way_mm(route: tuple[Point, ...], *, control_height_mm: float) -> float:
    """Return the length of lead that a route on the floor, the wall and the box take up."""
    floor = sum(hypot(bx - ax, by - ay) for (ax, ay), (bx, by) in pairwise(route))
    return floor + control_height_mm + BOX_LEAD_MM + SPARE_LEAD_MM


def build_up_mm(facts: Facts) -> float | None:
    """Return the height of all layers over the substrate, None if they are not known."""
    return None if facts.layers_mm is None else sum(mm for _, mm in facts.layers_mm)


def _substrate(facts: Facts) -> Iterator[Item]:
    question = Sentence("What is the substrate?")
    if facts.substrate is None:
        yield _missing("substrate", question)
    else:
        yield _known("substrate", question, Sentence(facts.substrate.capitalize()))
    for key, value, question, bad in (
        ("sound", facts.substrate_sound,
         Sentence("Is it sound, without movement and loose parts?"),
         Sentence("The substrate moves or is loose: repair it first.")),
        ("dry", facts.substrate_dry, Sentence("Is it dry enough for what goes on it?"),
         Sentence("The substrate is damp: find out why and let it dry.")),
    ):  # fmt: skip
        yield _yes_no(f"substrate-{key}", question, value, bad)
    question = Sentence("How uneven is it under a 2 m straightedge?")
    uneven = facts.unevenness_mm_per_2m
    if uneven is None:
        yield _missing("flatness", question)
        return
    levelled = any(use == "leveller" for use, _ in facts.layers_mm or ())
    figures = {"mm": f"{uneven:g}", "most": f"{FLATNESS_MM_PER_2M:g}"}
    if uneven > FLATNESS_MM_PER_2M and not levelled:
        says = Sentence("{mm} mm; up to {most} mm without levelling. Plan a leveller.", **figures)
        yield _problem("flatness", question, says, PRACTICE)
    elif levelled:
        says = Sentence(
            "{mm} mm; up to {most} mm without levelling, a leveller is planned", **figures
        )
        yield _known("flatness", question, says)
    else:
        says = Sentence("{mm} mm; up to {most} mm without levelling", **figures)
        yield _known("flatness", question, says)


def _heights(facts: Facts) -> Iterator[Item]:
    question = Sentence("What is the covering?")
    if facts.covering:
        yield _known(
            "covering", question, Sentence("{covering}", covering=facts.covering.capitalize())
        )
    else:
        yield _missing("covering", question)
    build_up = build_up_mm(facts)
    question = Sentence("How high do all layers build up?")
    if build_up is None:
        yield _missing("build-up", question)
    else:
        says = Sentence("{mm} mm: {sums}", mm=f"{build_up:g}", sums=_sum_of(facts.layers_mm or ()))
        yield _known("build-up", question, says)
    yield _door(facts, build_up)
    question = Sentence("How high is the neighbouring floor?")
    if build_up is None or facts.neighbour_mm is None:
        yield _missing("step", question)
        return
    step = build_up - facts.neighbour_mm
    mm = f"{abs(step):g}"
    says = (
        Sentence("This floor comes to stand {mm} mm above it", mm=mm)
        if step >= 0
        else Sentence("This floor comes to stand {mm} mm below it", mm=mm)
    )
    if abs(step) > STEP_MM:
        because = Sentence("up to {most} mm; common practice", most=f"{STEP_MM:g}")
        says = Sentence("{how}. Plan a ramp or a strip.", how=says)
        yield _problem("step", question, says, because)
    else:
        yield _known("step", question, says)


def _sum_of(layers_mm: Sequence[tuple[str, float]]) -> Sentence:
    parts = {
        f"layer_{at}": Sentence("{use} {mm} mm", use=use, mm=f"{mm:g}")
        for at, (use, mm) in enumerate(layers_mm)
    }
    return Sentence(" + ".join(f"{{{name}}}" for name in parts), **parts)


def _door(facts: Facts, build_up: float | None) -> Item:
    question = Sentence("Does the door still open over the new floor?")
    if build_up is None or facts.door_gap_mm is None:
        return _missing("door", question)
    left = facts.door_gap_mm - build_up
    sums = Sentence(
        "{gap} mm under it less {floor} mm of floor leaves {left} mm",
        gap=f"{facts.door_gap_mm:g}",
        floor=f"{build_up:g}",
        left=f"{left:g}",
    )
    if left >= DOOR_GAP_MM:
        return _known("door", question, sums)
    cut = f"{DOOR_GAP_MM - left:g}"
    if facts.door_can_be_cut:
        return _known(
            "door", question, Sentence("{sums}. Cut {mm} mm off the door", sums=sums, mm=cut)
        )
    says = Sentence("{sums}. Cut {mm} mm off the door, or build up less.", sums=sums, mm=cut)
    return _problem("door", question, says, PRACTICE)


def _splice(facts: Facts) -> Item:
    """The splice is thicker than the wire: what the bed does not cover needs a recess."""
    question = Sentence("Does the splice fit into the bed?")
    bed = sum(mm for use, mm in facts.layers_mm or () if use in ("mortar", "adhesive", "leveller"))
    if facts.splice_mm is None or facts.layers_mm is None:
        return _missing("splice", question)
    recess = facts.splice_mm + SPLICE_COVER_MM - bed
    sums = Sentence(
        "Splice {splice} mm + cover {cover} mm in a bed of {bed} mm",
        splice=f"{facts.splice_mm:g}",
        cover=f"{SPLICE_COVER_MM:g}",
        bed=f"{bed:g}",
    )
    if recess <= 0:
        return _known("splice", question, Sentence("{sums}: no recess needed", sums=sums))
    mm = f"{recess:g}"
    if facts.recess_possible:
        says = Sentence("{sums}: a recess of {mm} mm under it", sums=sums, mm=mm)
        return _known("splice", question, says)
    says = Sentence(
        "{sums}: a recess of {mm} mm under it. May this substrate be cut?", sums=sums, mm=mm
    )
    return _problem("splice", question, says, PRACTICE)


def _supply(facts: Facts) -> Item:
    question = Sentence("What supply is at hand?")
    if facts.supply_volts is None or facts.supply_free_a is None:
        return _missing("supply", question)
    figures = {"volts": f"{facts.supply_volts:g}", "free": f"{facts.supply_free_a:g}"}
    if facts.load_a is None:
        says = Sentence("{volts} V, {free} A free; the elements are not chosen yet", **figures)
        return _missing("supply", question, says)
    figures["needed"] = f"{facts.load_a:.1f}"
    if facts.load_a > facts.supply_free_a:
        says = Sentence(
            "{volts} V, {free} A free, {needed} A needed. An electrician has to add a circuit.",
            **figures,
        )
        return _problem("supply", question, says, NOTHING)
    says = Sentence(
        "{volts} V, {free} A free, {needed} A needed; a licensed electrician decides", **figures
    )
    return _known("supply", question, says)


def _control(facts: Facts) -> Iterator[Item]:
    yield _yes_no(
        "control-open", Sentence("Is the control's place open to the room's air?"),
        facts.control_open,
        Sentence("A control that feels no room air switches wrongly. Choose another place."),
    )  # fmt: skip
    for key, value, question, bad in (
        ("door", facts.control_behind_door, Sentence("Is it behind a door?"),
         Sentence("Behind a door the control cannot be read or reached. Choose another place.")),
        ("cabinet", facts.control_in_cabinet, Sentence("Is it in a cabinet?"),
         Sentence("In a cabinet the control gets warm and cannot be reached. "
                  "Choose another place.")),
    ):  # fmt: skip
        answer = None if value is None else not value
        yield _yes_no(f"control-{key}", question, answer, bad, words=(NO, YES))
    question = Sentence("How high is the control?")
    height = facts.control_height_mm
    if height is None:
        yield _missing("control-height", question)
        return
    low, high = CONTROL_HEIGHT_MM
    says = Sentence(
        "{mm} mm; within reach from {low} to {high} mm",
        mm=f"{height:g}",
        low=f"{low:g}",
        high=f"{high:g}",
    )
    in_reach = low <= height <= high
    yield (
        _known("control-height", question, says)
        if in_reach
        else _problem("control-height", question, Sentence("{sums}.", sums=says), PRACTICE)
    )


def _box(facts: Facts) -> Iterator[Item]:
    question = Sentence("Is the box large enough?")
    if facts.box_cm3 is None:
        yield _missing("box", question)
    elif facts.box_cm3 < BOX_LEAST_CM3:
        says = Sentence(
            "{box} cm³; {least} cm³ (18 in³) or more is needed.",
            box=f"{facts.box_cm3:g}",
            least=f"{BOX_LEAST_CM3:g}",
        )
        because = Sentence("common practice; the box fill of the code rules")
        yield _problem("box", question, says, because)
    else:
        yield _known("box", question, Sentence("{box} cm³", box=f"{facts.box_cm3:g}"))
    question = Sentence("Are there two conduits, one for the leads, one for the sensor?")
    if facts.conduits is None:
        yield _missing("conduits", question)
    elif facts.conduits < CONDUITS:
        says = Sentence(
            "{there} of {needed}: without its own tube a sensor cannot be renewed.",
            there=facts.conduits,
            needed=CONDUITS,
        )
        yield _problem("conduits", question, says, PRACTICE)
    else:
        yield _known("conduits", question, Sentence("{count}", count=facts.conduits))


def _lead(facts: Facts) -> Item:
    question = Sentence("Does the lead reach, with {mm} mm left in the box?", mm=BOX_LEAD_MM)
    if facts.lead_mm is None or facts.lead_way_mm is None:
        return _missing("lead", question)
    left = facts.lead_mm - facts.lead_way_mm
    figures = {
        "lead": f"{facts.lead_mm:g}",
        "way": f"{facts.lead_way_mm:g}",
        "left": f"{abs(left):g}",
    }
    if left < 0:
        says = Sentence(
            "{lead} mm of lead, {way} mm needed: {left} mm short. Extend it in a box, or move the "
            "start.",
            **figures,
        )
        return _problem("lead", question, says, PRACTICE)
    says = Sentence("{lead} mm of lead, {way} mm needed, {left} mm spare", **figures)
    return _known("lead", question, says)


def _supplied(facts: Facts) -> Iterator[Item]:
    for thing in SUPPLIED:
        question = Sentence(f"Who supplies the {thing}?")
        key = f"supplied-{thing.replace(' ', '-')}"
        who = facts.supplied_by.get(thing)
        yield _known(key, question, Sentence(f"The {who}")) if who else _missing(key, question)


def _yes_no(
    key: str,
    question: Sentence,
    value: bool | None,
    bad: Sentence,
    words: tuple[Sentence, Sentence] = (YES, NO),
) -> Item:
    if value is None:
        return _missing(key, question)
    return _known(key, question, words[0]) if value else _problem(key, question, bad, NOTHING)


def _known(key: str, question: Sentence, says: Sentence) -> Item:
    return Item(key=key, question=question, state="known", says=says)


def _missing(key: str, question: Sentence, says: Sentence = NOT_KNOWN) -> Item:
    return Item(key=key, question=question, state="missing", says=says)


def _problem(key: str, question: Sentence, says: Sentence, because: Sentence) -> Item:
    return Item(key=key, question=question, state="problem", says=says, because=because)
