"""A whole check: each reading judged, what the stage still lacks, what to do next.

The outcome is that of the stage up to this check: the latest reading of each kind counts, whichever
visit it is from, and a set with gaps is `undecided` at best.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal
from uuid import UUID

from config.errors import DomainError
from readings import arrival, element, handover, insulation, sensor, sets, wording
from readings.instruments import Calibration, Range, calibration
from readings.sets import Wanted
from readings.thermistor import Curve
from readings.verdict import Outcome, Verdict

QUANTITY = {
    "element": "ohms",
    "lead_to_ground": "ohms",
    "insulation": "megohms",
    "sensor": "ohms",
    "supply": "volts",
    "load": "amps",
}
UNIT = {"ohms": "Ω", "megohms": "MΩ", "volts": "V", "amps": "A"}
NOTHING: Mapping[Wanted, Outcome] = {}
RANK = {"pass": 0, "undecided": 1, "fail": 2}

DEAD = "Switch the circuit off and prove it dead before you touch a lead."
LIVE = (
    "Volts and amperes are read on a live circuit: only a licensed electrician does that. "
    "Everything else: switch the circuit off and prove it dead first."
)
ABOVE_ALL = "Local code and the maker's instructions rule over this tool."


class ReadingUnclear(DomainError):
    """A reading that does not say what was measured, or with what."""

    slug = "reading-unclear"


class RangeNotFit(DomainError):
    """A range that does not measure this, or cannot have shown that."""

    slug = "range-not-fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """One range of a meter as it was used; `leads_ohms` is the most that leads and contacts add."""

    name: str
    quantity: str
    range: Range
    test_volts: float | None = None
    leads_ohms: float = 0.0
    calibration_due_on: date | None = None
    other_ranges: tuple[Range, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementFacts:
    """An element in the room: its name there, its tag, and what it is made for."""

    label: str
    tag: element.Tag
    volts: float
    watts: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFacts:
    """A floor sensor in the room and its curve."""

    label: str
    curve: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFacts:
    """What is installed in the room, by id, in the order in which it is named."""

    supply_volts: float
    elements: Mapping[UUID, ElementFacts]
    sensors: Mapping[UUID, SensorFacts]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One reading as it was sent; `value` is None where the meter showed over-range.

    `element` and `sensor` are ids in the room. Without one, the room's only one is meant; several
    elements read as one say how they are wired.
    """

    kind: str
    meter: Meter
    value: float | None
    element: UUID | None = None
    sensor: UUID | None = None
    lead: str = ""
    at_c: float | None = None
    wiring: Literal["series", "parallel"] | None = None
    after_minutes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The verdict on one reading, what it stands for in a set, the temperature that it implies."""

    verdict: Verdict
    stands_for: Wanted
    element: UUID | None = None
    sensor: UUID | None = None
    implied_c: float | None = None
    implied_u_k: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What came, against what was ordered, and the damage that somebody saw."""

    ordered: tuple[arrival.Item, ...] = ()
    found: tuple[arrival.Item, ...] = ()
    damage: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A verdict that no single reading carries."""

    about: str
    outcome: Outcome
    because: str
    next_step: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """What a check comes to."""

    outcome: Outcome
    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]
    missing: tuple[str, ...]
    next_steps: tuple[str, ...]


def assess(
    stage: str,
    sent: Sequence[Sent],
    room: RoomFacts,
    *,
    taken_on: date,
    earlier: Mapping[Wanted, Outcome] = NOTHING,
    delivery: Delivery | None = None,
) -> Assessment:
    """Judge a check at `stage`.

    `earlier` are the latest readings of the same stage that still count. Raises
    ReadingUnclear, RangeNotFit, OverFullScale or ImplausibleNumber with a pointer into `readings`.
    """
    judged: list[Judged] = []
    for at, one in enumerate(sent):
        try:
            judged.append(
                _judge(one, sent, room, calibration(one.meter.calibration_due_on, taken_on))
            )
        except DomainError as refused:
            refused.pointer = f"#/readings/{at}{refused.pointer.removeprefix('#')}"
            raise
    findings = _findings(stage, sent, judged, room, delivery)
    latest = dict(earlier)
    latest.update((one.stands_for, one.verdict.outcome) for one in judged)
    wanted = sets.needed(
        stage,
        [one.label for one in room.elements.values()],
        [one.label for one in room.sensors.values()],
    )
    missing = tuple(one.words for one in sets.missing(wanted, latest))
    outcomes = [*latest.values(), *(one.outcome for one in findings)]
    if missing or not outcomes:
        outcomes.append("undecided")
    steps = [one.verdict.next_step for one in judged if one.verdict.outcome != "pass"]
    steps += [one.next_step for one in findings if one.outcome != "pass"]
    if missing:
        steps.append(f"Still to measure: {'; '.join(missing)}.")
    return Assessment(
        outcome=max(outcomes, key=RANK.__getitem__),
        judged=tuple(judged),
        findings=tuple(findings),
        missing=missing,
        next_steps=tuple(dict.fromkeys(filter(None, steps))),
    )


def caution(stage: str) -> str:
    """What to heed while measuring at this stage."""
    return f"{LIVE if stage in ('handover', 'service') else DEAD} {ABOVE_ALL}"


def _judge(one: Sent, sent: Sequence[Sent], room: RoomFacts, calibrated: Calibration) -> Judged:
    _check_meter(one)
    if one.kind == "sensor":
        return _judge_sensor(one, room, calibrated)
    if one.kind == "supply":
        found = _judge_supply(one, room)
        wanted = Wanted(kind="supply", label="")
        return Judged(verdict=element.distrusted(found, calibrated), stands_for=wanted)
    key, label, tag = _element(one, room)
    named = label or "All elements"
    if one.kind == "element":
        found = element.judge_element(
            tag,
            ohms=one.value,
            meter=one.meter.range,
            celsius=one.at_c,
            leads_ohms=one.meter.leads_ohms,
            calibration=calibrated,
            other_ranges=one.meter.other_ranges,
            pair=f"{named}, core to core",
        )
    elif one.kind == "lead_to_ground":
        found = insulation.judge_first_look(
            ohms=one.value,
            range_name=one.meter.name,
            pair=f"{named}, lead {one.lead} to ground" if one.lead else f"{named}, lead to ground",
        )
    elif one.kind == "insulation":
        found = _judge_insulation(one, room, named)
    else:
        found = _judge_load(one, sent, tag)
    return Judged(
        verdict=element.distrusted(found, calibrated),
        stands_for=Wanted(
            kind=one.kind,
            label=label,
            lead=one.lead if one.kind == "lead_to_ground" else "",
        ),
        element=key,
    )


def _check_meter(one: Sent) -> None:
    wanted = QUANTITY[one.kind]
    if one.meter.quantity != wanted:
        raise RangeNotFit(
            f"The range {one.meter.name} reads {one.meter.quantity}, but {sets.LABELS[one.kind]} "
            f"is read in {wanted}. Name the range that was used.",
            pointer="#/range",
        )
    if one.value is not None and one.value > one.meter.range.full_scale_ohms * (1 + 1e-9):
        unit = UNIT[wanted]
        raise RangeNotFit(
            f"{wording.figure(one.value)} {unit} cannot be read on the range {one.meter.name}. "
            "Send it as over-range, or name the range that was used.",
            pointer="#/value",
        )
    if one.kind == "insulation" and one.meter.test_volts is None:
        raise RangeNotFit(
            f"The range {one.meter.name} has no test voltage. Insulation is tested at voltage.",
            pointer="#/range",
        )


def _element(one: Sent, room: RoomFacts) -> tuple[UUID | None, str, element.Tag]:
    """Id, label and tag of what was measured; several elements together have no id and no label."""
    if not room.elements:
        raise ReadingUnclear("This room has no element yet. Add it with its tag first.")
    if one.element is not None:
        facts = room.elements.get(one.element)
        if facts is None:
            raise ReadingUnclear("This element is not in this room.", pointer="#/element")
        return one.element, facts.label, facts.tag
    if len(room.elements) == 1:
        ((key, facts),) = room.elements.items()
        return key, facts.label, facts.tag
    if (
        one.wiring is None
        and QUANTITY[one.kind] in ("ohms", "amps")
        and one.kind != "lead_to_ground"
    ):
        labels = wording.listed([facts.label for facts in room.elements.values()])
        raise ReadingUnclear(
            f"This room has {labels}. Name the element, or say whether they were read together "
            "in series or in parallel.",
            pointer="#/element",
        )
    tags = [facts.tag for facts in room.elements.values()]
    return None, "", element.together(tags, one.wiring or "parallel")


def _judge_sensor(one: Sent, room: RoomFacts, calibrated: Calibration) -> Judged:
    key = one.sensor or (next(iter(room.sensors)) if len(room.sensors) == 1 else None)
    facts = room.sensors.get(key) if key else None
    if facts is None:
        raise ReadingUnclear(
            "This room has no such floor sensor. Name one of its sensors."
            if room.sensors
            else "This room has no floor sensor yet. Add it first.",
            pointer="#/sensor",
        )
    found = sensor.judge_sensor(
        facts.curve,
        ohms=one.value,
        meter=one.meter.range,
        at_c=one.at_c,
        leads_ohms=one.meter.leads_ohms,
    )
    return Judged(
        verdict=element.distrusted(found.verdict, calibrated),
        stands_for=Wanted(kind="sensor", label=facts.label),
        sensor=key,
        implied_c=found.celsius,
        implied_u_k=found.u_k,
    )


def _judge_insulation(one: Sent, room: RoomFacts, named: str) -> Verdict:
    meter = one.meter.range
    found = insulation.judge_at_voltage(
        megohms=one.value,
        over_range_megohms=meter.full_scale_ohms if one.value is None else None,
        half_width_megohms=0.0 if one.value is None else meter.half_width_ohms(one.value),
        test_volts=one.meter.test_volts or 0.0,
        needed=insulation.minimum(room.supply_volts),
        supply_volts=room.supply_volts,
    )
    return replace(found, because=f"{named}, insulation: {found.because}")


def _judge_supply(one: Sent, room: RoomFacts) -> Verdict:
    if one.value is None:
        return _over_range(one, "Supply")
    return handover.judge_supply(
        volts=one.value, meter=one.meter.range, nominal_volts=room.supply_volts
    )


def _judge_load(one: Sent, sent: Sequence[Sent], tag: element.Tag) -> Verdict:
    if one.value is None:
        return _over_range(one, "Load")
    supplies = [other for other in sent if other.kind == "supply" and other.value is not None]
    if not supplies:
        return Verdict(
            outcome="undecided",
            because=f"Load: {wording.figure(one.value)} A say nothing without the volts.",
            next_step="Read the supply voltage at the same time and send both in one check.",
        )
    return handover.judge_load(
        tag,
        volts=[supplies[0].value or 0.0],
        amps=[one.value],
        volt_range=supplies[0].meter.range,
        amp_range=one.meter.range,
        floor_c=one.at_c,
    )


def _over_range(one: Sent, what: str) -> Verdict:
    return Verdict(
        outcome="undecided",
        because=f"{what}: over-range on the range {one.meter.name}. This range cannot tell.",
        next_step="Choose a higher range and measure again.",
    )


def _findings(
    stage: str,
    sent: Sequence[Sent],
    judged: Sequence[Judged],
    room: RoomFacts,
    delivery: Delivery | None,
) -> list[Finding]:
    found: list[tuple[str, Verdict]] = []
    if stage == "arrival":
        found += [
            (
                f"{one.label}, voltage",
                arrival.judge_voltage(
                    label_volts=one.volts, label_watts=one.watts, supply_volts=room.supply_volts
                ),
            )
            for one in room.elements.values()
        ]
    if delivery is not None:
        if delivery.ordered or delivery.found:
            contents = arrival.judge_contents(ordered=delivery.ordered, found=delivery.found)
            found.append(("contents", contents))
        found.append(("damage", arrival.judge_damage(delivery.damage)))
    findings = [
        Finding(
            about=about,
            outcome=verdict.outcome,
            because=verdict.because,
            next_step=verdict.next_step,
        )
        for about, verdict in found
    ]
    return findings + _polarisation(sent, judged)


def _polarisation(sent: Sequence[Sent], judged: Sequence[Judged]) -> list[Finding]:
    """An index for each element that was tested after one minute and again after ten."""
    minutes: dict[str, dict[float, Sent]] = {}
    for one, result in zip(sent, judged, strict=True):
        if one.kind == "insulation" and one.after_minutes is not None:
            minutes.setdefault(result.stands_for.label, {})[one.after_minutes] = one
    findings = []
    for label, by_minute in minutes.items():
        if {1, 10} <= by_minute.keys() and all(by_minute[m].value != 0 for m in (1, 10)):
            index = insulation.polarisation_index(
                at_1_min_megohms=by_minute[1].value, at_10_min_megohms=by_minute[10].value
            )
            falling = index.index is not None and index.index < 1
            findings.append(
                Finding(
                    about=f"{label}, polarisation index".removeprefix(", "),
                    outcome="undecided" if falling else "pass",
                    because=index.because,
                    next_step="Dry both ends and test again." if falling else "",
                )
            )
    return findings
