"""The certificate's words from a job's frozen record, laid out on two pages and annexes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from math import ceil
from zoneinfo import ZoneInfo

from jobs import drawing, plan_picture
from jobs.certificate import (
    Annex,
    Certificate,
    Drawing,
    ElementRow,
    Floor,
    ProofTable,
    Signature,
    Verify,
)
from jobs.plan_picture import PlanPicture
from jobs.qr import qr_svg
from jobs.room_picture import StoredPlan, picture
from jobs.units import System, shown_length
from readings.wording import figure, listed
from scheduling.chart import cure_chart
from scheduling.energize import decide
from scheduling.facts import facts_from_tree
from scheduling.proof_table import (
    Record,
    day_words,
    element_rows,
    instant_words,
    logged,
    proof_of,
    proof_of_all,
    reasons,
    standing,
)

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
ALWAYS_UNCHECKED = ("House wiring before the control.",)

# The first page: 263 mm between its margins, less headings, box, caution and caption, each with
# one line; what lies in the floor and a plan share the rest.
WIDTH_MM = 182.0
FIRST_PAGE_MM = 164.0
LINE_MM = 5.0
ROW_MM = 7.0
TITLE_LETTERS, HEAD_LETTERS, INTRO_LETTERS, ELEMENT_LETTERS = 54, 80, 104, 38
MOST_ELEMENTS = 8
MOST_NAMES = 4
# An annex sheet has narrower margins: a room of 3.0 m fits at 1:20.
SHEET_MM = (190.0, 232.0)
LARGEST, SMALLEST_OF_PAGE = 20, 50
# The second page.
MOST_PROOF_ROWS = 11
MOST_ROOMS_SUMMED_UP = 8
MOST_TERMS = 4
MOST_SENTENCES = 4
CODE_MM = 24.0
ELEMENTS_ANNEX = "What lies in the floors"
LISTS_ANNEX = "What was assumed, what not checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Voided:
    """That a certificate is no longer in force; `replaced_by` is a number, or empty."""

    at: datetime
    reason: str
    replaced_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """A numbered annex to be, and what points to it from the pages before."""

    annex: Annex
    room: str = ""


def printed(
    record: Record, *, digest: str, verify_url: str = "", void: Voided | None = None
) -> Certificate:
    """The certificate of a frozen record; `digest` is the record's, as hex.

    `verify_url` is where the paper can be compared with the record; a copy that says `void` is not
    the paper as issued, and has none.
    """
    zone = ZoneInfo(record["job"]["time_zone"])
    system: System = record["job"]["units"]
    rooms: Sequence[Record] = record["rooms"]
    contractor = record["contractor"]
    title, head, intro = _title(record), _head(rooms, zone), _intro(record, zone)
    voided = _void(void, zone) if void else ""
    elements = [row for room in rooms for row in element_rows(room)]
    shown = elements[:MOST_ELEMENTS]
    plans = _Plans(rooms, system)
    first = plans.on_page(
        _left_for_plan_mm(
            title=title, head=head, intro=intro, voided=voided, shown=shown, all_of=elements
        )
    )
    governing = _governing(rooms)
    proofs = [proof_of(room, zone) for room in rooms]
    summed_up = sum(len(proof.rows) for proof in proofs) > MOST_PROOF_ROWS
    floors = [_floor(room, zone, system, key=f"cure{at}") for at, room in enumerate(rooms)]
    assumed = list(chain.from_iterable(_assumed(room) for room in rooms))
    not_checked = [*_not_checked(rooms), f"What was changed after {_day(record, zone)}."]

    sheets = [_Sheet(annex=annex, room=room) for room, annex in plans.sheets(first)]
    if shown != elements:
        sheets.append(_Sheet(annex=Annex(title=ELEMENTS_ANNEX, elements=elements)))
    for room, proof, floor in zip(rooms, proofs, floors, strict=True):
        whole = room is governing and len(floor.terms) <= MOST_TERMS
        sheets.append(
            _record_of(
                room, zone, proof=proof if summed_up else None, floor=None if whole else floor
            )
        )
    sheets += _long_lists(assumed=assumed, not_checked=not_checked)

    def annex_with(title: str) -> int:
        return next(at for at, each in enumerate(sheets, 1) if each.annex.title == title)

    def some(sentences: Sequence[str]) -> list[str]:
        if len(sentences) <= MOST_SENTENCES:
            return list(sentences)
        left = len(sentences) - MOST_SENTENCES + 1
        number = annex_with(LISTS_ANNEX)
        return [*sentences[: MOST_SENTENCES - 1], f"{left} more: annex {number}."]

    return Certificate(
        number=record["number"],
        digest=" ".join(digest[at : at + 4] for at in range(0, 16, 4)),
        issued_at=record["issued_at"],
        contractor=contractor["name"],
        title=title,
        void=voided,
        head=head,
        intro=intro,
        elements=shown,
        elements_note=f"{len(elements) - MOST_ELEMENTS} more: annex {annex_with(ELEMENTS_ANNEX)}."
        if shown != elements
        else "",
        drawing=first,
        drawing_note=_where([each.room for each in sheets if each.room]),
        proofs=[proof_of_all(rooms, MOST_ROOMS_SUMMED_UP)] if summed_up else proofs,
        floor=_short(floors[list(rooms).index(governing)]),
        assumed=some(assumed),
        not_checked=some(not_checked),
        signatures=[_signature(row, zone) for row in record["sign_offs"]],
        verify=Verify(
            code=qr_svg(
                verify_url, size_mm=CODE_MM, said="Code of the address that compares this paper."
            ),
            address=verify_url,
        )
        if verify_url
        else None,
        call=f"{contractor['name']}, {contractor['phone']}, and say number {record['number']}.",
        annexes=[each.annex for each in sheets],
    )


def _left_for_plan_mm(
    *,
    title: str,
    head: str,
    intro: str,
    voided: str,
    shown: Sequence[ElementRow],
    all_of: Sequence[ElementRow],
) -> float:
    """The height that the words and the elements of the first page leave for its plan."""
    lines = (
        _lines(title, TITLE_LETTERS)
        + _lines(head, HEAD_LETTERS)
        + _lines(intro, INTRO_LETTERS)
        + (_lines(voided, HEAD_LETTERS) + 1 if voided else 0)
        + (1 if shown != all_of else 0)
        - 3
    )
    rows_mm = sum(
        ROW_MM + LINE_MM * (_lines(f"{row.element}, {row.serial}", ELEMENT_LETTERS) - 1)
        for row in shown
    )
    return FIRST_PAGE_MM - LINE_MM * lines - rows_mm


def _record_of(
    room: Record, zone: ZoneInfo, *, proof: ProofTable | None, floor: Floor | None
) -> _Sheet:
    return _Sheet(
        annex=Annex(
            title=f"The record of {room['name']}",
            proof=proof,
            floor=floor,
            reasons=reasons(room),
            checks=[logged(check, zone) for check in room["checks"]],
        )
    )


def _long_lists(*, assumed: Sequence[str], not_checked: Sequence[str]) -> list[_Sheet]:
    """Those lists, whole, that the second page has no room for: one sheet or none."""
    long = [
        (what, sentences)
        for what, sentences in (("Assumed", assumed), ("Not checked", not_checked))
        if len(sentences) > MOST_SENTENCES
    ]
    return [_Sheet(annex=Annex(title=LISTS_ANNEX, lists=long))] if long else []


def _lines(text: str, letters: int) -> int:
    return max(1, ceil(len(text) / letters))


def _day(record: Record, zone: ZoneInfo) -> str:
    return day_words(datetime.fromisoformat(record["issued_at"]).astimezone(zone))


# The first page


def _title(record: Record) -> str:
    names = [room["name"] for room in record["rooms"]]
    what = listed(names) if len(names) <= MOST_NAMES else f"{len(names)} rooms"
    return f"{what}, {record['job']['street']}"


def _void(void: Voided, zone: ZoneInfo) -> str:
    instead = f", replaced by {void.replaced_by}" if void.replaced_by else ""
    return f"Void since {day_words(void.at.astimezone(zone))}{instead}: {void.reason}"


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
    if before := record["replaces"]:
        at = datetime.fromisoformat(before["voided_at"]).astimezone(zone)
        said.append(f"Replaces {before['number']}, void since {day_words(at)}.")
    return " ".join(said)


class _Plans:
    """The rooms' plans: one on the first page if it leaves that whole, all others on sheets."""

    def __init__(self, rooms: Sequence[Record], system: System) -> None:
        self.system = system
        self.known = [
            (room["name"], f"plan{at}", _picture(room))
            for at, room in enumerate(rooms)
            if room["plan"]
        ]

    def on_page(self, height_mm: float) -> Drawing | None:
        """The first room's plan at the largest of 1:20, 1:25 and 1:50 that fits."""
        if not self.known:
            return None
        _name, key, shown = self.known[0]
        scale = drawing.largest_scale(shown, width_mm=WIDTH_MM, height_mm=height_mm)
        if scale is None or scale > SMALLEST_OF_PAGE:
            return None
        return self._drawn(shown, scale, key)

    def sheets(self, first: Drawing | None) -> Iterator[tuple[str, Annex]]:
        """Every room on a sheet of its own; the first page's room only if it is larger there."""
        width_mm, height_mm = SHEET_MM
        for at, (name, key, shown) in enumerate(self.known):
            scale = drawing.largest_scale(shown, width_mm=width_mm, height_mm=height_mm)
            drawn = self._drawn(shown, scale, f"{key}s")
            if at == 0 and first and (scale != LARGEST or first.caption == drawn.caption):
                continue
            yield name, Annex(title=f"Where it lies: {name}", drawing=drawn)

    def _drawn(self, shown: PlanPicture, scale: int | None, key: str) -> Drawing:
        return Drawing(
            title=plan_picture.title(shown, system=self.system),
            svg=drawing.draw(shown, system=self.system, scale=scale, key=key),
            caption=plan_picture.caption(shown, scale=scale),
        )


def _picture(room: Record) -> PlanPicture:
    return picture(
        name=room["name"],
        outline=room["outline"],
        keep_outs=room["keep_outs"],
        door_mm=room["door_mm"],
        control_mm=room["control_mm"],
        stored=StoredPlan(**room["plan"]),
    )


def _where(names: Sequence[str]) -> str:
    """Which annexes the plans on sheets are: they come first."""
    if len(names) > MOST_NAMES:
        return f"Plans on sheets of their own: annexes 1 to {len(names)}."
    return " ".join(f"{name}: annex {at}." for at, name in enumerate(names, 1))


# The second page


def _governing(rooms: Sequence[Record]) -> Record:
    """The room whose heat came last: its floor is why the date was what it was."""
    return max(rooms, key=lambda room: room["energized_at"] or "")


def _floor(room: Record, zone: ZoneInfo, system: System, *, key: str) -> Floor:
    decision = room["decision"]
    steps = room["warm_up"]
    last = steps[-1] if steps else None
    return Floor(
        title=room["name"],
        chart=_chart(decision, system, key=key) if decision else None,
        because=list(_because(decision, zone)) if decision else ["No decision was recorded."],
        terms=[_layer(layer, zone, system) for layer in room["layers"]],
        warm_up=f"Done to step {last['step']}, on {instant_words(last['done_at'], zone)}."
        if last
        else "No step of a warm-up was recorded.",
    )


def _short(floor: Floor) -> Floor:
    """A floor of many layers with its last ones; the whole of it is in the room's annex."""
    left = len(floor.terms) - MOST_TERMS
    if left <= 0:
        return floor
    terms = [("Below", f"{left} more: in its annex."), *floor.terms[left:]]
    return replace(floor, terms=terms)


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
        hours = figure(layer["equivalent_hours"], 0.1)
        reached = f"{names[layer['id']]}: {hours} of {layer['required_hours']:g} h reached"
        yield (
            f"{reached} on {instant_words(layer['ready'], zone)}."
            if layer["ready"]
            else f"{reached} when decided."
        )
        if drying := layer.get("drying"):
            dry = figure(drying["hours"], 0.1)
            yield (
                f"{names[layer['id']]}: {dry} of {drying['required_hours']:g} h of drying, an "
                "estimate by temperature and humidity beside the moisture reading."
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
            if layer.get("drying", {}).get("unknown_hours", 0) > 0:
                yield (
                    f"{room['name']}, {names[layer['id']]}: {layer['drying']['unknown_hours']:.0f} "
                    "h without a known humidity counted as damp as was plausible."
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
