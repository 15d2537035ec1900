"""What stands in the way of heat besides time: proof that is missing, failed or not yet decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.floor import Evidence, Layer
from scheduling.moisture import is_dry

FREEZING_C = 0.0
WORST_LAST: dict[str, int] = {"pass": 0, "undecided": 1, "fail": 2}
STANDING = {
    # evidence that is a hold for as long as it is there: what, who clears it
    "open-fault": ("A fault of the element is open.", "The installer finds it and closes it."),
    "open-notice": (
        "A warning to another trade is not acknowledged.",
        "The trade confirms that it was read, or the office reaches them.",
    ),
}
REQUIRED = {
    # what must be there before heat: what is missing, who clears it
    "check": (
        "The check “{stage}” is missing.",
        "The installer measures with the circuit off and proven dead, and it passes.",
    ),
    "sensor": ("No floor sensor is recorded.", "The installer records the sensor laid."),
    "control": ("No control is recorded.", "The installer records the control fitted."),
    "leakage-protection": (
        "The leakage protection is not proven.",
        "A licensed electrician tests the device and records it.",
    ),
    "electrician": ("The electrician has not signed.", "The licensed electrician signs."),
    "temperatures": (
        "No temperature of this floor was recorded since it was laid.",
        "The installer or a logger records temperatures.",
    ),
}
NOT_PASSED = {
    "fail": ("“{item}” failed.", "The cause is put right, and it is checked again."),
    "undecided": ("“{item}” is undecided.", "It is checked again, so that it can be decided."),
}


HOW = (
    "Each proof that this floor needs is looked for among the records: the latest of each counts, "
    "and of two at one instant the worse.",
    "Frost in fresh mortar, moisture above the limit of its sheet, an open fault and a warning "
    "that nobody confirmed hold the heat too; waiting clears none of them.",
    "Local code may ask for more: a licensed electrician decides.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """One thing that forbids heat: what, about which item or layer, and who clears it how."""

    code: str
    subject: str
    text: str
    cleared_by: str


def proof_holds(
    required: Sequence[str], evidence: Sequence[Evidence], *, layers_without_temperature: bool
) -> Iterator[Hold]:
    """Holds for proof that is missing or did not pass; the latest of each item counts.

    Of two at one instant the worse counts.
    """
    latest = _latest_by_item(evidence)
    for item in dict.fromkeys(required):
        kind, _, stage = item.partition(":")
        present = not layers_without_temperature if item == "temperatures" else item in latest
        if not present:
            text, cleared_by = REQUIRED.get(
                kind, ("“{item}” is missing.", "Whoever is responsible shows it.")
            )
            yield Hold(
                code=f"{kind}-missing",
                subject=item,
                text=text.format(stage=stage, item=item),
                cleared_by=cleared_by,
            )
    for item in sorted(latest):
        if (outcome := latest[item].outcome) != "pass":
            text, cleared_by = NOT_PASSED[outcome]
            code = "failed" if outcome == "fail" else "undecided"
            yield Hold(
                code=f"{latest[item].kind}-{code}",
                subject=item,
                text=text.format(item=item),
                cleared_by=cleared_by,
            )


def standing_holds(evidence: Sequence[Evidence]) -> Iterator[Hold]:
    """Holds for what stands open, each once."""
    standing = {(each.kind, each.subject) for each in evidence if each.kind in STANDING}
    for kind, subject in sorted(standing):
        text, cleared_by = STANDING[kind]
        yield Hold(code=kind, subject=subject or kind, text=text, cleared_by=cleared_by)


def frost_hold(
    layer: Layer, readings: Sequence[tuple[datetime, float]], evidence: Sequence[Evidence]
) -> Hold | None:
    """The hold of a layer with a reading at or below 0 °C within its frost watch.

    `readings` are those of the watch. An inspection of the layer that passed after the last such
    reading clears it.
    """
    frosty = [(at, celsius) for at, celsius in readings if celsius <= FREEZING_C]
    if not frosty:
        return None
    last_frost_at = max(at for at, _ in frosty)
    coldest_c = min(celsius for _, celsius in frosty)
    inspections = [
        each
        for each in evidence
        if each.kind == "frost-cleared" and each.layer == layer.id and each.at > last_frost_at
    ]
    if inspections and _latest(inspections).outcome == "pass":
        return None
    return Hold(
        code="frost",
        subject=layer.id,
        text=f"{layer.material.name} met {coldest_c:g} °C within "
        f"{layer.material.frost_watch_hours:g} h after placing.".replace("-", "−"),
        cleared_by="Somebody who answers for the mortar looks at it. No waiting clears this.",
    )


def frost_watch_ends_at(layer: Layer) -> datetime:
    """Until when a frost harms the fresh layer."""
    return layer.placed_at + timedelta(hours=layer.material.frost_watch_hours)


def moisture_hold(layer: Layer, evidence: Sequence[Evidence]) -> Hold | None:
    """The hold of a layer with a moisture limit until its latest reading is within it."""
    limit = layer.material.moisture
    if limit is None:
        return None
    latest = _latest_moisture(layer, evidence)
    wanted = f"at most {limit.limit:g} {limit.unit} by {limit.method}"
    if latest is None:
        return Hold(
            code="moisture-missing",
            subject=layer.id,
            text=f"No moisture reading of {layer.material.name}; {wanted} is needed.",
            cleared_by=f"Somebody trained for {limit.method} measures. Time alone shows nothing.",
        )
    _, value = latest
    if is_dry(value, limit):
        return None
    return Hold(
        code="moisture-high",
        subject=layer.id,
        text=f"{layer.material.name} holds {value:g} {limit.unit}; {wanted} is needed.",
        cleared_by="It dries on, and a new reading is within the limit.",
    )


def measured_dry_at(layer: Layer, evidence: Sequence[Evidence]) -> datetime | None:
    """When the latest moisture reading was taken, if it is within the layer's limit."""
    latest = _latest_moisture(layer, evidence)
    if latest is None or layer.material.moisture is None:
        return None
    at, value = latest
    return at if is_dry(value, layer.material.moisture) else None


def _latest_moisture(layer: Layer, evidence: Sequence[Evidence]) -> tuple[datetime, float] | None:
    """The latest reading that tells of a layer with a limit.

    One from before the layer was placed, by another method or in another unit says nothing; of two
    at one instant the wetter counts.
    """
    limit = layer.material.moisture
    if limit is None:
        return None
    readings = [
        (each.at, each.value)
        for each in evidence
        if each.kind == "moisture"
        and each.layer == layer.id
        and each.value is not None
        and each.at >= layer.placed_at
        and each.method in ("", limit.method)
        and each.unit in ("", limit.unit)
    ]
    return max(readings, default=None)


def _latest_by_item(evidence: Sequence[Evidence]) -> dict[str, Evidence]:
    by_item: dict[str, list[Evidence]] = {}
    for each in evidence:
        if each.kind in REQUIRED:
            by_item.setdefault(each.item, []).append(each)
    return {item: _latest(found) for item, found in by_item.items()}


def _latest(evidence: Sequence[Evidence]) -> Evidence:
    return max(evidence, key=lambda each: (each.at, WORST_LAST[each.outcome]))
