"""The invented scenario: people, places and goods. None of it is anybody's data."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

CONTRACTOR: dict[str, str] = {
    "name": "Tussock Floors",
    "phone": "+47 55 00 10 00",
    "email": "office@tussock.example",
    "licence_number": "T-1004",
    "time_zone": "Europe/Oslo",
}
MEMBERS: tuple[dict[str, str], ...] = (
    {"name": "Ottilie Bray", "email": "ottilie@tussock.example", "role": "office"},
    {"name": "Fintan Vale", "email": "fintan@tussock.example", "role": "field"},
    {"name": "Elke Storm", "email": "elke@tussock.example", "role": "field"},
    {"name": "Vigo Reed", "email": "vigo@tussock.example", "role": "viewer"},
)
PASSWORD = "warm-floors-for-all"

CUSTOMER: dict[str, str] = {
    "name": "Pia Lund",
    "email": "pia@lund.example",
    "phone": "+47 55 00 20 00",
}
JOB: dict[str, Any] = {
    "title": "Two warm floors in a renovated house",
    "street": "9 Saltworks Lane",
    "postcode": "5003",
    "city": "Nordby",
    "country": "NO",
    "time_zone": "Europe/Oslo",
    "supply_volts": 230,
    "code_profile": "iec",
    "assume_c": 6,
}
PLUMBER: dict[str, str] = {
    "trade": "plumber",
    "company": "Brook & Weir Plumbing",
    "email": "hello@brookweir.example",
    "phone": "+47 55 00 30 00",
}
ELECTRICIAN: dict[str, str] = {"name": "Elke Storm", "licence_number": "E-20417"}

MORTAR: dict[str, Any] = {
    "name": "Polymer-modified mortar, 25 kg",
    "kind": "mortar",
    "sheet": "Demo sheet M-2, edition 3",
    "curing": {
        "law": {"kind": "arrhenius", "activation_k": 5000, "reference_c": 20},
        "lowest_c": 5,
        "highest_c": 30,
        "walk_after_hours": 24,
        "next_layer_after_hours": 24,
        "grout_after_hours": 24,
        "heat_after_hours": 168,
        "full_after_hours": 336,
        "frost_watch_hours": 24,
    },
    "package": {"name": "bag", "covers": 4.2, "unit": "m2", "thickness_mm": 5},
}
SENSOR: dict[str, Any] = {
    "name": "Floor probe 10 kΩ",
    "kind": "sensor",
    "sheet": "Demo sheet S-1",
    "sensor": {"points": [[0, 27445], [25, 10000], [50, 4160]]},
}
CONTROL: dict[str, Any] = {
    "name": "Floor control 16 A",
    "kind": "control",
    "sheet": "Demo sheet C-1",
    "control": {"volts": 230, "max_amps": 16},
}


def element(name: str, *, wire_m: float, watts: float) -> dict[str, Any]:
    """A twin-core cable of 10 W/m or so, as its invented sheet prints it."""
    return {
        "name": name,
        "kind": "element",
        "sheet": "Demo sheet E-4",
        "element": {
            "kind": "cable",
            "wire_mm": wire_m * 1000,
            "spacing_mm": 75,
            "spacing_least_mm": 55,
            "spacing_most_mm": 110,
            "watts": watts,
            "volts": 230,
            "min_bend_mm": 25,
            "ends": "one",
            "cold_lead_mm": 4000,
        },
    }


CABLES = tuple(
    element(f"Cable {metres} m, {watts} W", wire_m=metres, watts=watts)
    for metres, watts in ((30, 330), (36, 400), (43, 470), (50, 550), (58, 640))
)

# An L with a bathtub, a toilet ring and a floor drain.
BATHROOM: dict[str, Any] = {
    "name": "Bathroom",
    "outline": [[0, 0], [3200, 0], [3200, 1700], [1900, 1700], [1900, 2900], [0, 2900]],
    "keep_outs": [
        {
            "kind": "fixture",
            "name": "bathtub",
            "outline": [[0, 2150], [1700, 2150], [1700, 2900], [0, 2900]],
        },
        {
            "kind": "toilet",
            "name": "toilet ring",
            "outline": [
                [
                    round(2850 + 150 * math.cos(a * math.pi / 4)),
                    round(1350 + 150 * math.sin(a * math.pi / 4)),
                ]
                for a in range(8)
            ],
        },
        {
            "kind": "drain",
            "name": "floor drain",
            "outline": [[1250, 950], [1400, 950], [1400, 1100], [1250, 1100]],
        },
    ],
    "control_mm": [0, 900],
    "door_mm": [[400, 0], [1200, 0]],
    "covering": "tile",
}
HALL: dict[str, Any] = {
    "name": "Hall",
    "outline": [[0, 0], [3000, 0], [3000, 1600], [0, 1600]],
    "control_mm": [3000, 800],
    "door_mm": [[900, 0], [1700, 0]],
    "covering": "tile",
}

METER: dict[str, Any] = {
    "name": "Meter 3",
    "serial": "DM-0311",
    "lead_ohms": 0.2,
    "ranges": [
        {
            "name": "200 Ω",
            "quantity": "ohms",
            "full_scale": 200,
            "resolution": 0.1,
            "percent_of_reading": 0.5,
            "digits": 3,
        },
        {
            "name": "2 kΩ",
            "quantity": "ohms",
            "full_scale": 2000,
            "resolution": 1,
            "percent_of_reading": 0.5,
            "digits": 8,
        },
        {
            "name": "20 kΩ",
            "quantity": "ohms",
            "full_scale": 20000,
            "resolution": 10,
            "percent_of_reading": 0.5,
            "digits": 3,
        },
        {
            "name": "60 MΩ",
            "quantity": "ohms",
            "full_scale": 60e6,
            "resolution": 10e3,
            "percent_of_reading": 2,
            "digits": 5,
        },
        {
            "name": "600 V",
            "quantity": "volts",
            "full_scale": 600,
            "resolution": 0.1,
            "percent_of_reading": 1,
            "digits": 3,
        },
        {
            "name": "20 A",
            "quantity": "amps",
            "full_scale": 20,
            "resolution": 0.01,
            "percent_of_reading": 1.5,
            "digits": 3,
        },
    ],
}
TESTER: dict[str, Any] = {
    "name": "Insulation tester 1",
    "serial": "IT-0042",
    "ranges": [
        {
            "name": "500 V",
            "quantity": "megohms",
            "full_scale": 500,
            "resolution": 0.1,
            "percent_of_reading": 3,
            "digits": 3,
            "test_volts": 500,
        }
    ],
}
CREWS: tuple[dict[str, Any], ...] = (
    {
        "name": "Crew Heron",
        "skills": ["lay", "mortar", "tile"],
        "works": [[1, 1]] * 7,
    },
    {"name": "Crew Tern", "skills": ["electric"], "works": [[1, 1]] * 7},
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """When things happened, counted back from the moment at which the demo is played."""

    now: datetime

    def told(self, at: datetime) -> str:
        """A time as people of the site would say it."""
        return f"{at.astimezone(ZoneInfo(JOB['time_zone'])):%a %d %b, %H:%M}"

    def day(self, before: int, hour: int = 8, minute: int = 0) -> datetime:
        """`hour` o'clock UTC, so many days before today."""
        start = self.now.replace(hour=hour, minute=minute, second=0, microsecond=0)
        return start - timedelta(days=before)


def logger_csv(start: datetime, end: datetime, gap: tuple[datetime, datetime]) -> str:
    """What a logger in a half-heated house wrote: hourly, one cold night, one gap.

    The house swings between 10 and 15 °C; in the second night the heating fails and it falls
    to 3 °C; during `gap` the logger's battery is flat.
    """
    rows = ["time,celsius"]
    at = start
    while at <= end:
        hours = (at - start).total_seconds() / 3600
        celsius = 12.5 + 2.5 * math.sin((at.hour - 9) * math.pi / 12)
        if 34 <= hours <= 42:
            celsius = 3.0 + abs(hours - 38)
        if not gap[0] < at < gap[1]:
            rows.append(f"{at.isoformat()},{celsius:.1f}")
        at += timedelta(hours=1)
    return "\n".join(rows)
