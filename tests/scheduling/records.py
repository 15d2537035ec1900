"""Frozen records of finished jobs of any size, without a database."""

from datetime import UTC, datetime, timedelta
from hashlib import sha256
from uuid import UUID

from config.instants import rfc3339
from scheduling.energize import decide
from scheduling.facts import decision_to_tree, digest_of, facts_to_tree
from tests.scheduling import floors
from tests.scheduling.finished import PATH, STAGES

ISSUED_AT = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
PLACED_AT = ISSUED_AT - timedelta(days=27)
ROOMS = (
    "Bathroom", "Kitchen", "Hall", "Study", "Bedroom", "Utility room", "Porch", "Dining room",
    "Shower room", "Nursery",
)  # fmt: skip
METER = {
    "name": "M-3",
    "serial": "0042",
    "calibration_due_on": "2027-03-14",
    "range": "200 Ω",
    "full_scale": 200.0,
    "resolution": 0.1,
    "test_volts": None,
}


def record(rooms=1, elements=1, wide_mm=3000, deep_mm=2400, keep_outs=1, **changes):
    """A record as `scheduling.actions.record` freezes it."""
    return {
        "format": "firstwarm-certificate/1",
        "number": "2026-0117",
        "issued_at": rfc3339(ISSUED_AT),
        "replaces": None,
        "contractor": {
            "name": "Alder Floors",
            "phone": "+47 55 00 00 01",
            "email": "",
            "licence_number": "",
        },
        "job": {
            "id": _id(1),
            "number": 7,
            "title": "Warm floors",
            "customer": "C. Owner",
            "street": "14 Mill Lane",
            "postcode": "",
            "city": "Nordby",
            "country": "NO",
            "time_zone": "Europe/Oslo",
            "units": "metric",
            "supply_volts": 230.0,
        },
        "rooms": [
            _room(at, elements, wide_mm=wide_mm, deep_mm=deep_mm, keep_outs=keep_outs)
            for at in range(rooms)
        ],
        "sign_offs": [_sign_off("electrician", "E. Volt"), _sign_off("customer", "C. Owner")],
        **changes,
    }


def _id(number):
    return str(UUID(int=number))


def _room(at, elements, *, wide_mm, deep_mm, keep_outs):
    labels = [f"mat {each + 1}" if elements > 1 else "mat" for each in range(elements)]
    path = [(x / 3000 * wide_mm, y / 2400 * deep_mm) for x, y in PATH]
    return {
        "id": _id(100 + at),
        "name": ROOMS[at],
        "outline": [[0, 0], [wide_mm, 0], [wide_mm, deep_mm], [0, deep_mm]],
        "door_mm": [[wide_mm - 1050, 0], [wide_mm - 250, 0]],
        "doorways": [],
        "control_mm": [wide_mm, 150],
        "keep_outs": [
            {
                "kind": "fixture",
                "name": f"cupboard {each + 1}",
                "outline": [[0, y := 300 * each], [250, y], [250, y + 250], [0, y + 250]],
            }
            for each in range(keep_outs)
        ],
        "plan": {"basis": "as_laid", "tolerance_mm": 30.0, "plan": _plan(path, wide_mm, labels)},
        "elements": [
            {
                **_named(label, "Twin mat 150", serial=f"SN-{at:02}{each:04}"),
                "tag_ohms": 71.1,
                "tag_c": 20.0,
                "tolerance_above": 0.1,
                "tolerance_below": 0.05,
                "watts": 744.0,
                "volts": 230.0,
                "joints": [],
            }
            for each, label in enumerate(labels)
        ],
        "floor_sensors": [_named("probe", "NTC 10k")],
        "controls": [_named("C1", "Control 16 A")],
        "layers": [_layer()],
        "checks": [_check(each, stage, labels) for each, stage in enumerate(STAGES)],
        "decision": _decision(),
        "energized_at": rfc3339(ISSUED_AT - timedelta(days=9, hours=at)),
        "warm_up": [
            {"step": 1, "done_at": rfc3339(ISSUED_AT - timedelta(days=8)), "floor_c": 18.5}
        ],
    }


def _named(label, material, serial=""):
    return {"label": label, "serial": serial, "material": material, "generic": False}


def _plan(path, wide_mm, labels):
    return {
        "elements": [
            {
                "element": label,
                "path": [list(point) for point in path],
                "mesh": [],
                "loose_from_mm": [],
                "splice": list(path[0]),
                "end": list(path[-1]),
                "lead": [[wide_mm, 150], list(path[0])],
            }
            for label in labels[:1]
        ],
        "sensor": [1500, 500],
        "sensor_route": [[wide_mm, 150], [1500, 500]],
        "covered_m2": 5.0,
        "heatable_m2": 5.4,
        "unreached": [],
        "because": [],
    }


def _layer():
    return {
        "material": "Grey dry-set mortar",
        "generic": False,
        "sheet": "Sheet 7, 2026",
        "thickness_mm": 8.0,
        "embeds": True,
        "placed_at": rfc3339(PLACED_AT),
        "placed_by": "Finn",
        "heat_after_hours": 168.0,
        "walk_after_hours": 24.0,
        "lowest_c": 5.0,
        "reference_c": 20.0,
    }


def _check(sequence, stage, labels):
    readings = [_reading("element", label, "", 71.0) for label in labels]
    readings += [_reading("lead_to_ground", label, lead, None) for label in labels for lead in "AB"]
    readings.append(_reading("sensor", "probe", "", 13400.0))
    if stage == "handover":
        readings += [_reading("insulation", label, "", None) for label in labels]
        readings.append(_reading("supply", "", "", 229.5))
        readings += [_reading("load", label, "", 3.23) for label in labels]
    return {
        "sequence": sequence + 1,
        "stage": stage,
        "taken_at": rfc3339(ISSUED_AT - timedelta(days=30 - sequence)),
        "taken_by": "Finn",
        "outcome": "pass",
        "superseded": False,
        "flags": [],
        "note": "",
        "digest": sha256(stage.encode()).hexdigest(),
        "readings": readings,
    }


def _reading(kind, label, lead, value):
    return {
        "kind": kind,
        "label": label,
        "lead": lead,
        "value": value,
        "over_range": value is None,
        "at_c": 18.0 if kind in ("element", "sensor") else None,
        "outcome": "pass",
        "because": f"{label or kind}{lead and ', lead ' + lead}: it lies inside its limits, and "
        "this meter can tell.",
        "expanded_uncertainty": 0.65 if kind == "element" else None,
        "low": 67.545 if kind == "element" else 1.0,
        "high": 78.21 if kind == "element" else None,
        "meter": METER,
    }


def _decision():
    """On a cool floor whose thermometer was silent for 48 hours."""
    decided_at = ISSUED_AT - timedelta(days=10)
    later = PLACED_AT + timedelta(hours=140)
    readings = [
        *floors.steady(12.0, start=PLACED_AT, hours=100),
        *floors.steady(12.0, start=later, hours=260),
    ]
    bed = floors.layer(_id(500), placed_at=PLACED_AT, name="Grey dry-set mortar")
    known = floors.facts(bed, readings=readings, now=decided_at)
    facts = facts_to_tree(known)
    return {
        "decided_at": rfc3339(decided_at),
        "facts_digest": digest_of(facts),
        "facts": facts,
        "result": decision_to_tree(decide(known)),
    }


def _sign_off(kind, name):
    electrician = kind == "electrician"
    return {
        "kind": kind,
        "name": name,
        "licence_number": "E-1234" if electrician else "",
        "scope": "Circuit and control." if electrician else "Received, warm-up explained.",
        "signed_at": rfc3339(ISSUED_AT - timedelta(days=1)),
    }
