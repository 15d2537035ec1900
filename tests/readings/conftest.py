"""A room with one element, one sensor and a meter; `send` posts a check of it."""

from typing import Any
from uuid import uuid4

import pytest

from tests.factories import (
    ElementFactory,
    FloorSensorFactory,
    InstrumentFactory,
    InstrumentRangeFactory,
    JobFactory,
    RoomFactory,
)

TAKEN = "2026-03-10T06:55:00Z"
NOBODYS = "3f1c2a9e-0d6b-4e55-8a41-7c0f6f7a1b02"  # the same in every process


class Site:
    """One room of Alder's, as its phones see it."""

    def __init__(self, contractor: Any, leads: float = 0.0) -> None:
        self.job = JobFactory(contractor=contractor)
        self.room = RoomFactory(contractor=contractor, job=self.job)
        self.element = ElementFactory(
            contractor=contractor, room=self.room, label="mat", tag_ohms=71.1
        )
        self.sensor = FloorSensorFactory(contractor=contractor, room=self.room, label="probe")
        self.meter = InstrumentFactory(contractor=contractor, lead_ohms=leads)

        def span(name: str, quantity: str, full: float, step: float, **more: Any) -> str:
            row = InstrumentRangeFactory(
                contractor=contractor,
                instrument=self.meter,
                name=name,
                quantity=quantity,
                full_scale=full,
                resolution=step,
                **more,
            )
            return str(row.pk)

        self.ohms_200 = span("200 Ω", "ohms", 200, 0.1)
        self.ohms_20k = span("20 kΩ", "ohms", 20_000, 10)
        self.ohms_20m = span("20 MΩ", "ohms", 20e6, 10_000)
        self.megohms = span("500 V", "megohms", 500, 0.1, test_volts=500)
        self.volts = span("600 V", "volts", 600, 0.1)
        self.amps = span("10 A", "amps", 10, 0.01)

    def full_set(self, ohms: float = 71.0, **more: Any) -> list[dict[str, Any]]:
        """What a stage before the handover needs, all sound."""
        ground = {"kind": "lead_to_ground", "range": self.ohms_20m, "over_range": True}
        return [
            {"kind": "element", "range": self.ohms_200, "value": ohms, "at_c": 18, **more},
            {**ground, "lead": "A"},
            {**ground, "lead": "B"},
            {"kind": "sensor", "range": self.ohms_20k, "value": 13_400, "at_c": 18},
        ]

    def handover_set(self) -> list[dict[str, Any]]:
        return [
            *self.full_set(),
            {"kind": "insulation", "range": self.megohms, "over_range": True},
            {"kind": "supply", "range": self.volts, "value": 229.5},
            {"kind": "load", "range": self.amps, "value": 3.23},
        ]

    def check(self, stage: str = "laid", **more: Any) -> dict[str, Any]:
        """The body of a check, complete unless `readings` says otherwise."""
        return {
            "client_id": str(uuid4()),
            "room": str(self.room.pk),
            "stage": stage,
            "taken_at": TAKEN,
            "readings": self.full_set(),
            **more,
        }


@pytest.fixture
def site(alder: Any) -> Site:
    return Site(alder)
