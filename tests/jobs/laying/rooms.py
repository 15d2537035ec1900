"""Seeded rooms of many kinds, as plain data in the format that `parse_room` reads.

Invented, not measured: outlines with 3 to 12 corners, slants, bays, bottlenecks, halls with an
expansion joint, 0 to 6 keep-outs, turned by any angle; catalogues of twin and single core cable
and of mats.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from typing import Any

from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

Points = list[tuple[float, float]]

CABLE_M = (6, 7.5, 9, 11, 13.5, 16.5, 20, 25, 31, 38, 47, 57, 70, 86, 105, 128, 156, 190)
MAT_M2 = (0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 10, 12)


def cables(ends: str = "one") -> list[dict[str, Any]]:
    """A catalogue of cable, 10 W to the metre, 60 to 110 mm apart."""
    return [
        {
            "id": f"{'T' if ends == 'one' else 'S'}{round(metres * 10):04d}",
            "kind": "cable",
            "wire_mm": metres * 1000,
            "spacing_mm": 80,
            "spacing_range_mm": [60, 110],
            "watts": metres * 10,
            "volts": 230,
            "min_bend_mm": 30,
            "ends": ends,
        }
        for metres in CABLE_M
    ]


def hot_cables() -> list[dict[str, Any]]:
    """Another catalogue: 17 W to the metre, 90 to 150 mm apart, each length a seventh longer."""
    lengths_m = [5 * 1.14**step for step in range(30)]
    return [
        {
            **cables()[0],
            "id": f"H{metres * 10:04.0f}",
            "wire_mm": metres * 1000,
            "watts": metres * 17,
            "spacing_mm": 115,
            "spacing_range_mm": [90, 150],
            "min_bend_mm": 35,
        }
        for metres in lengths_m
    ]


def mats(ends: str = "one", *, width_mm: float = 500, pitch_mm: float = 75) -> list[dict[str, Any]]:
    """A catalogue of mats, 150 W to the square metre; half a metre wide unless said."""
    entries = []
    for size in MAT_M2:
        passes = round(size * 1e6 / width_mm / pitch_mm)
        wire = passes * (width_mm - 50 - pitch_mm + math.pi * pitch_mm / 2)
        entries.append(
            {
                "id": f"M{round(size * 10):03d}",
                "kind": "mat",
                "wire_mm": round(wire),
                "spacing_mm": pitch_mm,
                "spacing_range_mm": [50, 100],
                "width_mm": width_mm,
                "length_mm": passes * pitch_mm,
                "watts": round(passes * pitch_mm * width_mm * 150 / 1e6),
                "volts": 230,
                "min_bend_mm": 25,
                "ends": ends,
            }
        )
    return entries


def rectangle(dice: random.Random) -> Points:
    w, h = dice.uniform(1400, 4200), dice.uniform(1400, 3800)
    return [(0, 0), (w, 0), (w, h), (0, h)]


def triangle(dice: random.Random) -> Points:
    w, h = dice.uniform(2600, 4500), dice.uniform(2400, 4000)
    return [(0, 0), (w, 0), (dice.uniform(0, w), h)]


def ell(dice: random.Random) -> Points:
    w, h = dice.uniform(2400, 4500), dice.uniform(2400, 4200)
    x, y = dice.uniform(0.35, 0.65) * w, dice.uniform(0.35, 0.65) * h
    return [(0, 0), (w, 0), (w, y), (x, y), (x, h), (0, h)]


def tee(dice: random.Random) -> Points:
    w, h = dice.uniform(3200, 4800), dice.uniform(2800, 4200)
    left, right = dice.uniform(0.25, 0.38) * w, dice.uniform(0.62, 0.75) * w
    y = dice.uniform(0.45, 0.6) * h
    return [(left, 0), (right, 0), (right, y), (w, y), (w, h), (0, h), (0, y), (left, y)]


def you(dice: random.Random) -> Points:
    w, h = dice.uniform(3600, 5000), dice.uniform(2600, 3600)
    left, right = dice.uniform(0.27, 0.36) * w, dice.uniform(0.64, 0.73) * w
    y = dice.uniform(0.4, 0.5) * h
    return [(0, 0), (w, 0), (w, h), (right, h), (right, y), (left, y), (left, h), (0, h)]


def slanted(dice: random.Random) -> Points:
    w, h = dice.uniform(2400, 4200), dice.uniform(2200, 3800)
    x, y = dice.uniform(0.35, 0.7) * w, dice.uniform(0.35, 0.7) * h
    return [(0, 0), (w, 0), (w, y), (x, h), (0, h)]


def bay(dice: random.Random) -> Points:
    w, h = dice.uniform(2800, 4200), dice.uniform(2200, 3600)
    a, b, d = dice.uniform(400, 700), dice.uniform(300, 500), dice.uniform(400, 800)
    return [
        (0, 0), (a, 0), (a + b, -d), (w - a - b, -d), (w - a, 0), (w, 0), (w, h), (0, h),
    ]  # fmt: skip


def bottleneck(dice: random.Random) -> Points:
    """Two rooms joined by an opening that leaves 50 to 300 mm of heatable floor."""
    w, v, h = dice.uniform(1500, 2400), dice.uniform(1400, 2200), dice.uniform(1800, 2800)
    wall, opening = 150, 200 + dice.choice((50, 60, 100, 140, 200, 200, 300))
    y = dice.uniform(300, h - opening - 300)
    k = dice.uniform(max(y + opening + 300, 0.8 * h), h)
    return [
        (0, 0), (w, 0), (w, y), (w + wall, y), (w + wall, 0), (w + wall + v, 0),
        (w + wall + v, k), (w + wall, k), (w + wall, y + opening), (w, y + opening),
        (w, h), (0, h),
    ]  # fmt: skip


def corridor(dice: random.Random) -> Points:
    w, h = dice.uniform(3500, 6500), dice.uniform(900, 1500)
    return [(0, 0), (w, 0), (w, h), (0, h)]


def hall(dice: random.Random) -> Points:
    w, h = dice.uniform(5500, 8500), dice.uniform(4200, 6000)
    return [(0, 0), (w, 0), (w, h), (0, h)]


def tiny(dice: random.Random) -> Points:
    w, h = dice.uniform(900, 1300), dice.uniform(1300, 1900)
    return [(0, 0), (w, 0), (w, h), (0, h)]


SHAPES: dict[str, Callable[[random.Random], Points]] = {
    "rectangle": rectangle,
    "triangle": triangle,
    "ell": ell,
    "tee": tee,
    "you": you,
    "slanted": slanted,
    "bay": bay,
    "bottleneck": bottleneck,
    "corridor": corridor,
    "hall": hall,
    "tiny": tiny,
}


def make_room(
    seed: int, *, shape: str | None = None, elements: Sequence[dict[str, Any]] | None = None
) -> dict[str, Any]:
    """Return the room with this seed; its shape and catalogue are drawn unless given."""
    dice = random.Random(seed)
    shape = shape or list(SHAPES)[seed % len(SHAPES)]
    outline = SHAPES[shape](dice)
    floor = Polygon(outline)
    most = {"tiny": 1, "corridor": 2, "triangle": 2}.get(shape, 6)
    keep_outs = _keep_outs(
        dice, floor, dice.choice((0, 1, 2, 3, most)) if most > 3 else dice.randint(0, most)
    )
    joints: list[Points] = []
    if shape == "hall" and dice.random() < 0.6:
        x0, _, x1, y1 = floor.bounds
        x = dice.uniform(0.35, 0.65) * (x1 - x0)
        joints = [[(x, 0), (x + dice.choice((0, 0, -300, 250)), y1)]]
    if elements is None:
        elements = cables("both") if dice.random() < 0.25 else cables()
    room = {
        "name": f"{shape} {seed}",
        "outline": outline,
        "keep_outs": keep_outs,
        "joints": joints,
        "margins_mm": {
            "wall": 100, "fixture": 50, "toilet": 100, "drain": 100, "vent": 100,
            "built_in": 50, "door_swing": 0, "joint": 50,
        },
        "control": _control(dice, floor, keep_outs, joints),
        "cold_lead_mm": 4000 if shape == "hall" else 3000,
        "max_w_per_m2": 160,
        "may_use": 3 if shape == "hall" else dice.choice((1, 1, 1, 2)),
        "elements": list(elements),
    }  # fmt: skip
    return turned(room, math.radians(dice.uniform(0, 360))) if dice.random() < 0.3 else room


def _keep_outs(dice: random.Random, floor: Polygon, number: int) -> list[dict[str, Any]]:
    """Shapes along walls and a few in the floor; none overlaps another or blocks the room."""
    found: list[dict[str, Any]] = []
    taken: list[BaseGeometry] = []
    x0, y0, x1, y1 = floor.bounds
    for _ in range(number * 6):
        if len(found) == number:
            break
        kind = dice.choice(("fixture", "toilet", "drain", "vent", "built_in", "door_swing"))
        shape = _shape(dice, kind, (x0, y0, x1, y1))
        if not floor.buffer(1).covers(shape) or any(shape.distance(o) < 250 for o in taken):
            continue
        if sum(o.area for o in taken) + shape.area > 0.3 * floor.area:
            continue
        taken.append(shape)
        outline = [(round(x, 1), round(y, 1)) for x, y in shape.exterior.coords[:-1]]
        found.append({"kind": kind, "outline": outline})
    return found


def _shape(dice: random.Random, kind: str, bounds: tuple[float, float, float, float]) -> Polygon:
    x0, y0, x1, y1 = bounds
    w, h = {
        "fixture": (dice.uniform(400, 1200), dice.uniform(400, 750)),
        "toilet": (260, 260),
        "drain": (100, 100),
        "vent": (300, 100),
        "built_in": (dice.uniform(600, 1500), dice.uniform(300, 600)),
        "door_swing": (800, 800),
    }[kind]
    if dice.random() < 0.5:
        w, h = h, w
    x = dice.choice((x0, x1 - w, dice.uniform(x0, x1 - w)))
    y = dice.choice((y0, y1 - h, dice.uniform(y0, y1 - h)))
    if kind in ("vent", "toilet", "drain") and dice.random() < 0.7:
        x, y = max(x, x0 + 40), max(y, y0 + 40)
    if kind == "toilet":
        return Point(x + 130, y + 130).buffer(130, quad_segs=4)
    corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    if kind == "door_swing":
        arc = [
            (x + 800 * math.cos(math.radians(a)), y + 800 * math.sin(math.radians(a)))
            for a in range(0, 91, 10)
        ]
        return Polygon([(x, y), *arc])
    return Polygon(corners)


def _control(
    dice: random.Random,
    floor: Polygon,
    keep_outs: Sequence[dict[str, Any]],
    joints: Sequence[Points],
) -> tuple[float, float]:
    """A place on a wall, clear of every keep-out and near the foot of a joint."""
    shapes = [Polygon(entry["outline"]) for entry in keep_outs]
    feet = [Point(joint[0]) for joint in joints]
    for _ in range(500):
        at = floor.exterior.interpolate(dice.random(), normalized=True)
        if all(shape.distance(at) > 150 for shape in shapes) and all(
            foot.distance(at) < 1200 for foot in feet
        ):
            break
    return (at.x, at.y)


def turned(room: dict[str, Any], angle: float, *, mirrored: bool = False) -> dict[str, Any]:
    """The same room, mirrored in the y axis if asked, then turned by an angle in radians."""
    c, s = math.cos(angle), math.sin(angle)

    def move(points: Sequence[Sequence[float]]) -> Points:
        if mirrored:
            points = [(-x, y) for x, y in reversed(points)]
        return [(c * x - s * y, s * x + c * y) for x, y in points]

    return {
        **room,
        "outline": move(room["outline"]),
        "keep_outs": [{**entry, "outline": move(entry["outline"])} for entry in room["keep_outs"]],
        "joints": [move(joint) for joint in room["joints"]],
        "control": move([room["control"]])[0],
    }
