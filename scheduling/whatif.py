"""What the energize date would become: a warmer room, another material, a layer on another day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from config.sentence import Sentence
from scheduling.energize import Decision, decide
from scheduling.floor import CuringMaterial, Facts, ImplausibleFacts, Layer, room_course
from scheduling.forecast import Promise
from scheduling.progress import progress

YEAR = timedelta(days=365)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supposed:
    """The dates as they are and as they would be; None where a date never comes.

    Holds other than time stay as they are.
    """

    now: Decision
    earliest: datetime | None
    likely: datetime | None
    latest: datetime | None
    because: tuple[Sentence, ...]


def suppose(
    facts: Facts,
    *,
    room_c: float | None = None,
    warm_from: datetime | None = None,
    materials: Sequence[tuple[str, CuringMaterial]] = (),
    to_place: Sequence[Layer] = (),
) -> Supposed:
    """The dates if the room were kept at `room_c` from `warm_from`, if layers were of another
    material (`(layer id, material)`), and if more layers were placed, even ones still to come.

    A layer in `to_place` stands for one of the same id, so that it can be moved to another day.
    Raises ImplausibleFacts for a layer that is not there.
    """
    changed, because = facts, []
    if room_c is not None:
        changed, said = _warmer(changed, room_c, warm_from or facts.now)
        because.append(said)
    for layer_id, material in materials:
        changed, said = _of_other_material(changed, layer_id, material)
        because.append(said)
    placed = [layer for layer in to_place if layer.placed_at <= facts.now]
    planned = [layer for layer in to_place if layer.placed_at > facts.now]
    moved = {layer.id for layer in to_place}
    kept = [layer for layer in changed.layers if layer.id not in moved]
    changed = replace(changed, layers=[*kept, *placed])
    because += [
        Sentence(
            "{layer}: {material} placed on {at}.",
            layer=layer.id,
            material=layer.material.name,
            at=_shown(layer.placed_at, facts),
        )
        for layer in to_place
    ]
    made = decide(changed)
    dates = [(made.earliest, made.likely, made.latest)] if changed.layers else []
    dates += [_planned_dates(layer, changed) for layer in planned]
    earliest, likely, latest = (_last([each[number] for each in dates]) for number in range(3))
    return Supposed(
        now=decide(facts), earliest=earliest, likely=likely, latest=latest, because=tuple(because)
    )


def _warmer(facts: Facts, room_c: float, warm_from: datetime) -> tuple[Facts, Sentence]:
    """Every promise gives way to the supposed temperature, so that warming can help the latest."""
    from_now = max(warm_from, facts.now)
    until = [
        replace(promise, ends_at=min(promise.ends_at, from_now))
        for promise in facts.promises
        if promise.starts_at < from_now
    ]
    supposed = Promise(starts_at=from_now, ends_at=from_now + YEAR, celsius=room_c)
    return (
        replace(facts, promises=[*until, supposed]),
        Sentence(
            "The room is kept at {celsius} °C from {at} on.",
            celsius=f"{room_c:g}",
            at=_shown(from_now, facts),
        ),
    )


def _of_other_material(
    facts: Facts, layer_id: str, material: CuringMaterial
) -> tuple[Facts, Sentence]:
    if layer_id not in {layer.id for layer in facts.layers}:
        raise ImplausibleFacts(f"There is no layer {layer_id!r}.", pointer="#/materials")
    layers = [
        replace(layer, material=material) if layer.id == layer_id else layer
        for layer in facts.layers
    ]
    return replace(facts, layers=layers), Sentence(
        "{layer} is of {material}.", layer=layer_id, material=material.name
    )


def _shown(at: datetime, facts: Facts) -> str:
    return f"{at.astimezone(facts.zone):%Y-%m-%d, %H:%M}"


def _planned_dates(
    layer: Layer, facts: Facts
) -> tuple[datetime | None, datetime | None, datetime | None]:
    """Dates of a layer still to come, from when it is to be placed."""
    found = progress(layer, room_course(facts), facts)
    return found.earliest, found.likely, found.latest


def _last(dates: Sequence[datetime | None]) -> datetime | None:
    found = [date for date in dates if date is not None]
    return max(found) if found and len(found) == len(dates) else None
