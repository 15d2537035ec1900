"""A job's record: everything that its certificate rests on, read from the rows as they are now."""

from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from config.instants import rfc3339
from jobs.models import Control, Element, FloorSensor, InstalledModel, Job, LayingPlan, Room
from readings.actions import chain
from readings.actions.faults_found import told_of, with_drawings
from readings.models import Check, FaultFound, Reading
from scheduling.handover import STAGES, Missing, RoomProof, missing
from scheduling.models import Decision, Energizing, Layer, SignOff, WarmUpStep

FORMAT = "firstwarm-certificate/1"
SCHEMA = Path(__file__).parent.parent / "static/scheduling/certificate-1.schema.json"
"""The published JSON Schema of that format."""
CURING_FIGURES = ("heat_after_hours", "walk_after_hours", "lowest_c")


def handover_of(job: Job) -> tuple[Missing, ...]:
    """What the job still lacks before its certificate."""
    signed = frozenset(job.sign_offs.values_list("kind", flat=True))
    return missing([_proof(room) for room in _rooms(job)], signed=signed)


def record_of(job: Job) -> dict[str, Any]:
    """The job's record as JSON values, in the order in which people read it."""
    contractor = job.contractor
    return {
        "format": FORMAT,
        "contractor": {
            "name": contractor.name,
            "phone": contractor.phone,
            "email": contractor.email,
            "licence_number": contractor.licence_number,
        },
        "job": {
            "id": str(job.pk),
            "number": job.number,
            "title": job.title,
            "customer": job.customer.name,
            "street": job.street,
            "postcode": job.postcode,
            "city": job.city,
            "country": job.country,
            "time_zone": job.time_zone,
            "units": job.units,
            "supply_volts": job.supply_volts,
        },
        "rooms": [_room(room) for room in _rooms(job)],
        "sign_offs": [
            {
                "kind": row.kind,
                "name": row.name,
                "licence_number": row.licence_number,
                "scope": row.scope,
                "signed_at": rfc3339(row.signed_at),
            }
            for row in SignOff.objects.filter(job=job).order_by("signed_at", "pk")
        ],
    }


def _rooms(job: Job) -> list[Room]:
    return list(Room.objects.filter(job=job).order_by("pk"))


def _proof(room: Room) -> RoomProof:
    state = chain.read(room)
    decision = _newest(Decision, room)
    stops = _warm_up(room).filter(resumed_at=None).exclude(stopped_because="")
    stopped = stops.order_by("step").last()
    return RoomProof(
        name=room.name,
        elements=len(state.facts.elements),
        stages={stage: state.outcome(stage) for stage in STAGES},
        embedded=Layer.objects.filter(
            room=room, embeds=True, placed_at__isnull=False, removed_at=None
        ).exists(),
        energized=Energizing.objects.filter(room=room, test_minutes=None).exists(),
        holds=[hold["text"] for hold in decision.result["holds"]] if decision else (),
        warm_up_stopped=stopped.stopped_because if stopped else "",
    )


def _room(room: Room) -> dict[str, Any]:
    installed = {"room": room, "removed_at": None}
    plan = LayingPlan.objects.all().counting(room)
    heated = Energizing.objects.filter(room=room, test_minutes=None).select_related("decision")
    energized = heated.first()
    return {
        "id": str(room.pk),
        "name": room.name,
        "outline": room.outline,
        "door_mm": room.door_mm,
        "doorways": room.doorways,
        "control_mm": room.control_mm,
        "keep_outs": [
            {"kind": row.kind, "name": row.name, "outline": row.outline}
            for row in room.keep_outs.order_by("position")
        ],
        "plan": plan
        and {"basis": plan.basis, "tolerance_mm": plan.tolerance_mm, "plan": plan.plan},
        "elements": [_element(row) for row in _installed(Element, installed)],
        "floor_sensors": [_named(row) for row in _installed(FloorSensor, installed)],
        "controls": [_named(row) for row in _installed(Control, installed)],
        "layers": [_layer(row) for row in _layers(room)],
        "checks": _checks(room),
        "faults": _faults(room),
        "decision": _decision(energized.decision if energized else _newest(Decision, room)),
        "energized_at": energized and rfc3339(energized.at),
        "warm_up": [
            {"step": row.step, "done_at": rfc3339(row.done_at), "floor_c": row.floor_c}
            for row in _warm_up(room).filter(stopped_because="").order_by("step")
        ],
    }


def _installed(model: type[InstalledModel], lookup: dict[str, Any]) -> Iterable[Any]:
    return model.objects.filter(**lookup).select_related("material").order_by("pk")


def _named(row: Any) -> dict[str, Any]:
    return {
        "label": row.label,
        "serial": row.serial,
        "material": row.material.name,
        "generic": row.material.generic,
    }


def _element(row: Element) -> dict[str, Any]:
    spec = row.material.element or {}
    return {
        **_named(row),
        "tag_ohms": row.tag_ohms,
        "tag_c": row.tag_c,
        "tolerance_above": row.tolerance_above,
        "tolerance_below": row.tolerance_below,
        "watts": spec.get("watts"),
        "volts": spec.get("volts"),
        "joints": row.joints,
    }


def _layers(room: Room) -> Iterable[Layer]:
    laid = Layer.objects.filter(room=room, placed_at__isnull=False, removed_at=None)
    return laid.select_related("material", "placed_by").order_by("position", "pk")


def _layer(row: Layer) -> dict[str, Any]:
    curing = row.curing or {}
    return {
        "material": row.material.name,
        "generic": row.material.generic or curing.get("assumed", False),
        "sheet": row.material.sheet,
        "thickness_mm": row.thickness_mm,
        "embeds": row.embeds,
        "placed_at": row.placed_at and rfc3339(row.placed_at),
        "placed_by": row.placed_by and row.placed_by.name,
        **{name: curing.get(name) for name in CURING_FIGURES},
        "reference_c": (curing.get("law") or {}).get("reference_c"),
    }


def _checks(room: Room) -> list[dict[str, Any]]:
    checks = Check.objects.filter(room=room).select_related("taken_by").order_by("sequence")
    replaced = {row.supersedes_id for row in checks}
    readings: dict[Any, list[Reading]] = defaultdict(list)
    rows = Reading.objects.filter(visit__room=room).select_related(
        "element", "sensor", "instrument_range__instrument"
    )
    for row in rows.order_by("visit_id", "position"):
        readings[row.visit_id].append(row)
    return [
        {
            "sequence": row.sequence,
            "stage": row.stage,
            "taken_at": rfc3339(row.taken_at),
            "taken_by": row.taken_by.name,
            "outcome": row.outcome,
            "superseded": row.pk in replaced,
            "flags": row.flags,
            "note": row.note,
            "digest": row.digest,
            "readings": [_reading(each) for each in readings[row.pk]],
        }
        for row in checks
    ]


def _reading(row: Reading) -> dict[str, Any]:
    used = row.instrument_range
    measured = row.element or row.sensor
    return {
        "kind": row.kind,
        "label": measured.label if measured else "",
        "lead": row.lead,
        "value": row.value,
        "over_range": row.over_range,
        "at_c": row.at_c,
        "outcome": row.outcome,
        "because": row.because,
        "expanded_uncertainty": row.figures.get("expanded_uncertainty"),
        "low": row.figures.get("low"),
        "high": row.figures.get("high"),
        "meter": used
        and {
            "name": used.instrument.name,
            "serial": used.instrument.serial,
            "calibration_due_on": used.instrument.calibration_due_on
            and used.instrument.calibration_due_on.isoformat(),
            "range": used.name,
            "full_scale": used.full_scale,
            "resolution": used.resolution,
            "test_volts": used.test_volts,
        },
    }


def _faults(room: Room) -> list[dict[str, Any]]:
    rows = with_drawings(FaultFound.objects.filter(room=room))
    return [
        {
            "label": row.element.label,
            "method": row.method,
            "construction": row.construction,
            "measured_from": row.measured_from,
            "fraction": row.fraction,
            "tolerance": row.tolerance,
            "found_at": rfc3339(row.found_at),
            "found_by": row.found_by.name,
            "note": row.note,
            "places": [
                {
                    "metres": place.metres,
                    "from_m": place.from_m,
                    "to_m": place.to_m,
                    "part": place.part,
                    "core": place.core,
                    "spot_mm": place.spot_mm,
                }
                for place in told.places
            ],
            "repaired_at": told.repaired_at and rfc3339(told.repaired_at),
            "voided_at": row.voided_at and rfc3339(row.voided_at),
            "void_reason": row.void_reason,
        }
        for row in rows.select_related("found_by").order_by("found_at", "pk")
        for told in [told_of(row)]
    ]


def _decision(row: Decision | None) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "decided_at": rfc3339(row.decided_at),
        "facts_digest": row.facts_digest,
        "facts": row.facts,
        "result": row.result,
    }


def _newest(model: type[Any], room: Room) -> Any:
    return model.objects.filter(room=room).order_by("pk").last()


def _warm_up(room: Room) -> Any:
    return WarmUpStep.objects.filter(energizing__room=room, energizing__test_minutes=None)
