"""The check finds each kind of violation: a sound plan is spoilt in one way at a time."""

import copy
import math

import numpy as np
import pytest

from jobs.laying.check import violations
from jobs.laying.lay import lay
from jobs.laying.plan import dump_plan
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import cables
from tests.jobs.laying.test_problem import bare_room


def room_data(**changed):
    tub = {"kind": "fixture", "outline": [[0, 2200], [1000, 2200], [1000, 3000], [0, 3000]]}
    return bare_room(**{"keep_outs": [tub], "elements": cables("both"), **changed})


@pytest.fixture(scope="module")
def sound():
    room = parse_room(room_data())
    plan = dump_plan(lay(room))
    assert violations(room, plan) == []
    return plan


def run_of(path, *, beyond=600.0):
    """Index of the start of a straight run of more than `beyond` mm, away from either end."""
    points = np.asarray(path)
    step = np.hypot(*np.diff(points, axis=0).T)
    at = np.concatenate([[0], np.cumsum(step)])[:-1]
    inner = (at > 3000) & (at < at[-1] - 3000) & (step > beyond)
    return int(np.flatnonzero(inner)[0])


def spoil_path(change):
    def spoil(plan, room):
        element = plan["elements"][0]
        element["path"] = change(element["path"])

    return spoil


def bulge(path, *, out_mm):
    """Move the middle of a run sideways, in a smooth wave."""
    k = run_of(path)
    (x0, y0), (x1, y1) = path[k], path[k + 1]
    length = math.hypot(x1 - x0, y1 - y0)
    nx, ny = -(y1 - y0) / length, (x1 - x0) / length
    wave = []
    for f in np.linspace(0, 1, 41)[1:-1]:
        d = out_mm * math.sin(math.pi * f) ** 2
        wave.append([x0 + f * (x1 - x0) + d * nx, y0 + f * (y1 - y0) + d * ny])
    return [*path[: k + 1], *wave, *path[k + 1 :]]


def kink(path):
    k = run_of(path)
    (x0, y0), (x1, y1) = path[k], path[k + 1]
    length = math.hypot(x1 - x0, y1 - y0)
    middle = [(x0 + x1) / 2 - 15 * (y1 - y0) / length, (y0 + y1) / 2 + 15 * (x1 - x0) / length]
    near = [
        [x0 + f * (x1 - x0), y0 + f * (y1 - y0)] for f in (0.5 - 25 / length, 0.5 + 25 / length)
    ]
    return [*path[: k + 1], near[0], middle, near[1], *path[k + 1 :]]


def repeat_a_point(path):
    return [*path[:5], path[5], *path[5:]]


def loose(*stretches):
    def spoil(plan, room):
        plan["elements"][0]["loose_from_mm"] = [list(stretch) for stretch in stretches]

    return spoil


def put(**changes):
    """Set entries of the plan, or of its first element."""

    def spoil(plan, room):
        for key, value in changes.items():
            (plan if key in plan else plan["elements"][0])[key] = value

    return spoil


def without(key):
    def spoil(plan, room):
        (plan if key in plan else plan["elements"][0]).pop(key)

    return spoil


def twice(plan, room):
    plan["elements"].append(copy.deepcopy(plan["elements"][0]))


def twice_allowed(plan, room):
    twice(plan, room)
    room["may_use"] = 2


def joint_through(plan, room):
    room["joints"] = [[[0, 900], [2400, 900]]]


def lead_by(*corners):
    def spoil(plan, room):
        lead = plan["elements"][0]["lead"]
        plan["elements"][0]["lead"] = [lead[0], *[list(c) for c in corners], lead[-1]]

    return spoil


def short_lead(plan, room):
    room["cold_lead_mm"] = 100


def tube_by(*corners):
    def spoil(plan, room):
        route = plan["sensor_route"]
        plan["sensor_route"] = [route[0], *[list(c) for c in corners], route[-1]]

    return spoil


def sensor_on(place):
    def spoil(plan, room):
        plan["sensor"] = list(place)
        plan["sensor_route"][-1] = list(place)

    return spoil


def sensor_beside_a_pass(plan, room):
    path = plan["elements"][0]["path"]
    k = run_of(path)
    (x0, y0), (x1, y1) = path[k], path[k + 1]
    sensor_on([(x0 + x1) / 2 + 3, (y0 + y1) / 2 + 3])(plan, room)


def low_limit(plan, room):
    room["max_w_per_m2"] = 60


def bow_the_splice(path):
    head = [path[0]]
    (x0, y0), (x1, y1) = path[0], path[1]
    length = math.hypot(x1 - x0, y1 - y0)
    for d, side in ((50, 3), (75, 5), (100, 3), (170, 0)):
        f = d / length
        head.append([
            x0 + f * (x1 - x0) - side * (y1 - y0) / length,
            y0 + f * (y1 - y0) + side * (x1 - x0) / length,
        ])  # fmt: skip
    return [*head, *path[1:]]


SPOILT = {
    "format: no path": ("format", without("path")),
    "format: no sensor": ("format", without("sensor")),
    "format: not a number": ("format", put(sensor=[0, math.nan])),
    "format: one point": ("format", put(path=[[100, 100]])),
    "format: no elements": ("format", put(elements=[])),
    "element: unknown": ("element", put(element="nobody's")),
    "element: too many": ("element", twice),
    "chainage: repeated point": ("chainage", spoil_path(repeat_a_point)),
    "chainage: overlap": ("chainage", loose([0, 900], [800, 1000])),
    "chainage: backwards": ("chainage", loose([900, 100])),
    "chainage: beyond the wire": ("chainage", loose([0, 10**6])),
    "length: cut short": ("length", spoil_path(lambda path: path[: len(path) // 2])),
    "outside: over the edge": ("outside", spoil_path(lambda p: [[x - 90, y] for x, y in p])),
    "joint: across it": ("joint", joint_through),
    "crossing: itself": ("crossing", spoil_path(lambda path: bulge(path, out_mm=160))),
    "crossing: another": ("crossing", twice_allowed),
    "spacing: a run moved": ("spacing", spoil_path(lambda path: bulge(path, out_mm=45))),
    "bend: a kink": ("bend", spoil_path(kink)),
    "splice: elsewhere": ("splice", put(splice=[500, 500])),
    "splice: bowed": ("splice", spoil_path(bow_the_splice)),
    "end: elsewhere": ("end", put(end=[500, 500])),
    "end: bowed": ("end", spoil_path(lambda path: bow_the_splice(path[::-1])[::-1])),
    "lead: missing": ("lead", put(lead=[])),
    "lead: second missing": ("lead", without("lead_end")),
    "lead: too long": ("lead", short_lead),
    "lead: through the room": ("lead", lead_by((1200, 1500))),
    "lead: out of the room": ("lead", lead_by((1200, -300))),
    "lead: through a keep-out": ("lead", lead_by((500, 2600))),
    "lead: from elsewhere": ("lead", put(lead=[[0, 0], [100, 100]])),
    "sensor: outside": ("sensor", sensor_on((30, 30))),
    "sensor: beside a pass": ("sensor", sensor_beside_a_pass),
    "sensor: tube over wire": ("sensor", tube_by((1200, 1500))),
    "sensor: tube out of the room": ("sensor", tube_by((1200, -300))),
    "power: too much": ("power", low_limit),
    "mesh: on a cable": ("mesh", put(mesh=[{"outline": [[0, 0], [500, 0], [500, 75], [0, 75]]}])),
    "claims: heatable": ("claims", put(heatable_m2=9.0)),
    "claims: covered": ("claims", put(covered_m2=1.0)),
    "claims: unreached": (
        "claims",
        put(unreached=[[[0, 0], [2000, 0], [2000, 2000], [0, 2000]]]),
    ),
    "claims: crossed outline": (
        "claims",
        put(unreached=[[[0, 0], [100, 100], [100, 0], [0, 100]]]),
    ),
}


@pytest.mark.parametrize("name", SPOILT)
def test_a_spoilt_plan_is_found_out(sound, name):
    kind, spoil = SPOILT[name]
    plan, room = copy.deepcopy(sound), room_data()
    spoil(plan, room)
    found = violations(parse_room(room), plan)
    assert any(sentence.startswith(f"{kind}: ") for sentence in found), found


def test_elements_are_called_by_their_names_and_counted_if_alike(sound):
    plan, room = copy.deepcopy(sound), room_data()
    given = plan["elements"][0]["element"]
    (named,) = [one for one in room["elements"] if one["id"] == given]
    named["name"] = "Loop 31"
    twice_allowed(plan, room)
    found = violations(parse_room(room), plan)
    assert "crossing: Loop 31 (1) and Loop 31 (2) cross or touch." in found
    assert not any(given in sentence for sentence in found)


def test_much_cold_floor_needs_a_reason(sound):
    """A cable of twice the floor's wire is told to stay in half of it by the room itself."""
    plan, room = (
        copy.deepcopy(sound),
        room_data(outline=[[0, 0], [3600, 0], [3600, 3000], [0, 3000]]),
    )
    found = violations(parse_room(room), plan)
    assert any("because is empty" in sentence for sentence in found)
    plan["because"] = ["The cable is too short for this room."]
    found = violations(parse_room(room), plan)
    assert not any("because is empty" in sentence for sentence in found)


def test_a_lead_may_run_under_a_door(sound):
    control = sound["elements"][0]["lead"][0]
    swing = [
        [control[0] - 50, 0],
        [control[0] + 50, 0],
        [control[0] + 50, 60],
        [control[0] - 50, 60],
    ]
    room = room_data()
    room["keep_outs"].append({"kind": "door_swing", "outline": swing})
    found = violations(parse_room(room), sound)
    assert not any(sentence.startswith("lead") for sentence in found), found
    room["keep_outs"][-1]["kind"] = "fixture"
    found = violations(parse_room(room), sound)
    assert any(sentence.startswith("lead") for sentence in found)
