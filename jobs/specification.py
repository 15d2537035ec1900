"""A material's figures as lines that people read, in their units."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from jobs.units import NO_BREAK, System, fahrenheit, fahrenheit_difference, shown_length

NAMES = {
    "kind": "Kind",
    "wire_mm": "Length of the wire",
    "spacing_mm": "Spacing",
    "spacing_least_mm": "Least spacing",
    "spacing_most_mm": "Widest spacing",
    "watts": "Power",
    "volts": "Voltage",
    "min_bend_mm": "Least bend radius",
    "ends": "Cold leads at",
    "width_mm": "Width",
    "length_mm": "Length",
    "cold_lead_mm": "Length of the cold lead",
    "alpha_per_k": "Change of resistance",
    "max_amps": "Most current",
    "leakage_trip_ma": "Trips on leakage of",
    "lowest_c": "Not below",
    "highest_c": "Not above",
    "reference_rh_percent": "Printed for a humidity of",
    "walk_after_hours": "Walk on it after",
    "next_layer_after_hours": "Next layer after",
    "grout_after_hours": "Grout after",
    "heat_after_hours": "Heat after",
    "full_after_hours": "Fully loaded after",
    "frost_watch_hours": "Keep from frost for",
    "service_most_c": "Never heated above",
    "least_mm": "Least thickness",
    "most_mm": "Greatest thickness",
    "name": "Sold as",
    "covers": "Covers",
    "unit": "Counted in",
    "thickness_mm": "At a thickness of",
    "waste_fraction": "Waste",
    "activation_k": "Activation energy over the gas constant",
    "reference_c": "Hours counted at",
    "datum_c": "No hardening below",
    "method": "Moisture measured by",
    "limit": "Moisture before covering, at most",
    "over_mm": "Thickness up to which that holds",
    "hours_per_mm": "Hours for each millimetre",
    "hours_per_mm_over": "Hours for each millimetre above",
    "points": "Table of resistance",
    "law": "Hardens by",
    "kind:mat": "Mat",
    "kind:cable": "Cable",
    "kind:arrhenius": "Arrhenius, by its activation energy",
    "kind:ec2": "Eurocode 2, annex B",
    "kind:nurse-saul": "Nurse and Saul, degree-hours",
    "ends:one": "One end",
    "ends:both": "Both ends",
    "unit:m2": "Square metres",
    "unit:m": "Metres",
    "unit:piece": "Pieces",
}
# What a figure is typed in, by how its name ends; the longest ending that fits comes first.
UNITS = {
    "_per_mm": "h/mm",
    "_per_mm_over": "h/mm",
    "_rh_percent": "%",
    "_mm": "mm",
    "_c": "°C",
    "_hours": "h",
    "watts": "W",
    "volts": "V",
    "amps": "A",
    "_ma": "mA",
    "activation_k": "K",
    "alpha_per_k": "1/K",
    "waste_fraction": "0 – 1",
}


def unit(name: str) -> str:
    """The unit that a figure is kept and typed in; empty for none."""
    return next((unit for ending, unit in UNITS.items() if name.endswith(ending)), "")


class Line(NamedTuple):
    name: str
    figure: str


def lines(
    given: Mapping[str, Mapping[str, Any] | None], *, system: System = "metric"
) -> tuple[Line, ...]:
    """Return each figure that a material carries, with its unit; laws and tables in one line."""
    found: list[Line] = []
    for fields in given.values():
        for key, value in (fields or {}).items():
            if value is None:
                continue
            if key == "law":
                found.append(Line("Hardens by", _law(value, system)))
            elif key == "points":
                found.append(Line("Resistance", _points(value, system)))
            elif key == "moisture":
                limit = f"{value['limit']:g}{NO_BREAK}{value['unit']}, {value['method']}"
                found.append(Line("Moisture before covering, at most", limit))
            elif key == "drying":
                found.append(Line("Dries", _drying(value, system)))
            elif key in NAMES:
                found.append(Line(NAMES[key], _figure(key, value, system)))
    return tuple(found)


def _figure(key: str, value: Any, system: System) -> str:
    if isinstance(value, str):
        return value
    if key.endswith("_mm"):
        return shown_length(value, system)
    if key.endswith("_c"):
        return _degrees(value, system)
    if key.endswith("_hours"):
        days = f" ({value / 24:g} days)" if value >= 48 else ""
        return f"{value:g}{NO_BREAK}hours{days}"
    if key.endswith("_percent"):
        return f"{value:g}{NO_BREAK}%"
    if key == "waste_fraction":
        return f"{value * 100:g}{NO_BREAK}%"
    unit = {"watts": "W", "volts": "V", "max_amps": "A", "leakage_trip_ma": "mA"}.get(key)
    if key == "alpha_per_k":
        per = fahrenheit_difference(1.0) if system == "imperial" else 1.0
        return f"{value * 100 / per:g}{NO_BREAK}% per {'°F' if system == 'imperial' else 'K'}"
    return f"{value:g}{NO_BREAK}{unit}" if unit else f"{value:g}"


def _degrees(celsius: float, system: System) -> str:
    if system == "imperial":
        return f"{fahrenheit(celsius):g}{NO_BREAK}°F"
    return f"{celsius:g}{NO_BREAK}°C"


def _law(law: Mapping[str, Any], system: System) -> str:
    kind = {
        "arrhenius": "its activation energy (Freiesleben Hansen and Pedersen)",
        "ec2": "Eurocode 2, annex B",
        "nurse-saul": "degree-hours (Nurse and Saul)",
    }[law["kind"]]
    if (reference := law.get("reference_c")) is None:
        return kind
    return f"{kind}, hours counted at {_degrees(reference, system)}"


def _drying(rule: Mapping[str, Any], system: System) -> str:
    thin = f"{rule['hours_per_mm'] / 24:g} days for each mm up to {rule['over_mm']:g}{NO_BREAK}mm"
    climate = (
        f"{_degrees(rule['reference_c'], system)}, {rule['reference_rh_percent']:g}{NO_BREAK}%"
    )
    return f"{thin}, {rule['hours_per_mm_over'] / 24:g} above, at {climate}"


def _points(points: list[list[float]], system: System) -> str:
    shown = [f"{ohms:g}{NO_BREAK}Ω at {_degrees(celsius, system)}" for celsius, ohms in points[:4]]
    more = len(points) - len(shown)
    return "; ".join(shown) + (f"; {more} more" if more > 0 else "")
