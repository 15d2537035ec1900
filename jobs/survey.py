"""The survey of a room: what has to be known before anything is ordered, worked out as it comes in.

Millimetres, square metres, amperes. What is not known is None, and is asked for.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from itertools import pairwise
from math import hypot
from typing import Any, Literal

from config.errors import DomainError
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
    says = "Everything is known; the order may be made."
    if problems or missing:
        says = f"Not yet: {problems} to solve, {missing} to find out before anything is ordered."
    return Survey(items=items, may_order=not problems and not missing, says=says)


def lead_way_mm(route: tuple[Point, ...], *, control_height_mm: float) -> float:
    """Return the length of lead that a route on the floor, the wall and the box take up."""
    floor = sum(hypot(bx - ax, by - ay) for (ax, ay), (bx, by) in pairwise(route))
    return floor + control_height_mm + BOX_LEAD_MM + SPARE_LEAD_MM


def build_up_mm(facts: Facts) -> float | None:
    """Return the height of all layers over the substrate, None if they are not known."""
    return None if facts.layers_mm is None else sum(mm for _, mm in facts.layers_mm)


def _substrate(facts: Facts) -> Iterator[Item]:
    question = "What is the substrate?"
    if facts.substrate is None:
        yield _missing("substrate", question)
    else:
        yield _known("substrate", question, facts.substrate.capitalize())
    for key, value, question, bad in (
        ("sound", facts.substrate_sound, "Is it sound, without movement and loose parts?",
         "The substrate moves or is loose: repair it first."),
        ("dry", facts.substrate_dry, "Is it dry enough for what goes on it?",
         "The substrate is damp: find out why and let it dry."),
    ):  # fmt: skip
        yield _yes_no(f"substrate-{key}", question, value, bad)
    question = "How uneven is it under a 2 m straightedge?"
    uneven = facts.unevenness_mm_per_2m
    if uneven is None:
        yield _missing("flatness", question)
        return
    levelled = any(use == "leveller" for use, _ in facts.layers_mm or ())
    says = f"{uneven:g} mm; up to {FLATNESS_MM_PER_2M:g} mm without levelling"
    if uneven > FLATNESS_MM_PER_2M and not levelled:
        yield _problem("flatness", question, f"{says}. Plan a leveller.", "common practice")
    else:
        yield _known("flatness", question, says + (", a leveller is planned" if levelled else ""))


def _heights(facts: Facts) -> Iterator[Item]:
    yield (
        _missing("covering", "What is the covering?")
        if not facts.covering
        else _known("covering", "What is the covering?", facts.covering.capitalize())
    )
    build_up = build_up_mm(facts)
    question = "How high do all layers build up?"
    if build_up is None:
        yield _missing("build-up", question)
    else:
        sums = " + ".join(f"{use} {mm:g}" for use, mm in facts.layers_mm or ())
        yield _known("build-up", question, f"{build_up:g} mm: {sums}")
    yield _door(facts, build_up)
    question = "How high is the neighbouring floor?"
    if build_up is None or facts.neighbour_mm is None:
        yield _missing("step", question)
        return
    step = build_up - facts.neighbour_mm
    says = f"This floor comes to stand {abs(step):g} mm {'above' if step >= 0 else 'below'} it"
    if abs(step) > STEP_MM:
        because = f"up to {STEP_MM:g} mm; common practice"
        yield _problem("step", question, f"{says}. Plan a ramp or a strip.", because)
    else:
        yield _known("step", question, says)


def _door(facts: Facts, build_up: float | None) -> Item:
    question = "Does the door still open over the new floor?"
    if build_up is None or facts.door_gap_mm is None:
        return _missing("door", question)
    left = facts.door_gap_mm - build_up
    sums = f"{facts.door_gap_mm:g} mm under it less {build_up:g} mm of floor leaves {left:g} mm"
    if left >= DOOR_GAP_MM:
        return _known("door", question, sums)
    cut = f"Cut {DOOR_GAP_MM - left:g} mm off the door"
    if facts.door_can_be_cut:
        return _known("door", question, f"{sums}. {cut}")
    return _problem("door", question, f"{sums}. {cut}, or build up less.", "common practice")


def _splice(facts: Facts) -> Item:
    """The splice is thicker than the wire: what the bed does not cover needs a recess."""
    question = "Does the splice fit into the bed?"
    bed = sum(mm for use, mm in facts.layers_mm or () if use in ("mortar", "adhesive", "leveller"))
    if facts.splice_mm is None or facts.layers_mm is None:
        return _missing("splice", question)
    recess = facts.splice_mm + SPLICE_COVER_MM - bed
    sums = f"Splice {facts.splice_mm:g} + cover {SPLICE_COVER_MM:g} in a bed of {bed:g} mm"
    if recess <= 0:
        return _known("splice", question, f"{sums}: no recess needed")
    says = f"{sums}: a recess of {recess:g} mm under it"
    if facts.recess_possible:
        return _known("splice", question, says)
    return _problem("splice", question, f"{says}. May this substrate be cut?", "common practice")


def _supply(facts: Facts) -> Item:
    question = "What supply is at hand?"
    if facts.supply_volts is None or facts.supply_free_a is None:
        return _missing("supply", question)
    says = f"{facts.supply_volts:g} V, {facts.supply_free_a:g} A free"
    if facts.load_a is None:
        return _missing("supply", question, f"{says}; the elements are not chosen yet")
    says += f", {facts.load_a:.1f} A needed"
    if facts.load_a > facts.supply_free_a:
        return _problem("supply", question, f"{says}. An electrician has to add a circuit.", "")
    return _known("supply", question, f"{says}; a licensed electrician decides")


def _control(facts: Facts) -> Iterator[Item]:
    yield _yes_no(
        "control-open", "Is the control's place open to the room's air?", facts.control_open,
        "A control that feels no room air switches wrongly. Choose another place.",
    )  # fmt: skip
    for key, value, question, bad in (
        ("door", facts.control_behind_door, "Is it behind a door?",
         "Behind a door the control cannot be read or reached. Choose another place."),
        ("cabinet", facts.control_in_cabinet, "Is it in a cabinet?",
         "In a cabinet the control gets warm and cannot be reached. Choose another place."),
    ):  # fmt: skip
        answer = None if value is None else not value
        yield _yes_no(f"control-{key}", question, answer, bad, words=("No", "Yes"))
    question = "How high is the control?"
    height = facts.control_height_mm
    if height is None:
        yield _missing("control-height", question)
        return
    low, high = CONTROL_HEIGHT_MM
    says = f"{height:g} mm; within reach from {low:g} to {high:g} mm"
    in_reach = low <= height <= high
    yield (
        _known("control-height", question, says)
        if in_reach
        else _problem("control-height", question, f"{says}.", "common practice")
    )


def _box(facts: Facts) -> Iterator[Item]:
    question = "Is the box large enough?"
    if facts.box_cm3 is None:
        yield _missing("box", question)
    elif facts.box_cm3 < BOX_LEAST_CM3:
        says = f"{facts.box_cm3:g} cm³; {BOX_LEAST_CM3:g} cm³ (18 in³) or more is needed."
        yield _problem("box", question, says, "common practice; the box fill of the code rules")
    else:
        yield _known("box", question, f"{facts.box_cm3:g} cm³")
    question = "Are there two conduits, one for the leads, one for the sensor?"
    if facts.conduits is None:
        yield _missing("conduits", question)
    elif facts.conduits < CONDUITS:
        says = f"{facts.conduits} of {CONDUITS}: without its own tube a sensor cannot be renewed."
        yield _problem("conduits", question, says, "common practice")
    else:
        yield _known("conduits", question, f"{facts.conduits}")


def _lead(facts: Facts) -> Item:
    question = f"Does the lead reach, with {BOX_LEAD_MM} mm (8 in) left in the box?"
    if facts.lead_mm is None or facts.lead_way_mm is None:
        return _missing("lead", question)
    left = facts.lead_mm - facts.lead_way_mm
    says = f"{facts.lead_mm:g} mm of lead, {facts.lead_way_mm:g} mm needed"
    if left < 0:
        return _problem(
            "lead", question, f"{says}: {-left:g} mm short. Extend it in a box, or move the start.",
            "common practice",
        )  # fmt: skip
    return _known("lead", question, f"{says}, {left:g} mm spare")


def _supplied(facts: Facts) -> Iterator[Item]:
    for thing in SUPPLIED:
        question = f"Who supplies the {thing}?"
        key = f"supplied-{thing.replace(' ', '-')}"
        who = facts.supplied_by.get(thing)
        yield _known(key, question, f"The {who}") if who else _missing(key, question)


def _yes_no(
    key: str, question: str, value: bool | None, bad: str, words: tuple[str, str] = ("Yes", "No")
) -> Item:
    if value is None:
        return _missing(key, question)
    return _known(key, question, words[0]) if value else _problem(key, question, bad, "")


def _known(key: str, question: str, says: str) -> Item:
    return Item(key=key, question=question, state="known", says=says)


def _missing(key: str, question: str, says: str = "Not known yet") -> Item:
    return Item(key=key, question=question, state="missing", says=says)


def _problem(key: str, question: str, says: str, because: str) -> Item:
    return Item(key=key, question=question, state="problem", says=says, because=because)
