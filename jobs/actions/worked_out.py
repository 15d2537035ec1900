"""What is worked out for a room from its rows: circuit, survey, heat, order. Nothing is stored."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from config.sentence import Sentence
from config.tenancy import Asker, UnknownId
from jobs import heatloss
from jobs.circuits import CircuitCheck, Load, Supply, check, current_a
from jobs.code_profiles import PROFILES
from jobs.laying_room import CONTROL_HEIGHT_MM
from jobs.models import Control, Element, FloorSensor, KeepOut, LayingPlan, Material, Room
from jobs.ordering import measures, package
from jobs.quantities import Package, TakeOff, take_off
from jobs.survey import Survey, lead_way_mm, read_facts, survey


@dataclass(frozen=True, slots=True)
class HeatFound:
    """A room's loss, what its floor gives, and what follows from both."""

    loss: heatloss.Loss
    output: heatloss.Output
    answer: heatloss.HeatAnswer


def loads_of(asks: Asker, room: Room) -> list[Load]:
    """The elements in the room, as their sheets have them."""
    rows = (
        Element.objects.visible_to(asks)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("pk")
    )
    return [_load(row.label, row.material.element) for row in rows if row.material.element]


def circuit_of(asks: Asker, room: Room, **known: Any) -> CircuitCheck:
    """The circuits of a room by its job's code profile; `known` is what of the supply is.

    Raises ImpossibleCircuit.
    """
    supply = Supply(
        volts=room.job.supply_volts, control_rating_a=_control_rating(asks, room), **known
    )
    return check(loads_of(asks, room), supply, PROFILES[room.job.code_profile])


def survey_of(asks: Asker, room: Room) -> Survey:
    """The survey of a room; what follows from job, elements and plan fills the gaps."""
    return survey(read_facts({**_known(asks, room), **facts_of(room.survey)}))


def facts_of(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Layers are stored with names; the survey reads pairs."""
    read = {name: value for name, value in facts.items() if name != "layers"}
    if "layers" in facts:
        read["layers_mm"] = [(layer["use"], layer["mm"]) for layer in facts["layers"]]
    return read


def heat_of(asks: Asker, room: Room, given: Mapping[str, Any]) -> HeatFound:
    """The floor's output against the room's loss; raises UnusableHeat.

    `given` has the climate (`room_c`, `outdoor_c`), `surfaces`, `volume_m3`,
    `air_changes_per_hour`, `zone`, `heated_m2`, the resistances and `below_c`; `watts` and
    `under_limit_c` if they are known.
    """
    if (watts := given.get("watts")) is None:
        watts = sum(load.watts for load in loads_of(asks, room))
    climate = {"room_c": given["room_c"], "outdoor_c": given["outdoor_c"]}
    loss = heatloss.room_loss(
        [heatloss.Surface(**surface) for surface in given["surfaces"]],
        volume_m3=given["volume_m3"],
        air_changes_per_hour=given["air_changes_per_hour"],
        **climate,
    )
    limit = heatloss.floor_limit_c(given["zone"], room_c=given["room_c"], covering=room.covering)
    output = heatloss.floor_output(
        watts=watts,
        heated_m2=given["heated_m2"],
        room_c=given["room_c"],
        floor_limit=limit,
        covering_m2k_per_w=given["covering_m2k_per_w"],
        insulation_m2k_per_w=given["insulation_m2k_per_w"],
        below_c=given["below_c"],
        under_limit_c=given.get("under_limit_c"),
    )
    return HeatFound(loss, output, heatloss.answer(loss, output, **climate))


def order_of(asks: Asker, room: Room, materials: Sequence[UUID] | None) -> TakeOff:
    """What to order; of `materials`, else of the only one of each kind. Raises UnknownId."""
    by_id = {
        row.pk: row
        for row in Material.objects.visible_to(asks).filter(retired_at=None).order_by("pk")
    }
    packages, unclear = _chosen(by_id, materials)
    rows = {"room": room, "removed_at": None}
    plan = LayingPlan.objects.visible_to(asks).counting(room)
    used = [by_id[UUID(one["element"])] for one in _elements(plan) if _in(one, by_id)]
    leads = [(row.element or {}).get("cold_lead_mm") for row in used]
    keep_outs = KeepOut.objects.visible_to(asks).filter(room=room).order_by("position")
    room_measures = measures(
        outline=room.outline,
        keep_outs=list(keep_outs.values("kind", "outline")),
        plan=plan.plan if plan else None,
        facts=read_facts(facts_of(room.survey)),
        control_height_mm=room.survey.get("control_height_mm", CONTROL_HEIGHT_MM),
        element_names={str(row.pk): row.name for row in used},
        shortest_lead_mm=min((mm for mm in leads if mm), default=None),
        controls=Control.objects.visible_to(asks).filter(**rows).count(),
        sensors=FloorSensor.objects.visible_to(asks).filter(**rows).count(),
    )
    found = take_off(room_measures, packages)
    return TakeOff(lines=found.lines, not_counted=(*unclear, *found.not_counted))


def _load(name: str, figures: dict[str, Any]) -> Load:
    w_per_m = figures["watts"] / figures["wire_mm"] * 1000
    return Load(
        name=name,
        watts=figures["watts"],
        volts=figures["volts"],
        w_per_m=w_per_m,
        w_per_m2=w_per_m / figures["spacing_mm"] * 1000,
    )


def _control_rating(asks: Asker, room: Room) -> float | None:
    controls = (
        Control.objects.visible_to(asks)
        .filter(room=room, removed_at=None)
        .select_related("material")
        .order_by("pk")
    )
    ratings = [row.material.control["max_amps"] for row in controls if row.material.control]
    return min(ratings, default=None)


def _known(asks: Asker, room: Room) -> dict[str, Any]:
    """What need not be asked: it follows from the job, the elements and the plan."""
    known: dict[str, Any] = {"supply_volts": room.job.supply_volts}
    if room.covering:
        known["covering"] = room.covering
    if loads := loads_of(asks, room):
        known["load_a"] = sum(current_a(load.watts, load.volts) for load in loads)
    plan = LayingPlan.objects.visible_to(asks).counting(room)
    height = room.survey.get("control_height_mm")
    if plan is not None and height is not None:
        known["lead_way_mm"] = max(
            lead_way_mm(tuple((x, y) for x, y in one["lead"]), control_height_mm=height)
            for one in plan.plan["elements"]
        )
    return known


def _elements(plan: LayingPlan | None) -> list[dict[str, str]]:
    return list(plan.plan["elements"]) if plan else []


def _in(one: dict[str, str], by_id: dict[UUID, Material]) -> bool:
    try:
        return UUID(one["element"]) in by_id
    except ValueError:
        return False


def _chosen(
    by_id: dict[UUID, Material], asked: Sequence[UUID] | None
) -> tuple[list[Package], tuple[str, ...]]:
    """The materials to reckon with, and which kinds leave a choice open."""
    rows, unclear = _only_ones(list(by_id.values()))
    if asked is not None:
        if missing := [one for one in asked if one not in by_id]:
            raise UnknownId(f"You have no material {missing[0]}.", pointer="#/materials")
        rows, unclear = [by_id[one] for one in asked], ()
    packages = [package(row.name, row.kind, row.package) for row in rows]
    return [one for one in packages if one is not None], unclear


def _only_ones(rows: list[Material]) -> tuple[list[Material], tuple[str, ...]]:
    """All elements (the plan says which), and of each other kind the only one there is."""
    kinds: dict[str, list[Material]] = {}
    for row in rows:
        kinds.setdefault(row.kind, []).append(row)
    alone = [
        row for kind, some in kinds.items() for row in some if kind == "element" or len(some) == 1
    ]
    unclear = tuple(
        Sentence(
            "{kind}: {count} in the catalogue; say which one.",
            kind=Sentence(kind.capitalize()),
            count=len(some),
        )
        for kind, some in kinds.items()
        if kind != "element" and len(some) > 1
    )
    return alone, unclear
