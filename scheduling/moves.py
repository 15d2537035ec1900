"""Why an energize date moved: two decisions and the facts under them, compared in words.

Who depends on a date is told when it moves by half a day or more against the one last told, when it
is lost or comes back, and when a hold appears or clears. Warnings to other trades are no such hold:
they have messages of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Literal
from zoneinfo import ZoneInfo

from config.sentence import Sentence
from scheduling.notice import SAME_END

Tree = Mapping[str, Any]
News = Literal["date", "held", "cleared"]

DATES = ("earliest", "likely", "latest")
# Less than this is noise of the thermometer; nobody's half-day moves by it.
WORTH_KEEPING = {
    "earliest": timedelta(hours=6),
    "likely": timedelta(minutes=30),
    "latest": timedelta(hours=2),
}
CONTENT = ("may_energize", *DATES, "governed_by", "layers")


def differs(before: Tree, after: Tree) -> bool:
    """Whether a decision says something else than an older one: worth keeping."""
    if before["may_energize"] != after["may_energize"] or _holds(before) != _holds(after):
        return True
    if before["governed_by"] != after["governed_by"]:
        return True
    return any(_moved(before[name], after[name], WORTH_KEEPING[name]) for name in DATES)


def differences(stored: Tree, derived: Tree) -> tuple[str, ...]:
    """Names of what a decision derived again says otherwise than the stored one; wording aside."""
    found = [name for name in CONTENT if stored[name] != derived[name]]
    if _holds(stored) != _holds(derived):
        found.append("holds")
    return tuple(found)


def worth_telling(told: Tree, now: Tree) -> News | None:
    """What of a decision is news to those who were told an older one; None if nothing is."""
    if _moved(told["likely"], now["likely"], SAME_END):
        return "date"
    before, after = _told_holds(told), _told_holds(now)
    if after - before:
        return "held"
    return "cleared" if before - after else None


def because(before: Tree, after: Tree, facts_before: Tree, facts_after: Tree) -> str:
    """Why the newer decision differs, in English; trees in the file format of `facts`."""
    zone = ZoneInfo(facts_after["zone"])
    moved = before["likely"] != after["likely"]
    was, now = (_said(each["likely"], zone) for each in (before, after))
    sentences = [f"Likely {was} before, {now} now."] if moved else []
    return " ".join([*sentences, *reasons(before, after, facts_before, facts_after)])


def reasons(
    before: Tree, after: Tree, facts_before: Tree, facts_after: Tree
) -> tuple[Sentence, ...]:
    """What is new in the facts and holds of a decision against an older one, a sentence each."""
    return (
        *_climate("temperatures", "celsius", facts_before, facts_after),
        *_climate("humidities", "percent", facts_before, facts_after),
        *_floor_news(facts_before, facts_after),
        *_hold_news(before, after),
    )


def stored(found: Sequence[Sentence]) -> list[list[Any]]:
    """Sentences as JSON values, `[template, figures]`, to be said later in any language."""
    return [[each.template, each.figures] for each in found]


def _climate(kind: str, value: str, before: Tree, after: Tree) -> Iterator[Sentence]:
    known = {_key(reading, value) for reading in before.get(kind, ())}
    fresh = [each[value] for each in after.get(kind, ()) if _key(each, value) not in known]
    if fresh:
        n = str(len(fresh))
        low, high = (
            f"{round(end, 1) + 0.0:g}".replace("-", "−") for end in (min(fresh), max(fresh))
        )
        yield (
            Sentence("New temperatures: {n}, from {low} to {high} °C.", n=n, low=low, high=high)
            if kind == "temperatures"
            else Sentence("New humidities: {n}, from {low} to {high} %.", n=n, low=low, high=high)
        )


def _floor_news(before: Tree, after: Tree) -> Iterator[Sentence]:
    layers = {layer["id"]: layer for layer in before["layers"]}
    for layer in after["layers"]:
        name = layer["material"]["name"]
        if layer["id"] not in layers:
            yield Sentence("{layer} was placed.", layer=name)
        elif layer != layers[layer["id"]]:
            yield Sentence("What is known of {layer} was changed.", layer=name)
    kept = {layer["id"] for layer in after["layers"]}
    for layer_id in sorted(layers.keys() - kept):
        yield Sentence("{layer} was taken out.", layer=layers[layer_id]["material"]["name"])
    if before["promises"] != after["promises"]:
        yield Sentence("The temperature that the site promises changed.")
    if before["assume_c"] != after["assume_c"]:
        yield Sentence("The assumed temperature changed.")


def _hold_news(before: Tree, after: Tree) -> Iterator[Sentence]:
    old = {(hold["code"], hold["subject"]): hold["text"] for hold in before["holds"]}
    new = {(hold["code"], hold["subject"]): hold["text"] for hold in after["holds"]}
    for key, text in new.items():
        if key not in old:
            yield Sentence("New hold: {text}", text=text)
    for key, text in old.items():
        if key not in new:
            yield Sentence("Cleared: {text}", text=text)
    if after["may_energize"] and not before["may_energize"]:
        yield Sentence("Nothing stands in the way of heat now.")


def _told_holds(decision: Tree) -> set[tuple[str, str]]:
    return {key for key in _holds(decision) if key[0] != "open-notice"}


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


def _key(reading: Mapping[str, Any], value: str) -> tuple[Any, ...]:
    return reading["at"], reading[value], reading["source"]
