"""From the readings of a damaged element to a spot on the floor."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from config.tenancy import referred
from jobs.models import Element, LayingPlan, Member
from jobs.wire import FaultSpot, Wire, fault_spots, wire
from readings import fault
from readings.actions.facts import range_of
from readings.assess import ABOVE_ALL, DEAD, ReadingUnclear
from readings.fault import BY_LENGTH, Construction, FaultEstimate, Place
from readings.models import InstrumentRange

# Method -> the readings that it takes. Those in ohms have the uncertainty of the meter's range.
TAKES = {
    "core_to_ground": ("loop_ohms", "from_a_ohms", "from_b_ohms"),
    "bridge": ("loop_ohms", "arm_a", "arm_b"),
    "bridge_with_dial": ("loop_ohms", "dial_ohms"),
    "core_to_core": ("healthy_ohms", "measured_ohms"),
    "open_core": ("capacitance_a", "capacitance_b"),
}
ALSO = {"bridge_with_dial": ("arm_ratio",)}
NULL_FIRST = "Null the test leads first: their ohms do not cancel."


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A candidate place, and where it is in the room (mm), if a drawing tells."""

    metres: float
    u_metres: float
    from_m: float
    to_m: float
    part: str
    core: str
    because: str
    spot_mm: tuple[float, float] | None
    path_mm: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Located:
    """Where a fault may be: the electrical fraction, and the places that it can mean."""

    fraction: float
    u_fraction: float
    fault_ohms: float | None
    u_fault_ohms: float | None
    because: str
    places: tuple[Spot, ...]
    drawing: str
    caution: str


def locate(*, by: Member, element: Element, given: Mapping[str, Any]) -> Located:
    """Work out where to open the floor. Raises ReadingUnclear, UnknownId, InconsistentReadings."""
    estimate = _estimate(by, given)
    loop = given.get("loop_ohms") or given.get("healthy_ohms") or element.tag_ohms
    ends_known = given.get("ends_known", True)
    found = places(
        element,
        estimate,
        method=given["method"],
        construction=given["construction"],
        loop_ohms=loop,
        ends_known=ends_known,
    )
    laid, drawing = _drawn(element)
    return Located(
        fraction=estimate.fraction,
        u_fraction=estimate.u_fraction,
        fault_ohms=estimate.fault_ohms,
        u_fault_ohms=estimate.u_fault_ohms,
        because=estimate.because,
        places=spots(element, found, laid),
        drawing=drawing,
        caution=f"{DEAD} {NULL_FIRST} {ABOVE_ALL}",
    )


def places(
    element: Element,
    estimate: FaultEstimate,
    *,
    method: str,
    construction: Construction,
    loop_ohms: float,
    ends_known: bool,
) -> tuple[Place, ...]:
    """Candidate places of an estimate on a real element; raises what `fault.places` raises."""
    # The copper of the leads is two conductors alike; what goes by length does not see their ohms.
    lead_ohms = 0.0 if method in BY_LENGTH else element.lead_ohms / 2
    return fault.places(
        estimate,
        loop_ohms=loop_ohms,
        length_m=_length_m(element),
        construction=construction,
        lead_a_ohms=lead_ohms,
        lead_b_ohms=lead_ohms,
        ends_known=ends_known,
    )


def _length_m(element: Element) -> float:
    return float((element.material.element or {})["wire_mm"] / 1000)


def _estimate(by: Member, given: Mapping[str, Any]) -> FaultEstimate:
    method = given["method"]
    for name in TAKES[method]:
        if given.get(name) is None:
            raise ReadingUnclear(
                f"This method needs {name.replace('_', ' ')}.", pointer=f"#/{name}"
            )
    readings = {
        name: given[name] for name in (*TAKES[method], *ALSO.get(method, ())) if name in given
    }
    doubts: dict[str, float] = {}
    if range_id := given.get("range"):
        ranges = InstrumentRange.objects.filter(quantity="ohms")
        meter = range_of(referred(ranges, by, range_id, pointer="#/range"))
        doubts = {
            f"u_{name}": meter.standard_uncertainty_ohms(readings[name])
            for name in TAKES[method]
            if name.endswith("_ohms")
        }
    if percent := given.get("u_percent"):
        doubts |= {
            f"u_{name}": readings[name] * percent / 100
            for name in TAKES[method]
            if not name.endswith("_ohms")
        }
    methods: dict[str, Any] = {
        "core_to_ground": fault.core_to_ground,
        "bridge": fault.bridge,
        "bridge_with_dial": fault.bridge_with_dial,
        "core_to_core": fault.core_to_core,
        "open_core": fault.open_core,
    }
    found: FaultEstimate = methods[method](**readings, **doubts)
    return found


def _drawn(element: Element) -> tuple[Wire | None, str]:
    """The element's wire by the newest drawing, as laid if there is one, and which one it is."""
    plans = LayingPlan.objects.filter(room_id=element.room_id)
    present = types_in(element.room_id)
    for basis, says in (("as_laid", "The drawing as laid."), ("planned", "The plan, not as laid.")):
        newest = plans.filter(basis=basis).order_by("-pk").first()
        if newest and (laid := wire_of(element, newest.plan["elements"], present)):
            return laid, says
    return None, "No drawing shows this element."


def types_in(room_id: UUID) -> list[UUID]:
    """The types of all elements of a room: ids of materials."""
    rows = Element.objects.filter(room_id=room_id, removed_at=None)
    return list(rows.values_list("material_id", flat=True))


def wire_of(
    element: Element, drawn: Sequence[Mapping[str, Any]], present: Sequence[UUID]
) -> Wire | None:
    """The element's wire among those of a drawing; None if it cannot be told which it is.

    It is drawn under its label or id, under its type (as it was laid out) if it is the only one of
    it, or it is the only one at all. `present` are the types of the elements of the room.
    """
    names = {element.label, str(element.pk)}
    if present.count(element.material_id) == 1:
        names.add(str(element.material_id))
    named = [one for one in drawn if one["element"] in names]
    found = named or (drawn if len(present) == 1 else [])
    return wire(found[0]["path"], found[0].get("chainage_mm")) if len(found) == 1 else None


def spots(element: Element, found: Sequence[Place], laid: Wire | None) -> tuple[Spot, ...]:
    """Each candidate with where it is in the room, as far as the wire `laid` tells."""
    length_m = _length_m(element)
    on_floor: Sequence[FaultSpot | None] = [None] * len(found)
    if laid is not None:
        on_floor = fault_spots(
            laid,
            [
                (p.metres / length_m, max(p.to_m - p.metres, p.metres - p.from_m) / length_m)
                for p in found
            ],
        )
    return tuple(
        Spot(
            metres=place.metres,
            u_metres=place.u_metres,
            from_m=place.from_m,
            to_m=place.to_m,
            part=place.part,
            core=place.core,
            because=place.because,
            spot_mm=seen.at if seen else None,
            path_mm=seen.band if seen else (),
        )
        for place, seen in zip(found, on_floor, strict=True)
    )
