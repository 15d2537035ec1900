"""The certificate's words from a job's frozen record."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import chain
from typing import Any
from zoneinfo import ZoneInfo

from jobs import drawing, plan_picture
from jobs.certificate import (
    Annex,
    Certificate,
    Drawing,
    ElementRow,
    Floor,
    LoggedCheck,
    LoggedReading,
    ProofTable,
    Signature,
    Verdict,
)
from jobs.plan_picture import PlanPicture
from jobs.room_picture import StoredPlan, picture
from jobs.units import System, shown_length
from readings import wording
from readings.wording import NBSP, figure, listed
from scheduling.chart import cure_chart
from scheduling.energize import decide
from scheduling.facts import facts_from_tree

Record = Mapping[str, Any]

WIDTH_MM = 182.0
FIRST_PAGE_MM = 150.0  # what the first page leaves for the table of elements and a drawing
ROW_MM = 8.0
ANNEX_MM = 220.0
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
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
NOT_MEASURED = Verdict(
    outcome="undecided", word="Undecided", text="not measured", said="Undecided: not measured."
)
ALWAYS_UNCHECKED = ("House wiring before the control.",)


def printed(record: Record, *, digest: str) -> Certificate:
    """The certificate of a frozen record; `digest` is the record's, as hex."""
    zone = ZoneInfo(record["job"]["time_zone"])
    system: System = record["job"]["units"]
    rooms: Sequence[Record] = record["rooms"]
    rows = sum(len(room["elements"]) for room in rooms)
    heights_mm = [FIRST_PAGE_MM - ROW_MM * rows, *[ANNEX_MM] * (len(rooms) - 1)]
    drawings = [
        _drawing(room, system, height_mm=height, key=f"plan{at}")
        for at, (room, height) in enumerate(zip(rooms, heights_mm, strict=True))
    ]
    contractor = record["contractor"]
    return Certificate(
        number=record["number"],
        digest=" ".join(digest[at : at + 4] for at in range(0, 16, 4)),
        contractor=contractor["name"],
        title=f"{listed([room['name'] for room in rooms])}, {record['job']['street']}",
        head=_head(rooms, zone),
        intro=_intro(record, zone),
        elements=[row for room in rooms for row in _element_rows(room)],
        drawing=drawings[0],
        proofs=[_proof(room, zone) for room in rooms],
        floors=[_floor(room, zone, system, key=f"cure{at}") for at, room in enumerate(rooms)],
        assumed=list(chain.from_iterable(_assumed(room) for room in rooms)),
        not_checked=[*_not_checked(rooms), f"What was changed after {_day(record, zone)}."],
        signatures=[_signature(row, zone) for row in record["sign_offs"]],
        call=f"{contractor['name']}, {contractor['phone']}, and say number {record['number']}.",
        annexes=list(_annexes(rooms, drawings, zone)),
    )


def instant_words(text: str, zone: ZoneInfo) -> str:
    """An instant of the record as `1 December 2026, 9:40 am`, in the place's own time."""
    at = datetime.fromisoformat(text).astimezone(zone)
    half = "am" if at.hour < 12 else "pm"
    return f"{day_words(at)}, {(at.hour - 1) % 12 + 1}:{at.minute:02}{NBSP}{half}"


def day_words(at: datetime) -> str:
    return f"{at.day}{NBSP}{MONTHS[at.month - 1]} {at.year}"


def _day(record: Record, zone: ZoneInfo) -> str:
    return day_words(datetime.fromisoformat(record["issued_at"]).astimezone(zone))


def _head(rooms: Sequence[Record], zone: ZoneInfo) -> str:
    outcomes = [
        cell["outcome"]
        for room in rooms
        for by_stage in standing(room).values()
        for cell in by_stage.values()
    ]
    passed = outcomes.count("pass")
    said = (
        f"All {passed} readings pass."
        if passed == len(outcomes)
        else f"{passed} of {len(outcomes)} readings pass."
    )
    energized = [room["energized_at"] for room in rooms if room["energized_at"]]
    if not energized:
        return f"{said} Heat is not on yet."
    last = max(datetime.fromisoformat(text) for text in energized).astimezone(zone)
    return f"{said} Heat has been on since {WEEKDAYS[last.weekday()]} {day_words(last)}."


def _intro(record: Record, zone: ZoneInfo) -> str:
    laid_by = {
        check["taken_by"]
        for room in record["rooms"]
        for check in room["checks"]
        if check["stage"] == "laid" and not check["superseded"]
    }
    said = [
        f"Issued {instant_words(record['issued_at'], zone)}, by {record['contractor']['name']}."
    ]
    if laid_by:
        said.append(f"Laid by {listed(sorted(laid_by))}.")
    electricians = [row for row in record["sign_offs"] if row["kind"] == "electrician"]
    said += [
        f"Connected by licensed electrician {row['name']}, licence {row['licence_number']}."
        for row in electricians[-1:]
    ]
    return " ".join(said)


# Readings


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


def _element_rows(room: Record) -> Iterator[ElementRow]:
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


def _proof(room: Record, zone: ZoneInfo) -> ProofTable:
    found = standing(room)
    stages = [stage for stage in STAGE_HEADS if any(stage in cells for cells in found.values())]
    several = len(room["elements"]) > 1
    return ProofTable(
        title=room["name"],
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


# The floor and its date


def _floor(room: Record, zone: ZoneInfo, system: System, *, key: str) -> Floor:
    decision = room["decision"]
    steps = room["warm_up"]
    last = steps[-1] if steps else None
    return Floor(
        room=room["name"],
        chart=_chart(decision, system, key=key) if decision else None,
        because=list(_because(decision, zone)) if decision else ["No decision was recorded."],
        terms=[_layer(layer, zone, system) for layer in room["layers"]],
        warm_up=f"Done to step {last['step']}, on {instant_words(last['done_at'], zone)}."
        if last
        else "No step of a warm-up was recorded.",
    )


def _chart(decision: Record, system: System, *, key: str) -> Drawing | None:
    """How the layer that governed the date cured, drawn again from what was known then."""
    facts = facts_from_tree(decision["facts"])
    drawn = cure_chart(facts, decide(facts), system=system, key=key)
    if drawn is None:
        return None
    return Drawing(title=drawn.title, svg=drawn.svg, caption=drawn.caption)


def _names(decision: Record) -> dict[str, str]:
    return {layer["id"]: layer["material"]["name"] for layer in decision["facts"]["layers"]}


def _because(decision: Record, zone: ZoneInfo) -> Iterator[str]:
    names = _names(decision)
    for layer in decision["result"]["layers"]:
        name = names[layer["id"]]
        reached = f"{name}: {layer['equivalent_hours']:g} of {layer['required_hours']:g} h reached"
        yield (
            f"{reached} on {instant_words(layer['ready'], zone)}."
            if layer["ready"]
            else f"{reached} when decided."
        )
    yield f"Decided {instant_words(decision['decided_at'], zone)}."


def _layer(layer: Record, zone: ZoneInfo, system: System) -> tuple[str, str]:
    said = [
        shown_length(layer["thickness_mm"], system) if layer["thickness_mm"] else "",
        f"placed {instant_words(layer['placed_at'], zone)}",
        f"needs {layer['heat_after_hours']:g} h at {layer['reference_c']:g} °C before heat"
        if layer["heat_after_hours"] is not None and layer["reference_c"] is not None
        else "",
        f"after {layer['sheet']}" if layer["sheet"] else "",
    ]
    return layer["material"], ", ".join(part for part in said if part) + "."


def _assumed(room: Record) -> Iterator[str]:
    if decision := room["decision"]:
        names = _names(decision)
        for layer in decision["result"]["layers"]:
            if layer["unknown_hours"] > 0:
                yield (
                    f"{room['name']}, {names[layer['id']]}: {layer['unknown_hours']:.0f} h without "
                    "a known temperature counted at the coldest that was plausible."
                )
    generic = [
        row["material"]
        for kind in ("elements", "floor_sensors", "controls", "layers")
        for row in room[kind]
        if row["generic"]
    ]
    for name in dict.fromkeys(generic):
        yield f"{room['name']}: {name} stands for a product without a data sheet at hand."


def _not_checked(rooms: Sequence[Record]) -> Iterator[str]:
    yield from ALWAYS_UNCHECKED
    for room in rooms:
        plan = room["plan"]
        if plan is None:
            yield f"{room['name']}: where the cable lies was not recorded."
        elif plan["basis"] != "as_laid":
            yield f"{room['name']}: the drawing is the plan; what was laid was not drawn."


def _signature(row: Record, zone: ZoneInfo) -> Signature:
    licence = f", licence {row['licence_number']}" if row["licence_number"] else ""
    return Signature(
        who=f"{row['name']}, {row['kind']}{licence}",
        what=row["scope"],
        when=instant_words(row["signed_at"], zone),
    )


# Drawings and annexes


def _drawing(room: Record, system: System, *, height_mm: float, key: str) -> Drawing | None:
    stored = room["plan"]
    if stored is None:
        return None
    shown_room: PlanPicture = picture(
        name=room["name"],
        outline=room["outline"],
        keep_outs=room["keep_outs"],
        door_mm=room["door_mm"],
        doorways=room.get("doorways", ()),
        control_mm=room["control_mm"],
        stored=StoredPlan(**stored),
    )
    scale = drawing.largest_scale(shown_room, width_mm=WIDTH_MM, height_mm=height_mm)
    return Drawing(
        title=plan_picture.title(shown_room, system=system),
        svg=drawing.draw(shown_room, system=system, scale=scale, key=key),
        caption=plan_picture.caption(shown_room, scale=scale),
    )


def _annexes(
    rooms: Sequence[Record], drawings: Sequence[Drawing | None], zone: ZoneInfo
) -> Iterator[Annex]:
    for room, drawn in list(zip(rooms, drawings, strict=True))[1:]:
        if drawn:
            yield Annex(title=f"Where it lies: {room['name']}", drawing=drawn)
    for room in rooms:
        yield Annex(
            title=f"Every check, as it was accepted: {room['name']}",
            checks=[_logged(check, zone) for check in room["checks"]],
        )


def _logged(check: Record, zone: ZoneInfo) -> LoggedCheck:
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
        ],
    )
