"""What came off the lorry: contents against the order, damage, and the supply it is made for."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from readings import resistance, wording
from readings.number import positive
from readings.verdict import Verdict

# Label and service within 5 % of each other are one nominal voltage.
# Source: Portland (Oregon) City Code 27.19.051 (seen).
SAME_VOLTAGE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing ordered or found: what it is, its serial where it has one."""

    name: str
    serial: str = ""


def same_voltage(label_volts: float, service_volts: float) -> bool:
    """Whether an element labelled so may be taken as made for this supply."""
    label, service = positive(label_volts, "label_volts"), positive(service_volts, "service_volts")
    return abs(label - service) <= SAME_VOLTAGE * service


def judge_voltage(*, label_volts: float, label_watts: float, supply_volts: float) -> Verdict:
    """Judge an element's label against the supply, before it is unpacked.

    Too many volts is refused: it would overheat in the floor. Too few only heat too little, which
    somebody has to decide.
    """
    told = f"Made for {label_volts:g} V, the supply has {supply_volts:g} V"
    if same_voltage(label_volts, supply_volts):
        return Verdict(outcome="pass", because=f"{told}.")
    watts = resistance.watts_at(supply_volts, watts=label_watts, volts=label_volts)
    told += f": it would take {watts:.0f} W instead of {label_watts:g} W"
    if supply_volts > label_volts:
        return Verdict(
            outcome="fail",
            because=f"{told} and overheat.",
            next_step="Do not unpack it. Do not connect it. Send it back.",
        )
    return Verdict(
        outcome="undecided",
        because=f"{told}.",
        next_step="Ask the office whether so little heat is meant before you unpack it.",
    )


def judge_contents(*, ordered: Sequence[Item], found: Sequence[Item]) -> Verdict:
    """Judge what lay in the parcel against the order, by name, and by serial where both have it."""
    wanted, came = _counted(ordered), _counted(found)
    names = {_key(item): item.name.strip() for item in (*ordered, *found)}
    serials = {item.serial for item in found if item.serial}
    differences = [f"{n} × {names[key]} missing" for key, n in sorted((wanted - came).items())]
    differences += [f"{n} × {names[key]} too many" for key, n in sorted((came - wanted).items())]
    differences += [
        f"serial {item.serial} ({item.name}) was not found"
        for item in ordered
        if item.serial and item.serial not in serials
    ]
    twice = [serial for serial, n in Counter(i.serial for i in found if i.serial).items() if n > 1]
    differences += [f"serial {serial} was read twice" for serial in twice]
    if differences:
        return Verdict(
            outcome="fail",
            because=f"Not as ordered: {'; '.join(differences)}.",
            next_step="Look again, then call the office. Keep what is there packed.",
        )
    return Verdict(outcome="pass", because=f"All {len(found)} pieces of the order are there.")


def judge_damage(damage: Iterable[str]) -> Verdict:
    """Judge what the eye sees: any damage on heating parts is for the office to settle."""
    if seen := [note.strip() for note in damage if note.strip()]:
        return Verdict(
            outcome="fail",
            because=f"Damage seen: {wording.listed(seen)}.",
            next_step="Take a picture. Do not lay it. Call the office.",
        )
    return Verdict(outcome="pass", because="No damage was seen.")


def _counted(items: Iterable[Item]) -> Counter[str]:
    return Counter(map(_key, items))


def _key(item: Item) -> str:
    return item.name.strip().casefold()
