"""From a room as it is stored to what its order is worked out from."""

import csv
from collections.abc import Mapping, Sequence
from io import StringIO
from typing import Any, cast, get_args

from shapely import LineString, Polygon, unary_union

from jobs.quantities import Basis, Package, RoomMeasures, TakeOff, Use
from jobs.survey import Facts

COVERED_BY_FIXTURES = ("fixture", "toilet", "built_in", "drain")
"""Kinds of keep-out that get no bed and no covering."""

BED_USES = ("mortar", "leveller", "screed", "adhesive", "grout")
"""Materials that are reckoned by the depth of their course."""


def measures(
    *,
    outline: Sequence[Sequence[float]],
    keep_outs: Sequence[Mapping[str, Any]],
    plan: Mapping[str, Any] | None,
    facts: Facts,
    control_height_mm: float,
    element_names: Mapping[str, str],
    shortest_lead_mm: float | None,
    controls: int,
    sensors: int,
) -> RoomMeasures:
    """Return the measures of a room; without a plan nothing is known of leads and tubes.

    `element_names` maps ids of the plan to names of the catalogue.
    """
    floor = Polygon(outline)
    standing = unary_union(
        [Polygon(one["outline"]) for one in keep_outs if one["kind"] in COVERED_BY_FIXTURES]
    )
    leads = [
        LineString(one[lead]).length
        for one in (plan["elements"] if plan else ())
        for lead in ("lead", "lead_end")
        if one.get(lead)
    ]
    tube = LineString(plan["sensor_route"]).length if plan and plan.get("sensor_route") else 0.0
    counted: dict[str, int] = {}
    for one in plan["elements"] if plan else ():
        name = element_names.get(one["element"], one["element"])
        counted[name] = counted.get(name, 0) + 1
    return RoomMeasures(
        floor_m2=round(floor.area / 1e6, 3),
        bed_m2=round(floor.difference(standing).area / 1e6, 3),
        perimeter_m=round(floor.length / 1000, 2),
        depth_mm=_depths(facts),
        lead_run_m=round((max(leads) + control_height_mm) / 1000, 2) if leads else None,
        lead_m=None if shortest_lead_mm is None else shortest_lead_mm / 1000,
        leads=max(1, len(leads)),
        controls=max(1, controls),
        sensors=max(1, sensors),
        conduit_m=round((tube + control_height_mm) / 1000, 2) if tube else 0.0,
        elements=counted,
    )


def package(name: str, kind: str, bought: Mapping[str, Any] | None) -> Package | None:
    """Return a material of the catalogue as it is bought, None if its sheet does not say how.

    What covers m² at a thickness is reckoned by its volume: m² times mm are litres.
    """
    if kind in ("element", "control", "sensor") and not bought:
        return Package(name=name, use=cast(Use, kind), basis="pieces", holds=1, package="piece")
    if not bought or kind not in get_args(Use):
        return None
    unit, holds = bought["unit"], bought["covers"]
    basis: Basis = {"m2": "coverage", "m": "length", "piece": "pieces"}[unit]  # type: ignore[assignment]
    if unit == "m2" and bought.get("thickness_mm") and kind in BED_USES:
        basis, holds = "volume", holds * bought["thickness_mm"]
    return Package(
        name=name,
        use=cast(Use, kind),
        basis=basis,
        holds=holds,
        package=bought["name"],
        waste_fraction=bought.get("waste_fraction") or 0.0,
    )


def order_csv(order: TakeOff) -> str:
    """Return a list to order by as CSV; the first column is what to put into the basket."""
    text = StringIO()
    sheet = csv.writer(text)
    sheet.writerow(["order", "package", "material", "use", "needed", "unit", "waste", "because"])
    for line in order.lines:
        sheet.writerow(
            [line.packages, line.package, _plain(line.name), line.use, line.needed, line.unit,
             f"{line.waste_fraction:%}", line.because]
        )  # fmt: skip
    for sentence in order.not_counted:
        sheet.writerow(["", "", "", "not counted", "", "", "", _plain(sentence)])
    return text.getvalue()


def _depths(facts: Facts) -> dict[str, float]:
    depths: dict[str, float] = {}
    for use, mm in facts.layers_mm or ():
        depths[use] = depths.get(use, 0.0) + mm
    return depths


def _plain(words: str) -> str:
    """A name that begins like a formula is kept from being one in a spreadsheet."""
    return f"'{words}" if words[:1] in "=+-@\t\r" else words
