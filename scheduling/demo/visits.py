"""Visits with a meter: the readings that the scenario's installer takes."""

import math
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from scheduling.demo.client import StoryBroke

if TYPE_CHECKING:
    from scheduling.demo.story import Story

SUPPLY_VOLTS = 231.0


def full_set(
    story: "Story", room: str, *, celsius: float, range_name: str = "200 Ω", digits: int = 1
) -> dict[str, Any]:
    """Core to core, each lead to ground, the probe in the floor; all at one temperature."""
    ranges = story.ranges
    grounded = [
        {"kind": "lead_to_ground", "range": ranges["60 MΩ"], "over_range": True, "lead": lead}
        for lead in "AB"
    ]
    element = {
        "kind": "element",
        "range": ranges[range_name],
        "value": round(story.read_ohms(room), digits),
    }
    return {"at_c": celsius, "readings": [element, *grounded, _probe(story, celsius)]}


def handover_set(story: "Story", room: str, *, celsius: float) -> dict[str, Any]:
    """Core to core, insulation at 500 V, the probe, and what the circuit draws."""
    ranges = story.ranges
    ohms = story.read_ohms(room)
    return {
        "at_c": celsius,
        "readings": [
            {"kind": "element", "range": ranges["200 Ω"], "value": ohms},
            {"kind": "insulation", "range": ranges["500 V"], "over_range": True},
            _probe(story, celsius),
            {"kind": "supply", "range": ranges["600 V"], "value": SUPPLY_VOLTS},
            {"kind": "load", "range": ranges["20 A"], "value": round(SUPPLY_VOLTS / ohms, 2)},
        ],
    }


def check_sent(
    story: "Story", room: str, stage: str, at: datetime, readings: dict[str, Any]
) -> dict[str, Any]:
    body = {
        **readings,
        "client_id": str(uuid4()),
        "room": story.rooms[room]["id"],
        "stage": stage,
        "taken_at": at.isoformat(),
    }
    return dict(story.installer.post("checks/", body))


def told_check(story: "Story", check: dict[str, Any], room: str) -> None:
    story.tell(f"{room}, {check['stage']}: {check['outcome'].upper()}")
    for reading in check["readings"]:
        if reading["kind"] == "element" or reading["outcome"] != "pass":
            story.tell(f"    {reading['because']}")
    for step in check["next_steps"][:2]:
        story.tell(f"    Next: {step}")


def must_pass(*checks: dict[str, Any]) -> None:
    for check in checks:
        if check["outcome"] != "pass":
            raise StoryBroke(f"A check did not pass: {check}")


def _probe(story: "Story", celsius: float) -> dict[str, Any]:
    """The scenario's probe at that temperature, to ten ohms: by beta from 0 to 25 °C."""
    beta = math.log(27_445 / 10_000) / (1 / 273.15 - 1 / 298.15)
    ohms = 10_000 * math.exp(beta * (1 / (celsius + 273.15) - 1 / 298.15))
    return {"kind": "sensor", "range": story.ranges["20 kΩ"], "value": round(ohms, -1)}
