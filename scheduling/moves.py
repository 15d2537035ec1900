"""Why an energize date moved: two decisions and the facts under them, compared in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

Tree = Mapping[str, Any]

DATES = ("earliest", "likely", "latest")
# Less than this is noise of the thermometer; nobody's half-day moves by it.
WORTH_TELLING = {
    "earliest": timedelta(hours=6),
    "likely": timedelta(minutes=30),
    "latest": timedelta(hours=2),
}
CONTENT = ("may_energize", *DATES, "governed_by", "layers")


def differs(before: Tree, after: Tree) -> bool:
    """Whether a decision says something else than an older one: worth keeping and telling."""
    if before["may_energize"] != after["may_energize"] or _holds(before) != _holds(after):
        return True
    if before["governed_by"] != after["governed_by"]:
        return True
    return any(_moved(before[name], after[name], WORTH_TELLING[name]) for name in DATES)


def differences(stored: Tree, derived: Tree) -> tuple[str, ...]:
    """Names of what a decision derived again says otherwise than the stored one; wording aside."""
    found = [name for name in CONTENT if stored[name] != derived[name]]
    if _holds(stored) != _holds(derived):
        found.append("holds")
    return tuple(found)


def because(before: Tree, after: Tree, facts_before: Tree, facts_after: Tree) -> str:
    """Why the newer decision differs, in sentences; trees in the file format of `facts`."""
    zone = ZoneInfo(facts_after["zone"])
    sentences = []
    if before["likely"] != after["likely"]:
        sentences.append(
            f"Likely {_said(before['likely'], zone)} before, {_said(after['likely'], zone)} now."
        )
    sentences += _news(facts_before, facts_after)
    codes = {(hold["code"], hold["subject"]): hold["text"] for hold in before["holds"]}
    new = {(hold["code"], hold["subject"]): hold["text"] for hold in after["holds"]}
    sentences += [f"New hold: {text}" for key, text in new.items() if key not in codes]
    sentences += [f"Cleared: {text}" for key, text in codes.items() if key not in new]
    if after["may_energize"] and not before["may_energize"]:
        sentences.append("Nothing stands in the way of heat now.")
    return " ".join(sentences)


def _news(before: Tree, after: Tree) -> list[str]:
    sentences = []
    known = {_key(reading) for reading in before["temperatures"]}
    fresh = [reading for reading in after["temperatures"] if _key(reading) not in known]
    if fresh:
        celsius = [reading["celsius"] for reading in fresh]
        sentences.append(
            f"{len(fresh)} new temperature{'s' if len(fresh) > 1 else ''}, "
            f"{min(celsius):g} to {max(celsius):g} °C.".replace("-", "−")
        )
    damp = {_key(reading) for reading in before.get("humidities", ())}
    if new := [each for each in after.get("humidities", ()) if _key(each) not in damp]:
        percent = [each["percent"] for each in new]
        sentences.append(
            f"{len(new)} new humidit{'ies' if len(new) > 1 else 'y'}, "
            f"{min(percent):g} to {max(percent):g} %."
        )
    layers = {layer["id"]: layer for layer in before["layers"]}
    for layer in after["layers"]:
        if layer["id"] not in layers:
            sentences.append(f"{layer['id']} was placed.")
        elif layer != layers[layer["id"]]:
            sentences.append(f"What is known of {layer['id']} was changed.")
    gone = layers.keys() - {layer["id"] for layer in after["layers"]}
    sentences += [f"{layer} was taken out." for layer in sorted(gone)]
    if before["promises"] != after["promises"]:
        sentences.append("What the site promises changed.")
    if before["assume_c"] != after["assume_c"]:
        sentences.append("The assumed temperature changed.")
    return sentences


def _holds(decision: Tree) -> set[tuple[str, str]]:
    return {(hold["code"], hold["subject"]) for hold in decision["holds"]}


def _moved(before: str | None, after: str | None, by: timedelta) -> bool:
    if before is None or after is None:
        return before != after
    return abs(datetime.fromisoformat(after) - datetime.fromisoformat(before)) >= by


def _said(at: str | None, zone: ZoneInfo) -> str:
    if at is None:
        return "never"
    local = datetime.fromisoformat(at).astimezone(zone)
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M}"


def _key(reading: Mapping[str, Any]) -> tuple[Any, ...]:
    return reading["at"], reading.get("celsius", reading.get("percent")), reading["source"]
