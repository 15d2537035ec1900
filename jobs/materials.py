"""Which specifications a catalogue entry of each kind carries, and when they contradict."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any, Final

from config.errors import DomainError

SPECIFICATIONS: Final = ("element", "sensor", "control", "curing", "package")

# Kind of material -> the specification it must have. Any may be bought by the package.
KINDS: Final[Mapping[str, str]] = {
    "element": "element",
    "sensor": "sensor",
    "control": "control",
    "mortar": "curing",
    "leveller": "curing",
    "screed": "curing",
    "grout": "curing",
    "adhesive": "curing",
    "membrane": "curing",
    "primer": "curing",
    "board": "package",
    "tape": "package",
    "covering": "package",
    "lead": "package",
    "box": "package",
}
CURING_KINDS: Final = frozenset(kind for kind, spec in KINDS.items() if spec == "curing")

# Hours of a data sheet that cannot come in another order.
IN_ORDER: Final = (
    "walk_after_hours",
    "next_layer_after_hours",
    "grout_after_hours",
    "heat_after_hours",
    "full_after_hours",
)


class MaterialContradicts(DomainError):
    slug = "material-contradicts"


def check_material(kind: str, specifications: Mapping[str, Mapping[str, Any] | None]) -> None:
    """Refuse specifications that a material of this kind lacks, should not have, or that clash.

    `specifications` maps the names in `SPECIFICATIONS` to their fields or None.
    Raises MaterialContradicts with the field.
    """
    needed = KINDS[kind]
    given = {name for name, fields in specifications.items() if fields is not None}
    if needed not in given:
        raise MaterialContradicts(
            f"A material of kind {kind} needs its {needed} figures.", pointer=f"#/{needed}"
        )
    for name in sorted(given - {needed, "package"}):
        raise MaterialContradicts(
            f"A material of kind {kind} has no {name} figures.", pointer=f"#/{name}"
        )
    if curing := specifications.get("curing"):
        _check_curing(curing)
    if element := specifications.get("element"):
        _check_element(element)


def heat_after_hours(curing: Mapping[str, Any], thickness_mm: float | None) -> float:
    """Printed hours before heat of a layer so thick; one of unknown thickness counts as the
    thickest that the sheet allows."""
    hours = float(curing["heat_after_hours"])
    if not (rule := curing.get("thickness")):
        return hours
    if thickness_mm is None:
        thickness_mm = float(curing.get("most_mm") or rule["over_mm"])
    return hours + float(rule["hours_per_mm"]) * max(thickness_mm - float(rule["over_mm"]), 0.0)


def drying_hours(curing: Mapping[str, Any], thickness_mm: float | None) -> float:
    """Hours that a layer so thick dries in the climate of its sheet; one of unknown thickness
    counts as the thickest that the sheet allows."""
    rule = curing["drying"]
    if thickness_mm is None:
        thickness_mm = float(curing["most_mm"])
    thin_mm = min(thickness_mm, float(rule["over_mm"]))
    over_mm = thickness_mm - thin_mm
    return thin_mm * float(rule["hours_per_mm"]) + over_mm * float(rule["hours_per_mm_over"])


def _check_curing(curing: Mapping[str, Any]) -> None:
    printed = [(name, curing[name]) for name in IN_ORDER if curing.get(name) is not None]
    for (sooner, hours), (later, more) in pairwise(printed):
        if hours > more:
            raise MaterialContradicts(
                f"{sooner} is {hours:g} but {later} is {more:g}: one of them is misread.",
                pointer=f"#/curing/{later}",
            )
    if (curing.get("thickness") or curing.get("drying")) and curing.get("most_mm") is None:
        raise MaterialContradicts(
            "Hours that grow with the thickness need the thickest layer allowed.",
            pointer="#/curing/most_mm",
        )
    for low, high in (("lowest_c", "highest_c"), ("least_mm", "most_mm")):
        if None not in (curing.get(low), curing.get(high)) and curing[low] >= curing[high]:
            raise MaterialContradicts(f"{low} must be below {high}.", pointer=f"#/curing/{high}")


def _check_element(element: Mapping[str, Any]) -> None:
    least, most = element["spacing_least_mm"], element["spacing_most_mm"]
    if not least <= element["spacing_mm"] <= most:
        raise MaterialContradicts(
            f"The spacing must lie within its range, {least:g} to {most:g} mm.",
            pointer="#/element/spacing_mm",
        )
    sized = [element.get(name) is not None for name in ("width_mm", "length_mm")]
    if element["kind"] == "mat" and not all(sized):
        raise MaterialContradicts("A mat has a width and a length.", pointer="#/element/width_mm")
    if element["kind"] == "cable" and any(sized):
        raise MaterialContradicts(
            "A cable has no width and no length of mesh.", pointer="#/element/width_mm"
        )
