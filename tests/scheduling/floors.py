"""Floors for tests: a layer, readings and a decision in few words."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling.cure import Arrhenius
from scheduling.energize import decide
from scheduling.floor import CuringMaterial, Facts, Layer
from scheduling.temperatures import TemperatureRecord

PLACED_AT = datetime(2027, 3, 1, 14, 30, tzinfo=UTC)


def layer(layer_id="bed", *, placed_at=PLACED_AT, **material):
    return Layer(
        id=layer_id,
        placed_at=placed_at,
        material=CuringMaterial(
            **{
                "name": "dry-set mortar",
                "law": Arrhenius(5000, 20),
                "lowest_c": 5,
                "heat_after_hours": 168,
                "frost_watch_hours": 24,
                **material,
            }
        ),
    )


def facts(*layers, readings=(), now, **changes):
    rows = [(*reading, "logger")[:3] for reading in readings]
    return Facts(
        **{
            "now": now,
            "zone": ZoneInfo("Europe/Oslo"),
            "assume_c": 8,
            "max_gap_hours": 6,
            "layers": layers,
            "temperatures": TemperatureRecord.of(rows, not_after=now),
            "promises": (),
            "evidence": (),
            "required": (),
            **changes,
        }
    )


def decision(*layers, **told):
    return decide(facts(*layers, **told))


def steady(celsius, *, start=PLACED_AT, hours, every_hours=4, source="logger"):
    """Readings of one temperature, from `start` for so many hours."""
    return [
        (start + timedelta(hours=hour), celsius, source)
        for hour in range(0, hours + 1, every_hours)
    ]
