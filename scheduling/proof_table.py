"""How a room was proved, worded for paper: readings by stage, and every check as accepted."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from jobs.certificate import ElementRow, LoggedCheck, LoggedReading, ProofTable, Verdict
from readings import wording
from readings.wording import NBSP, figure
from scheduling.handover import STAGES

Record = Mapping[str, Any]

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
# These are judged as what they mean, a temperature and ohms: their ± is not in their own unit.
JUDGED_AS_ANOTHER = frozenset({"sensor", "load"})
STAGE_HEADS = {
    "arrival": "Arrival",
    "laid": "Laid",
    "covered": "Covered",
    "handover": "Handover",
    "service": "Service",
}
KINDS = {
    "element": "Core to core, Ω",
    "lead_to_ground": "Lead {lead} to ground",
    "insulation": "Insulation, MΩ",
    "sensor": "Floor sensor, kΩ",
    "supply": "Supply, V",
    "load": "Current, A",
}
IN_OHMS = ("lead_to_ground", "sensor")
OUTCOMES = {"pass": "Pass", "fail": "Fail", "undecided": "Undecided"}
WORST_FIRST = ("fail", "undecided", "pass")
NOT_MEASURED = Verdict(
    outcome="undecided", word="Undecided", text="not measured", said="Undecided: not measured."
)


def standing(room: Record) -> dict[tuple[str, str, str], dict[str, Record]]:
    """(kind, label, lead) -> stage -> the reading that counts: the latest of checks in force."""
    found: dict[tuple[str, str, str], dict[str, Record]] = {}
    for check in room["checks"]:
        if not check["superseded"]:
            for reading in check["readings"]:
                key = (reading["kind"], reading["label"], reading["lead"])
                found.setdefault(key, {})[check["stage"]] = reading
    return found


def shown(reading: Record) -> str:
    """A reading as its meter showed it, with its expanded uncertainty where that is in its unit."""
    kind, meter = reading["kind"], reading["meter"] or {}
    if reading["over_range"]:
        if not meter:
            return "over-range"
        most = meter["full_scale"]
        return f"over{NBSP}{wording.range_name(most) if kind in IN_OHMS else f'{most:g}'}"
    if kind == "lead_to_ground":
        return wording.range_name(reading["value"])
    unit = 1e-3 if kind == "sensor" else 1.0
    text = figure(reading["value"] * unit, meter["resolution"] * unit if meter else None)
    half_width = reading["expanded_uncertainty"]
    if half_width is not None and kind not in JUDGED_AS_ANOTHER:
        text += f"{NBSP}±{NBSP}{wording.plus_minus(half_width)}"
    if kind == "sensor" and reading["at_c"] is not None:
        text += f" ({wording.celsius(reading['at_c'])})"
    return text


def verdict(reading: Record) -> Verdict:
    word = OUTCOMES[reading["outcome"]]
    return Verdict(
        outcome=reading["outcome"],
        word=word,
        text=shown(reading),
        said=f"{word}: {reading['because']}",
    )


def element_rows(room: Record) -> Iterator[ElementRow]:
    found = standing(room)
    for row in room["elements"]:
        by_stage = found.get(("element", row["label"], ""), {})
        last = next((by_stage[stage] for stage in reversed(STAGE_HEADS) if stage in by_stage), None)
        yield ElementRow(
            room=room["name"],
            element=f"{row['label']}, {row['material']}",
            serial=row["serial"],
            tag=wording.ohms(row["tag_ohms"]),
            last=verdict(last) if last else NOT_MEASURED,
        )


def proof_of(room: Record, zone: ZoneInfo) -> ProofTable:
    """Each reading that counts, by stage."""
    found = standing(room)
    stages = [stage for stage in STAGE_HEADS if any(stage in cells for cells in found.values())]
    several = len(room["elements"]) > 1
    return ProofTable(
        title=f"How it was proved: {room['name']}",
        first="Reading",
        stages=[f"{STAGE_HEADS[stage]}, {_stage_day(room, stage, zone)}" for stage in stages],
        rows=[
            (
                _reading_name(kind, label if several or kind == "sensor" else "", lead),
                [verdict(cells[stage]) if stage in cells else None for stage in stages],
            )
            for (kind, label, lead), cells in sorted(found.items(), key=_in_print_order)
        ],
        notes=_proof_notes(found),
    )


def _in_print_order(item: tuple[tuple[str, str, str], object]) -> tuple[int, str, str]:
    (kind, label, lead), _ = item
    return list(KINDS).index(kind), label, lead


def _reading_name(kind: str, label: str, lead: str) -> str:
    name = KINDS[kind].format(lead=lead)
    return f"{label}: {name}" if label and kind != "sensor" else name


def _stage_day(room: Record, stage: str, zone: ZoneInfo) -> str:
    taken = [check["taken_at"] for check in room["checks"] if check["stage"] == stage]
    at = datetime.fromisoformat(taken[-1]).astimezone(zone)
    return f"{at.day} {MONTHS[at.month - 1][:3]}"


def _proof_notes(found: Mapping[tuple[str, str, str], Mapping[str, Record]]) -> list[str]:
    readings = [reading for cells in found.values() for reading in cells.values()]
    limits = dict.fromkeys(
        f"{KINDS[kind].partition(',')[0]}{' ' + label if label else ''}: {_limits(cells)}"
        for (kind, label, _), cells in found.items()
        if kind in ("element", "insulation")
    )
    meters = dict.fromkeys(
        _meter(reading["meter"]) for reading in readings if reading["meter"] is not None
    )
    notes = ["Limits: " + "; ".join(limits) + "."] if limits else []
    notes += ["Measured with " + "; ".join(meters) + "."] if meters else []
    return [*notes, "± is the expanded uncertainty, 19 times in 20."]


def _limits(cells: Mapping[str, Record]) -> str:
    reading = list(cells.values())[-1]
    if reading["kind"] == "insulation":
        return f"at least {wording.megohms(reading['low'])}" if reading["low"] else "none"
    return wording.between(reading["low"], reading["high"], "Ω")


def _meter(meter: Record) -> str:
    due = meter["calibration_due_on"]
    serial = f", serial {meter['serial']}" if meter["serial"] else ""
    return f"{meter['name']}{serial}, " + (
        f"calibrated to {day_words(datetime.fromisoformat(due))}" if due else "calibration not told"
    )


def proof_of_all(rooms: Sequence[Record], most: int) -> ProofTable:
    """Rooms by stage, where their readings are too many for one page: how many pass, of how many.

    Of more rooms than `most` the rest is told in the notes.
    """
    stages = [stage for stage in STAGES if any(_at_stage(room, stage) for room in rooms)]
    notes = ["Each reading, its limits and its meter: in the annexes."]
    if len(rooms) > most:
        notes.insert(0, f"{len(rooms) - most} more rooms: in the annexes.")
    return ProofTable(
        title="How it was proved",
        first="Room",
        stages=[STAGE_HEADS[stage] for stage in stages],
        rows=[
            (room["name"], [_summed_up(_at_stage(room, stage)) for stage in stages])
            for room in rooms[:most]
        ],
        notes=notes,
    )


def _at_stage(room: Record, stage: str) -> list[Record]:
    return [cells[stage] for cells in standing(room).values() if stage in cells]


def _summed_up(readings: Sequence[Record]) -> Verdict | None:
    """The worst of some readings, and how many pass."""
    if not readings:
        return None
    outcomes = [reading["outcome"] for reading in readings]
    worst = min(outcomes, key=WORST_FIRST.index)
    text = f"{outcomes.count('pass')} of {len(outcomes)}"
    word = OUTCOMES[worst]
    return Verdict(outcome=worst, word=word, text=text, said=f"{word}: {text} readings pass.")


def reasons(room: Record) -> list[tuple[str, str]]:
    """Why each reading that counts was judged so: each sentence once, with the stages it is of."""
    found: dict[str, list[str]] = {}
    for _key, cells in sorted(standing(room).items(), key=_in_print_order):
        for stage in STAGE_HEADS:
            if stage in cells:
                found.setdefault(cells[stage]["because"], []).append(STAGE_HEADS[stage])
    return [
        (", ".join(dict.fromkeys(stages)).capitalize(), because)
        for because, stages in found.items()
    ]


def logged(check: Record, zone: ZoneInfo) -> LoggedCheck:
    """A check with its digest, whether or not it still counts.

    Readings in force stand in the table with their reasons; those of a replaced check only here.
    """
    state = ", replaced by a later one" if check["superseded"] else ""
    return LoggedCheck(
        head=f"{check['sequence']}. {STAGE_HEADS[check['stage']]}, "
        f"{instant_words(check['taken_at'], zone)}, by {check['taken_by']}: "
        f"{OUTCOMES[check['outcome']].lower()}{state}",
        digest=check["digest"],
        notes=[*check["flags"], *([check["note"]] if check["note"] else [])],
        readings=[
            LoggedReading(
                what=_reading_name(each["kind"], each["label"], each["lead"]),
                shown=verdict(each),
                because=each["because"],
            )
            for each in check["readings"]
            if check["superseded"]
        ],
    )


def instant_words(text: str, zone: ZoneInfo) -> str:
    """An instant of the record as `1 December 2026, 9:40 am`, in the place's own time."""
    at = datetime.fromisoformat(text).astimezone(zone)
    half = "am" if at.hour < 12 else "pm"
    return f"{day_words(at)}, {(at.hour - 1) % 12 + 1}:{at.minute:02}{NBSP}{half}"


def day_words(at: datetime) -> str:
    """Such as `1 December 2026`."""
    return f"{at.day}{NBSP}{MONTHS[at.month - 1]} {at.year}"
