"""The story, act by act. Each act asks the service and tells what it answered, and why."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

from scheduling.demo import scenario
from scheduling.demo.client import Caller, StoryBroke

Tell = Callable[[str], None]

MORTAR_DOWN = 21  # days before today
CORE_TO_CORE = {"Bathroom": 112.4, "Hall": 96.3}
TAG_OHMS = {"Bathroom": 112.6, "Hall": 96.2}


@dataclass(kw_only=True)
class Story:
    """What the acts pass on to one another."""

    calendar: scenario.Calendar
    office: Caller
    installer: Caller
    electrician: Caller
    outsider: Caller
    folder: Path
    tell: Tell
    tag: str = field(default_factory=lambda: uuid4().hex[:6].upper())
    job: dict[str, Any] = field(default_factory=dict)
    rooms: dict[str, dict[str, Any]] = field(default_factory=dict)
    elements: dict[str, dict[str, Any]] = field(default_factory=dict)
    sensors: dict[str, dict[str, Any]] = field(default_factory=dict)
    ranges: dict[str, str] = field(default_factory=dict)
    materials: dict[str, dict[str, Any]] = field(default_factory=dict)

    def act(self, title: str) -> None:
        self.tell("")
        self.tell(f"— {title}")


def office_prepares(story: Story) -> None:
    """Customer, job, catalogue, rooms, elements, meters."""
    office = story.office
    story.act("The office takes the job in")
    customer = office.post("customers/", scenario.CUSTOMER)
    story.job = office.post("jobs/", {**scenario.JOB, "customer": customer["id"]})
    story.tell(f"Job {story.job['number']}: {story.job['title']}, {story.job['street']}.")
    for goods in (
        scenario.MORTAR,
        scenario.SENSOR,
        scenario.CONTROL,
        scenario.BATHROOM_ELEMENT,
        scenario.HALL_ELEMENT,
    ):
        story.materials[goods["name"]] = _catalogued(office, goods)
    for shape, goods in (
        (scenario.BATHROOM, scenario.BATHROOM_ELEMENT),
        (scenario.HALL, scenario.HALL_ELEMENT),
    ):
        room = office.post("rooms/", {**shape, "job": story.job["id"]})
        name = room["name"]
        story.rooms[name] = room
        story.elements[name] = office.post(
            "elements/",
            {
                "room": room["id"],
                "material": story.materials[goods["name"]]["id"],
                "label": "cable 1",
                "serial": f"{story.tag}-{name[0]}1",
                "tag_ohms": TAG_OHMS[name],
            },
        )
        story.sensors[name] = _installed(story, "floor-sensors/", room, scenario.SENSOR, "probe 1")
        _installed(story, "controls/", room, scenario.CONTROL, "control 1")
        story.tell(
            f"{name}: {len(room['outline'])} corners, {len(room['keep_outs'])} keep-outs, "
            f"{goods['name']} with {TAG_OHMS[name]} Ω on its tag."
        )
    for meter in (scenario.METER, scenario.TESTER):
        for one in _meter(office, meter)["ranges"]:
            story.ranges[one["name"]] = one["id"]


def arrival(story: Story) -> None:
    """The first reading is too coarse to decide; the right range passes."""
    story.act("The installer tests what came, before it is unpacked any further")
    at = story.calendar.day(24, 8, 30)
    coarse = _check(story, "Bathroom", "arrival", at, element_range="2 kΩ", ohms=113, c=14.0)
    _told(story, coarse, "Bathroom")
    if coarse["outcome"] != "undecided":
        raise StoryBroke(f"A range this coarse decided: {coarse['outcome']}")
    fine = _check(story, "Bathroom", "arrival", at + timedelta(minutes=6), c=14.0)
    _told(story, fine, "Bathroom")
    hall = _check(story, "Hall", "arrival", at + timedelta(minutes=20), c=14.0)
    _told(story, hall, "Hall")
    _must_pass(fine, hall)


def laying(story: Story) -> None:
    """Both cables lie; the floor is bare now."""
    story.act("The cables are laid, clear of walls and fixtures, and tested again")
    checks = [
        _check(story, name, "laid", story.calendar.day(22, 13, 10 * at), c=13.0)
        for at, name in enumerate(story.rooms)
    ]
    for name, check in zip(story.rooms, checks, strict=True):
        _told(story, check, name)
    _must_pass(*checks)


def covering(story: Story) -> None:
    """Tested once more under the mortar; the phone sends the batch twice."""
    story.act("The day after the mortar: tested again, sent late, and sent twice")
    batch = {
        "checks": [
            _check_body(story, name, "covered", story.calendar.day(20, 9, 10 * at), c=12.0)
            for at, name in enumerate(story.rooms)
        ]
    }
    first = story.installer.post("checks/batch/", batch, expect=200)
    again = story.installer.post("checks/batch/", batch, expect=200)
    if [r["check"]["digest"] for r in first["results"]] != [
        r["check"]["digest"] for r in again["results"]
    ]:
        raise StoryBroke("The same batch was answered differently.")
    for name, result in zip(story.rooms, first["results"], strict=True):
        _told(story, result["check"], name)
    story.tell("The same batch again, after a lost answer: nothing doubled, same answer.")
    _must_pass(*(result["check"] for result in first["results"]))


def _catalogued(office: Caller, goods: dict[str, Any]) -> dict[str, Any]:
    """The catalogue's entry, added if it is not there from an earlier run."""
    found = office.get(f"materials/?kind={goods['kind']}&limit=200")["results"]
    for entry in found:
        if entry["name"] == goods["name"]:
            return dict(entry)
    return dict(office.post("materials/", goods))


def _meter(office: Caller, meter: dict[str, Any]) -> dict[str, Any]:
    for known in office.get("instruments/?limit=200")["results"]:
        if known["name"] == meter["name"]:
            return dict(known)
    return dict(office.post("instruments/", meter))


def _installed(
    story: Story, path: str, room: dict[str, Any], goods: dict[str, Any], label: str
) -> dict[str, Any]:
    body = {
        "room": room["id"],
        "material": story.materials[goods["name"]]["id"],
        "label": label,
    }
    return dict(story.office.post(path, body))


def _check(
    story: Story,
    room: str,
    stage: str,
    at: datetime,
    *,
    c: float,
    element_range: str = "200 Ω",
    ohms: float | None = None,
) -> dict[str, Any]:
    body = _check_body(story, room, stage, at, c=c, element_range=element_range, ohms=ohms)
    return dict(story.installer.post("checks/", body))


def _check_body(
    story: Story,
    room: str,
    stage: str,
    at: datetime,
    *,
    c: float,
    element_range: str = "200 Ω",
    ohms: float | None = None,
) -> dict[str, Any]:
    """The full set of a stage: core to core, each lead to ground, the probe in the floor."""
    ranges = story.ranges
    readings: list[dict[str, Any]] = [
        {
            "kind": "element",
            "range": ranges[element_range],
            "value": CORE_TO_CORE[room] if ohms is None else ohms,
        },
        *(
            {"kind": "lead_to_ground", "range": ranges["60 MΩ"], "over_range": True, "lead": lead}
            for lead in "AB"
        ),
        {"kind": "sensor", "range": ranges["20 kΩ"], "value": probe_ohms(c)},
    ]
    return {
        "client_id": str(uuid4()),
        "room": story.rooms[room]["id"],
        "stage": stage,
        "taken_at": at.isoformat(),
        "at_c": c,
        "readings": readings,
    }


def probe_ohms(celsius: float) -> int:
    """What the scenario's probe shows, to ten ohms: its curve by beta between 0 and 25 °C."""
    beta = math.log(27_445 / 10_000) / (1 / 273.15 - 1 / 298.15)
    return round(10_000 * math.exp(beta * (1 / (celsius + 273.15) - 1 / 298.15)), -1)


def _told(story: Story, check: dict[str, Any], room: str) -> None:
    story.tell(f"{room}, {check['stage']}: {check['outcome'].upper()}")
    for reading in check["readings"]:
        if reading["kind"] in ("element", "sensor") or reading["outcome"] != "pass":
            story.tell(f"    {reading['because']}")
    for step in check["next_steps"][:2]:
        story.tell(f"    Next: {step}")


def _must_pass(*checks: dict[str, Any]) -> None:
    for check in checks:
        if check["outcome"] != "pass":
            raise StoryBroke(f"A check did not pass: {check}")
