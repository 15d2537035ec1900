"""The energize decision: from when heat may be switched on in a room, what forbids it, and why.

Equivalent hours of a layer are the integral of min(1, rate) over real time since it was placed, the
rate being that of its law relative to the law's own reference temperature, and 0 below its lowest
usable temperature. So cold lengthens a printed minimum and warmth never shortens it. Unknown time
counts at its coldest. Whoever calls says when "now" is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from scheduling.floor import (
    Facts,
    Layer,
    coldest_plausible_c,
    dampest_plausible_percent,
    require_sense,
    room_course,
)
from scheduling.holds import (
    FREEZING_C,
    Hold,
    frost_hold,
    frost_watch_ends_at,
    measured_dry_at,
    moisture_hold,
    proof_holds,
    standing_holds,
)
from scheduling.progress import NEVER, SLACK_HOURS, CureProgress, progress
from scheduling.temperatures import doubts, instant, microseconds

CAUTION = (
    "Firstwarm advises; local code, the makers’ instructions and a licensed electrician decide. "
    "Switch the circuit off and prove it dead before any work on it."
)


HOW = (
    "The hours of each layer count from when it was laid, by the law of its material: cold ones "
    "for less, warm ones never for more, none below its lowest temperature.",
    "Hours that nobody measured count as the coldest that they may have been.",
    "The layer that gets ready last governs the date; every hold has to be cleared besides.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The answer; dates are UTC, rounded up to whole seconds, None where they never come."""

    may_energize: bool
    earliest: datetime | None
    likely: datetime | None
    latest: datetime | None
    governed_by: str | None
    layers: tuple[CureProgress, ...]
    holds: tuple[Hold, ...]
    because: tuple[str, ...]
    caution: str = CAUTION


def decide(facts: Facts) -> Decision:
    """Decide from when heat may be switched on.

    Raises ImplausibleFacts, ImplausibleTime or ImplausibleTemperature, pointing at the field.
    """
    require_sense(facts)
    known = room_course(facts)
    layers = tuple(progress(layer, known, facts) for layer in facts.layers)
    frost = [hold for layer in facts.layers if (hold := _frost(layer, facts))]
    holds = (
        *frost,
        *_proof(facts),
        *(hold for layer in facts.layers if (hold := moisture_hold(layer, facts.evidence))),
        *standing_holds(facts.evidence),
    )
    governing = _governing(facts, layers, {hold.subject for hold in frost})
    no_date = frost or not layers
    return Decision(
        may_energize=bool(layers) and not holds and all(each.ready for each in layers),
        earliest=None if no_date else _last([each.earliest for each in layers]),
        likely=None if no_date else _last([each.likely for each in layers]),
        latest=None if no_date else _last([each.latest for each in layers]),
        governed_by=governing.id if governing else None,
        layers=layers,
        holds=holds,
        because=_because(facts, layers, governing, frost),
    )


def _last(dates: list[datetime | None]) -> datetime | None:
    """The latest of the dates; None (never) is later than all."""
    last = max(date or NEVER for date in dates)
    return None if last == NEVER else last


def _governing(
    facts: Facts, layers: tuple[CureProgress, ...], frosted: set[str]
) -> CureProgress | None:
    """The frosted layer, else the last to get ready, else the one placed last."""
    pairs = zip(facts.layers, layers, strict=True)
    governing = max(
        pairs,
        key=lambda pair: (pair[1].id in frosted, pair[1].order, pair[0].placed_at, pair[1].id),
        default=None,
    )
    return governing[1] if governing else None


def _frost(layer: Layer, facts: Facts) -> Hold | None:
    start_us = microseconds(layer.placed_at)
    record = facts.temperatures
    watched = (record.at_us >= start_us) & (
        record.at_us <= microseconds(frost_watch_ends_at(layer))
    )
    frosty = watched & (record.celsius <= FREEZING_C)
    readings = [
        (instant(int(at_us)), float(celsius))
        for at_us, celsius in zip(record.at_us[frosty], record.celsius[frosty], strict=True)
    ]
    return frost_hold(layer, readings, facts.evidence)


def _proof(facts: Facts) -> list[Hold]:
    placed = [microseconds(layer.placed_at) for layer in facts.layers]
    read = facts.temperatures.at_us
    return list(
        proof_holds(
            facts.required,
            facts.evidence,
            layers_without_temperature=any(not (read >= at_us).any() for at_us in placed),
        )
    )


def _because(
    facts: Facts,
    layers: tuple[CureProgress, ...],
    governing: CureProgress | None,
    frost: list[Hold],
) -> tuple[str, ...]:
    if governing is None:
        return ("No layer is recorded, so nothing covers the element yet.",)
    by_id = {layer.id: layer for layer in facts.layers}
    sentences = [_progress_sentence(by_id[each.id], each) for each in layers]
    sentences += [
        sentence
        for each in layers
        if each.drying
        for sentence in _drying_sentences(by_id[each.id], each.drying, facts)
    ]
    sentences += [
        f"{each.id}: {each.unknown_hours:.1f} h without a known temperature count at the coldest "
        f"of {facts.assume_c:g} °C and the readings beside them."
        for each in layers
        if each.unknown_hours > SLACK_HOURS
    ]
    if frost:
        sentences.append("Frost reached fresh mortar, so there is no date until it is looked at.")
    elif governing.ready:
        sentences.append(f"{governing.id} was the last layer to get ready.")
    else:
        law = by_id[governing.id].material.law
        sentences += [
            f"{governing.id} governs the date"
            + (", by its drying." if governing.drying_governs else "."),
            "Earliest: from now on in the climate of its sheet, or warmer and drier."
            if governing.drying_governs
            else f"Earliest: from now on at {law.reference_c:g} °C or more.",
            _likely_sentence(facts),
            f"Latest: throughout at {coldest_plausible_c(facts):g} °C, the coldest of what is "
            "assumed, read in the last seven days and promised.",
        ]
        if governing.latest is None:
            sentences.append(f"So cold, {governing.id} never gets ready: there is no latest date.")
    sentences += [
        f"{layer.id}: the figures of {layer.material.name} are assumptions; no data sheet is at "
        "hand."
        for layer in facts.layers
        if layer.material.assumed
    ]
    sentences += _contradictions(facts)
    sentences += doubts(facts.temperatures, max_gap_hours=facts.max_gap_hours)
    return tuple(sentence.replace(" -", " −") for sentence in sentences)


def _progress_sentence(layer: Layer, each: CureProgress) -> str:
    material = layer.material
    return (
        f"{each.id}, {material.name}: {_floor(each.equivalent_hours):g} of "
        f"{each.required_hours:g} h at {material.law.reference_c:g} °C are reached; "
        f"below {material.lowest_c:g} °C nothing counts."
    )


def _drying_sentences(layer: Layer, drying: CureProgress, facts: Facts) -> list[str]:
    told = layer.material.drying
    assert told is not None
    sentences = [
        f"{layer.id}, {layer.material.name}: {_floor(drying.equivalent_hours):g} of "
        f"{drying.required_hours:g} h of drying at {told.reference_c:g} °C and "
        f"{told.reference_rh_percent:g} % humidity are reached, an estimate; colder or damper air "
        "lengthens it, warmer or drier air never shortens it."
    ]
    if drying.ready and drying.ready == measured_dry_at(layer, facts.evidence):
        return [*sentences, f"{layer.id}: a moisture reading within its limit ends that estimate."]
    if drying.unknown_hours > SLACK_HOURS:
        sentences.append(
            f"{layer.id}: {drying.unknown_hours:.1f} h without a known humidity count at the "
            f"dampest of {facts.assume_rh_percent:g} % and the readings beside them."
        )
    if drying.ready is None:
        sentences.append(
            f"{layer.id}: from now on it dries likely in the humidity of the last seven days, at "
            f"the latest at {dampest_plausible_percent(facts):g} %."
        )
    return sentences


def _likely_sentence(facts: Facts) -> str:
    if any(promise.ends_at > facts.now for promise in facts.promises):
        return "Likely: as promised, and outside the promises as the last seven days went."
    return "Likely: as the last seven days went, hour of the day by hour of the day."


def _contradictions(facts: Facts) -> list[str]:
    return [
        f"{layer.id}: {layer.material.name} is walked on after "
        f"{layer.material.walk_after_hours:g} h but heated after "
        f"{layer.material.heat_after_hours:g} h. One of them is misread; look at the sheet."
        for layer in facts.layers
        if (layer.material.walk_after_hours or 0) > layer.material.heat_after_hours
    ]


def _floor(hours: float) -> float:
    return math.floor(hours * 10 + 1e-6) / 10
