"""The story, act by act. Each act asks the service and tells what it answered, and why."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from scheduling.demo import scenario
from scheduling.demo.client import Caller, StoryBroke
from scheduling.demo.visits import (
    check_sent,
    full_set,
    handover_set,
    must_pass,
    told_check,
)

Tell = Callable[[str], None]

WAIT_SECONDS = 120.0


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
    tag_ohms: dict[str, float] = field(default_factory=dict)
    ranges: dict[str, str] = field(default_factory=dict)
    materials: dict[str, dict[str, Any]] = field(default_factory=dict)
    crews: dict[str, dict[str, Any]] = field(default_factory=dict)

    def act(self, title: str) -> None:
        self.tell("")
        self.tell(f"— {title}")

    def read_ohms(self, room: str) -> float:
        """What a meter shows of a sound element: a little less than its tag."""
        return round(self.tag_ohms[room] * 0.998, 1)


def office_prepares(story: Story) -> None:
    """Customer, job, catalogue, rooms, meters, crews."""
    office = story.office
    story.act("The office takes the job in")
    customer = office.post("customers/", scenario.CUSTOMER)
    story.job = office.post("jobs/", {**scenario.JOB, "customer": customer["id"]})
    story.tell(f"Job {story.job['number']}: {story.job['title']}, {story.job['street']}.")
    for goods in (scenario.MORTAR, scenario.SENSOR, scenario.CONTROL, *scenario.CABLES):
        story.materials[goods["name"]] = _there(office, "materials/", goods)
    for shape in (scenario.BATHROOM, scenario.HALL):
        room = office.post("rooms/", {**shape, "job": story.job["id"]})
        story.rooms[room["name"]] = room
        area = office.get(f"rooms/{room['id']}/heatable-area/")
        story.tell(
            f"{room['name']}: {len(room['outline'])} corners, {len(room['keep_outs'])} keep-outs; "
            f"heat may go on {area['area_m2']:.2f} m² of {area['floor_m2']:.2f} m²."
        )
    for meter in (scenario.METER, scenario.TESTER):
        for one in _there(office, "instruments/", meter)["ranges"]:
            story.ranges[one["name"]] = one["id"]
    for crew in scenario.CREWS:
        story.crews[crew["name"]] = _there(office, "crews/", crew)


def laying_is_planned(story: Story) -> None:
    """A cable cannot be shortened: the one is chosen that fills the room without a remainder."""
    story.act("The laying is planned before a box is opened")
    for name, room in story.rooms.items():
        asked = story.office.post(f"rooms/{room['id']}/laying-searches/", {}, expect=202)
        done = _awaited(
            partial(story.office.get, f"laying-searches/{asked['id']}/"),
            lambda search: search["finished_at"] is not None,
            "a laying plan",
        )
        if done["refused"]:
            raise StoryBroke(done["refused"])
        best = done["found"][0]
        goods = _chosen(story, best["plan"])
        story.office.post(f"rooms/{room['id']}/laying-plans/", {"search": asked["id"], "choice": 0})
        story.tag_ohms[name] = round(goods["element"]["volts"] ** 2 / goods["element"]["watts"], 1)
        story.office.post(
            "elements/",
            {
                "room": room["id"],
                "material": goods["id"],
                "label": "cable 1",
                "serial": f"{story.tag}-{name[0]}1",
                "tag_ohms": story.tag_ohms[name],
            },
        )
        _installed(story, "floor-sensors/", room, scenario.SENSOR, "probe 1")
        _installed(story, "controls/", room, scenario.CONTROL, "control 1")
        measures = best["measures"]
        story.tell(
            f"{name}: {goods['name']} warms {measures['covered_m2']:.2f} of "
            f"{measures['heatable_m2']:.2f} m²; {len(done['found'])} ways were found."
        )
        circuit = story.office.get(f"rooms/{room['id']}/circuit/?one_way_m=12")
        for one in circuit["circuits"]:
            story.tell(
                f"    {one['amps']:.2f} A, breaker {one['breaker_a']:g} A, {one['conductor']}, "
                f"voltage drop {one['drop_volts']:.2f} V."
            )
        story.tell(f"    {circuit['caution']}")


def crew_is_booked(story: Story) -> None:
    """Two half-days for laying, one for the mortar; the same half-day twice is refused."""
    story.act("A crew is booked, once")
    room = story.rooms["Bathroom"]
    laying = story.calendar.day(22).date().isoformat()
    mortar = story.calendar.day(21).date().isoformat()
    crew = story.crews["Crew Heron"]
    body = {"crew": crew["id"], "job": story.job["id"], "room": room["id"]}
    halves = [{"day": laying, "half": half} for half in ("am", "pm")]
    booked = story.office.ask(
        "POST", "bookings/", {**body, "task": "lay", "half_days": halves}, expect=(201, 409)
    )
    if booked.status == 201:
        embed = {"task": "embed", "half_days": [{"day": mortar, "half": "pm"}]}
        story.office.post("bookings/", {**body, **embed})
        story.tell(f"{crew['name']} lays on {laying} and embeds on {mortar}, pm.")
    refused = story.office.post(
        "bookings/", {**body, "task": "lay", "half_days": halves}, expect=409
    )
    story.tell(f"Booked again by mistake: {refused['title']}. {refused['detail']}")


def arrival(story: Story) -> None:
    """The first reading is too coarse to decide; the right range passes."""
    story.act("The installer tests what came, before it is unpacked any further")
    at = story.calendar.day(24, 8, 30)
    coarse = check_sent(
        story,
        "Bathroom",
        "arrival",
        at,
        full_set(story, "Bathroom", celsius=14, range_name="2 kΩ", digits=0),
    )
    told_check(story, coarse, "Bathroom")
    if coarse["outcome"] != "undecided":
        raise StoryBroke(f"A range this coarse decided: {coarse['outcome']}")
    fine = _measured(story, "Bathroom", "arrival", at + timedelta(minutes=6), celsius=14)
    hall = _measured(story, "Hall", "arrival", at + timedelta(minutes=20), celsius=14)
    must_pass(fine, hall)


def laying(story: Story) -> None:
    """Both cables lie as drawn, but for one part; the floor is bare now."""
    story.act("The cables are laid, clear of walls and fixtures, and tested again")
    must_pass(
        *(
            _measured(story, name, "laid", story.calendar.day(22, 13, 10 * at), celsius=13)
            for at, name in enumerate(story.rooms)
        )
    )
    for name, room in story.rooms.items():
        drawn = story.installer.post(f"rooms/{room['id']}/as-laid/", {"changes": []})
        story.tell(f"{name}: laid as planned, true to ±{drawn['tolerance_mm']:g} mm.")


def plumber_is_warned(story: Story) -> None:
    """A visit on the bare cable: conflict, notice, and an acknowledgement by name."""
    story.act("The plumber wants to come in while the cable lies bare")
    visit = story.office.post(
        "visits/",
        {
            **scenario.PLUMBER,
            "job": story.job["id"],
            "room": story.rooms["Bathroom"]["id"],
            "activities": ["walking", "drilling"],
            "starts_at": story.calendar.day(22, 14).isoformat(),
            "ends_at": story.calendar.day(22, 16).isoformat(),
        },
    )
    if not visit["conflicts"]:
        raise StoryBroke("A visit onto a bare cable met no conflict.")
    for conflict in visit["conflicts"]:
        story.tell(
            f"Conflict ({conflict['state']}): {conflict['because']} "
            f"Not possible then: {', '.join(conflict['forbidden'])}."
        )
    (warned,) = story.office.get(f"notices/?visit={visit['id']}")["results"]
    link = story.office.post(f"notices/{warned['id']}/link/")["url"]
    secret = link.rstrip("/").rsplit("/", 1)[1]
    read = story.outsider.get(f"public/notices/{secret}/")
    if read["acknowledged_at"]:
        raise StoryBroke("Opening a notice acknowledged it.")
    answered = story.outsider.post(f"public/notices/{secret}/", {"name": "Una Weir"}, expect=200)
    story.tell(f"The notice was read, and acknowledged by {answered['acknowledged_by']}.")


def mortar_goes_down(story: Story) -> None:
    """Mortar over both cables, and three weeks of a logger."""
    story.act("Mortar goes down; a logger reads the house")
    placed = story.calendar.day(21, 14, 30)
    for room in story.rooms.values():
        story.installer.post(
            "layers/",
            {
                "room": room["id"],
                "material": story.materials[scenario.MORTAR["name"]]["id"],
                "embeds": True,
                "thickness_mm": 9,
                "client_id": str(uuid4()),
                "placed_at": placed.isoformat(),
            },
        )
    gap = (story.calendar.day(16, 6), story.calendar.day(15, 4))
    log = scenario.logger_csv(story.calendar.day(21, 14), story.calendar.day(1, 6), gap)
    query = urlencode({"job": story.job["id"], "source_name": "logger 1"})
    read = story.installer.ask("POST", f"site-temperatures/log/?{query}", csv=log, expect=200).body
    story.tell(
        f"Mortar placed {story.calendar.told(placed)}. The logger gave {read['added']} hourly "
        "readings, one night down to 3 °C, and 22 hours of silence."
    )


def covering(story: Story) -> None:
    """Tested once more under the mortar; the phone sends the batch twice."""
    story.act("The day after: tested again under the mortar, sent late, and sent twice")
    batch = {
        "checks": [
            {
                **full_set(story, name, celsius=12),
                "client_id": str(uuid4()),
                "room": room["id"],
                "stage": "covered",
                "taken_at": story.calendar.day(20, 9, 10 * at).isoformat(),
            }
            for at, (name, room) in enumerate(story.rooms.items())
        ]
    }
    first = story.installer.post("checks/batch/", batch, expect=200)
    again = story.installer.post("checks/batch/", batch, expect=200)
    if [r["check"]["digest"] for r in first["results"]] != [
        r["check"]["digest"] for r in again["results"]
    ]:
        raise StoryBroke("The same batch was answered differently.")
    for name, result in zip(story.rooms, first["results"], strict=True):
        told_check(story, result["check"], name)
    story.tell("The same batch again, after a lost answer: nothing doubled, the same answer.")
    must_pass(*(result["check"] for result in first["results"]))


def too_early(story: Story) -> None:
    """Somebody wants heat after a week, as the bag says; the service says what is missing."""
    story.act("Seven days after the mortar somebody wants heat")
    room = story.rooms["Bathroom"]
    refused = story.electrician.post(
        f"rooms/{room['id']}/energize/",
        {"client_id": str(uuid4()), "at": story.calendar.day(14, 15).isoformat()},
        expect=409,
    )
    story.tell(f"Refused: {refused['title']}.")
    story.tell(f"    {refused['detail']}")


def heat_comes_on(story: Story) -> None:
    """The missing proofs come in, the date is worked out, and heat comes on after it."""
    story.act("What was missing is proven, and the date is worked out")
    for room in story.rooms.values():
        for kind in ("leakage-protection", "electrician"):
            story.electrician.post(
                "evidence/",
                {
                    "client_id": str(uuid4()),
                    "room": room["id"],
                    "kind": kind,
                    "at": story.calendar.day(12, 10).isoformat(),
                    **scenario.ELECTRICIAN,
                    "scope": "Floor warming circuit, control and its protection",
                },
            )
    for name, room in story.rooms.items():
        decision = story.office.get(f"rooms/{room['id']}/energize/")
        if not decision["may_energize"]:
            raise StoryBroke(f"{name} may still not be heated: {decision['holds']}")
        from_then = datetime.fromisoformat(decision["likely"])
        story.tell(f"{name}: heat may come on from {story.calendar.told(from_then)}.")
        for because in decision["because"]:
            story.tell(f"    {because}")
        on_at = (from_then + timedelta(days=1)).replace(hour=8, minute=0, second=0)
        story.electrician.post(
            f"rooms/{room['id']}/energize/",
            {"client_id": str(uuid4()), "at": on_at.isoformat()},
        )
        story.tell(f"    Switched on {story.calendar.told(on_at)}.")


def handover(story: Story) -> None:
    """The last check, what is missing, and two signatures."""
    story.act("Handover: the last check, and who signs")
    must_pass(
        *(
            _handed_over(story, name, story.calendar.day(2, 10, 20 * at))
            for at, name in enumerate(story.rooms)
        )
    )
    still = story.office.get(f"jobs/{story.job['id']}/handover/")
    for item in still["missing"]:
        where = f"{item['room']}: " if item["room"] else ""
        story.tell(f"Missing: {where}{item['what']} Cleared by the {item['clears']}.")
    refused = story.office.post("certificates/", {"job": story.job["id"]}, expect=409)
    story.tell(f"No certificate yet: {refused['title']}.")
    for who, kind, fields in (
        (story.electrician, "electrician", scenario.ELECTRICIAN),
        (story.office, "customer", {"name": scenario.CUSTOMER["name"]}),
    ):
        who.post(
            "sign-offs/",
            {
                "id": str(uuid4()),
                "job": story.job["id"],
                "kind": kind,
                **fields,
                "scope": "Both floors, as recorded",
                "signed_at": story.calendar.day(1, 10).isoformat(),
            },
        )
        story.tell(f"Signed by the {kind}: {fields['name']}.")


def certificate(story: Story) -> None:
    """Issued, made by a worker, and downloaded through a private link by the owner."""
    story.act("The certificate")
    asked = story.office.post("certificates/", {"job": story.job["id"]}, expect=202)
    made = _awaited(
        lambda: story.office.get(f"certificates/{asked['id']}/"),
        lambda row: row["state"] in ("made", "failed"),
        "the certificate",
    )
    if made["state"] == "failed":
        raise StoryBroke(made["failure"])
    link = story.office.post(f"certificates/{asked['id']}/links/", {})["url"]
    pdf = story.outsider.ask("GET", link, expect=200).raw
    if not pdf.startswith(b"%PDF-"):
        raise StoryBroke("The private link gave no PDF.")
    story.folder.mkdir(parents=True, exist_ok=True)
    path = story.folder / f"certificate-{made['number']}.pdf"
    path.write_bytes(pdf)
    story.tell(f"{made['number']}, {len(pdf) // 1024} KB, through a private link: {path}")
    story.outsider.ask("GET", link[:-6] + "xxxxx/", expect=404)
    story.tell("A guessed link opens nothing.")


def years_later(story: Story) -> None:
    """Somebody wants to fasten something; the record can be checked."""
    story.act("Years later")
    room = story.rooms["Bathroom"]
    where = urlencode({"x_mm": 900, "y_mm": 500, "depth_mm": 40, "drill_mm": 6})
    asked = story.office.get(f"rooms/{room['id']}/clearance/?{where}")
    story.tell(f"May I fasten here? {asked['says']}")
    for name, each in story.rooms.items():
        chain = story.office.get(f"rooms/{each['id']}/chain/")
        story.tell(f"{name}: {chain['checks']} checks, {'whole' if chain['whole'] else 'BROKEN'}.")
        if not chain["whole"]:
            raise StoryBroke("The chain of checks is broken.")


def _measured(
    story: Story, room: str, stage: str, at: datetime, *, celsius: float
) -> dict[str, Any]:
    check = check_sent(story, room, stage, at, full_set(story, room, celsius=celsius))
    told_check(story, check, room)
    return check


def _handed_over(story: Story, room: str, at: datetime) -> dict[str, Any]:
    check = check_sent(story, room, "handover", at, handover_set(story, room, celsius=21))
    told_check(story, check, room)
    return check


def _there(office: Caller, path: str, goods: dict[str, Any]) -> dict[str, Any]:
    """The row of that name, added if it is not there from an earlier run."""
    for row in office.get(f"{path}?limit=200")["results"]:
        if row["name"] == goods["name"]:
            return dict(row)
    return dict(office.post(path, goods))


def _installed(
    story: Story, path: str, room: dict[str, Any], goods: dict[str, Any], label: str
) -> None:
    material = story.materials[goods["name"]]["id"]
    story.office.post(path, {"room": room["id"], "material": material, "label": label})


def _chosen(story: Story, plan: dict[str, Any]) -> dict[str, Any]:
    """The catalogue's entry for the one element of a plan."""
    (element,) = plan["elements"]
    for goods in story.materials.values():
        if element["element"] in (goods["id"], goods["name"]):
            return goods
    raise StoryBroke(f"The plan uses {element['element']}, which nobody sells.")


def _awaited(
    ask: Callable[[], dict[str, Any]], done: Callable[[dict[str, Any]], bool], what: str
) -> dict[str, Any]:
    until = time.monotonic() + WAIT_SECONDS
    while time.monotonic() < until:
        if done(row := ask()):
            return row
        time.sleep(0.2)
    raise StoryBroke(f"Waited {WAIT_SECONDS:.0f} s for {what}.")
