"""Generic materials: what to assume of each kind while no data sheet is at hand.

Every figure is common practice, no source, on the cautious side of what sheets print, unless its
note says otherwise. An entry is marked as generic, so every page and paper that rests on it calls
its figures assumptions; the sheet of the product at hand rules.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

LABORATORY_C: Final = 23.0  # climate of ISO 13007 and EN 12004 (from memory), with 50 % RH
PORTLAND: Final = {"kind": "arrhenius", "activation_k": 5000.0, "reference_c": LABORATORY_C}
CONCRETE: Final = {"kind": "ec2"}
DRYING: Final = {"kind": "nurse-saul", "datum_c": 0.0, "reference_c": LABORATORY_C}
DAY: Final = 24.0
# Source: aftercare guides of two screed firms (1 mm a day up to 40 mm, then half of it); an
# estimate for planning, only a moisture reading clears the floor.
SULFATE_DRYING: Final = {
    "hours_per_mm": DAY,
    "over_mm": 40.0,
    "hours_per_mm_over": 2 * DAY,
    "reference_c": 20.0,
    "reference_rh_percent": 65.0,
}
# The same up to 50 mm, as is common for cement screeds; from memory.
CEMENT_DRYING: Final = SULFATE_DRYING | {"over_mm": 50.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class GenericMaterial:
    """An entry as a contractor's catalogue takes it; `kind` and figures as in `jobs.materials`.

    `note` says where its figures come from, in place of a data sheet.
    """

    name: str
    kind: str
    note: str = "Assumed: common practice, no source"
    curing: Mapping[str, Any] | None = None
    package: Mapping[str, Any] | None = None


def _curing(law: Mapping[str, Any], **figures: Any) -> dict[str, Any]:
    return {
        "law": dict(law),
        "lowest_c": 5.0,
        "highest_c": 30.0,
        "reference_rh_percent": 50.0,
        "frost_watch_hours": 24.0,
        "moisture": None,
        **figures,
    }


GENERIC: Final[Mapping[str, GenericMaterial]] = {
    "dry-set-mortar": GenericMaterial(
        name="Generic dry-set mortar, unmodified",
        kind="mortar",
        curing=_curing(
            PORTLAND,
            walk_after_hours=2 * DAY,
            grout_after_hours=2 * DAY,
            heat_after_hours=28 * DAY,
            full_after_hours=28 * DAY,
            least_mm=3.0,
            most_mm=12.0,
        ),
    ),
    "polymer-mortar": GenericMaterial(
        name="Generic dry-set mortar, polymer-modified",
        kind="mortar",
        curing=_curing(
            PORTLAND,
            walk_after_hours=1 * DAY,
            grout_after_hours=1 * DAY,
            heat_after_hours=14 * DAY,
            full_after_hours=28 * DAY,
            least_mm=3.0,
            most_mm=15.0,
        ),
    ),
    "rapid-mortar": GenericMaterial(
        name="Generic dry-set mortar, rapid",
        kind="mortar",
        curing=_curing(
            PORTLAND,
            walk_after_hours=6.0,
            grout_after_hours=6.0,
            heat_after_hours=7 * DAY,
            full_after_hours=14 * DAY,
            least_mm=3.0,
            most_mm=12.0,
        ),
    ),
    "cement-leveller": GenericMaterial(
        name="Generic self-levelling compound, cementitious",
        kind="leveller",
        curing=_curing(
            PORTLAND,
            lowest_c=10.0,
            walk_after_hours=6.0,
            next_layer_after_hours=1 * DAY,
            heat_after_hours=14 * DAY,
            full_after_hours=28 * DAY,
            least_mm=3.0,
            most_mm=40.0,
            thickness={"over_mm": 10.0, "hours_per_mm": DAY},
        ),
    ),
    "calcium-sulfate-leveller": GenericMaterial(
        name="Generic self-levelling compound, calcium sulfate",
        kind="leveller",
        note="Assumed: carbide limit of a heated calcium-sulfate screed, from memory; drying by "
        "aftercare guides of screed firms",
        curing=_curing(
            DRYING,
            walk_after_hours=1 * DAY,
            next_layer_after_hours=7 * DAY,
            heat_after_hours=7 * DAY,
            full_after_hours=28 * DAY,
            least_mm=3.0,
            most_mm=40.0,
            thickness={"over_mm": 10.0, "hours_per_mm": DAY},
            moisture={"method": "CM", "limit": 0.3, "unit": "CM-%"},
            drying=dict(SULFATE_DRYING),
        ),
    ),
    "cement-screed": GenericMaterial(
        name="Generic cement screed",
        kind="screed",
        note="Assumed: first heating after 21 days by EN 1264-4 (from memory), 5 °C for 3 days by "
        "BS EN 1264-4:2021, both written for water-heated screeds; 1.8 CM-% from trade pages; "
        "drying from memory",
        curing=_curing(
            CONCRETE,
            frost_watch_hours=3 * DAY,
            walk_after_hours=3 * DAY,
            next_layer_after_hours=28 * DAY,
            heat_after_hours=28 * DAY,
            full_after_hours=28 * DAY,
            least_mm=45.0,
            most_mm=100.0,
            moisture={"method": "CM", "limit": 1.8, "unit": "CM-%"},
            drying=dict(CEMENT_DRYING),
        ),
    ),
    "calcium-sulfate-screed": GenericMaterial(
        name="Generic calcium-sulfate screed",
        kind="screed",
        note="Assumed: first heating after 7 days by EN 1264-4 (from memory), 5 °C for 3 days by "
        "BS EN 1264-4:2021, both for water-heated screeds; 0.3 CM-% from memory; drying by "
        "aftercare guides",
        curing=_curing(
            DRYING,
            frost_watch_hours=3 * DAY,
            walk_after_hours=2 * DAY,
            next_layer_after_hours=7 * DAY,
            heat_after_hours=7 * DAY,
            full_after_hours=28 * DAY,
            least_mm=35.0,
            most_mm=80.0,
            moisture={"method": "CM", "limit": 0.3, "unit": "CM-%"},
            drying=dict(SULFATE_DRYING),
        ),
    ),
    "grout": GenericMaterial(
        name="Generic cement grout",
        kind="grout",
        curing=_curing(
            PORTLAND,
            walk_after_hours=1 * DAY,
            heat_after_hours=7 * DAY,
            full_after_hours=28 * DAY,
        ),
    ),
    "adhesive": GenericMaterial(
        name="Generic dispersion adhesive",
        kind="adhesive",
        curing=_curing(
            DRYING,
            lowest_c=10.0,
            walk_after_hours=1 * DAY,
            heat_after_hours=7 * DAY,
            full_after_hours=7 * DAY,
        ),
    ),
    "membrane": GenericMaterial(
        name="Generic waterproofing membrane, liquid",
        kind="membrane",
        curing=_curing(
            DRYING,
            walk_after_hours=1 * DAY,
            next_layer_after_hours=1 * DAY,
            heat_after_hours=7 * DAY,
            full_after_hours=7 * DAY,
        ),
    ),
    "primer": GenericMaterial(
        name="Generic primer",
        kind="primer",
        curing=_curing(
            DRYING,
            walk_after_hours=4.0,
            next_layer_after_hours=4.0,
            heat_after_hours=1 * DAY,
            full_after_hours=1 * DAY,
        ),
    ),
    "insulation-board": GenericMaterial(
        name="Generic insulation board",
        kind="board",
        package={"name": "board", "covers": 0.72, "unit": "m2", "waste_fraction": 0.1},
    ),
    "decoupling-board": GenericMaterial(
        name="Generic decoupling board",
        kind="board",
        package={"name": "roll", "covers": 15.0, "unit": "m2", "waste_fraction": 0.1},
    ),
}
