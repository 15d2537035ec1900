"""Laying: cover, validity and seconds over seeded rooms, and over a folder of rooms if given.

`python -m tests.bench laying`, or with a folder of room files
`python -m tests.bench.bench_laying FOLDER [FIRST LAST]`.
"""

import json
import math
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np

from jobs.laying.check import violations
from jobs.laying.lay import NothingToLay, lay
from jobs.laying.measures import best_area, measure
from jobs.laying.problem import parse_room
from tests.jobs.laying.rooms import cables, hot_cables, make_room, mats, turned

CABLE_ROOMS = 66
MAT_ROOMS = 22
KIND_ROOMS = 22
TURNED_ROOMS = 12
TURN = math.radians(34)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one room came to; `of_best` is 0 without a plan."""

    name: str
    of_best: float
    turns_per_m2: float
    faults: int
    seconds: float


def outcome(data: dict[str, Any]) -> Outcome | None:
    """Lay one room; None where the catalogue has nothing that could lie in it."""
    room = parse_room(data)
    if not best_area(room.elements, room.area.area, room.may_use, room.max_w_per_m2):
        return None
    before = process_time()
    try:
        plan = lay(room)
    except NothingToLay:
        return Outcome(room.name, 0.0, 0.0, 0, process_time() - before)
    seconds = process_time() - before
    measures = measure(room, plan)
    faults = len(violations(room, plan))
    return Outcome(room.name, measures.covered_of_best, measures.turns_per_m2, faults, seconds)


def table(title: str, rooms: Iterable[dict[str, Any]]) -> list[str]:
    """Lines of a report: the spread of cover, turns and seconds, and the three worst rooms."""
    found = [each for data in rooms if (each := outcome(data)) is not None]
    cover = np.array([each.of_best for each in found])
    seconds = np.array([each.seconds for each in found])
    turns = np.array([each.turns_per_m2 for each in found])
    worst = sorted(found, key=lambda each: each.of_best)[:3]
    return [
        f"{title}: {len(found)} rooms, {int((cover > 0).sum())} with a plan, "
        f"{sum(each.faults > 0 for each in found)} with violations",
        f"  covered/best: median {np.median(cover):.3f}, 10th percentile "
        f"{np.percentile(cover, 10):.3f}, worst {cover.min():.3f}",
        f"  process time: median {np.median(seconds):.2f} s, 95th percentile "
        f"{np.percentile(seconds, 95):.2f} s; half-turns per m²: median {np.median(turns):.1f}",
        "  worst: " + ", ".join(f"{each.name} {each.of_best:.3f}" for each in worst),
        *by_kind(found),
    ]


def by_kind(found: Sequence[Outcome]) -> list[str]:
    """Lines of cover for each kind of room that is named in `found`."""
    kinds: dict[str, list[float]] = {}
    for each in found:
        kinds.setdefault(each.name.split()[0], []).append(each.of_best)
    return [
        f"  {kind}: {len(cover)} rooms, median {np.median(cover):.3f}, worst {min(cover):.3f}"
        for kind, cover in sorted(kinds.items())
        if len(kinds) < len(found)
    ]


def steadiness(title: str, rooms: Iterable[dict[str, Any]]) -> str:
    """By how much covered/best changes when a room is turned by 34 degrees or mirrored."""
    changes = []
    for data in rooms:
        base = outcome(data)
        if base is None:
            continue
        for other in (turned(data, TURN), turned(data, 0.0, mirrored=True)):
            seen = outcome(other)
            changes.append(abs(seen.of_best - base.of_best) if seen else 1.0)
    return (
        f"{title} turned by 34° or mirrored: covered/best changes by {np.median(changes):.4f} in "
        f"the median, {max(changes):.4f} at most, by over 0.01 in "
        f"{sum(change > 0.01 for change in changes)} of {len(changes)}"
    )


def main() -> list[str]:
    """Lines of the report; the first room is laid once before, so that kernels are compiled."""
    outcome(make_room(0))
    return [
        *table("cables", (make_room(seed) for seed in range(CABLE_ROOMS))),
        *table(
            "single core", (make_room(seed, elements=cables("both")) for seed in range(KIND_ROOMS))
        ),
        *table(
            "hot cables", (make_room(seed, elements=hot_cables()) for seed in range(KIND_ROOMS))
        ),
        *table("mats", (make_room(seed, elements=mats()) for seed in range(MAT_ROOMS))),
        *table(
            "single core mats, 600 mm wide",
            (
                make_room(seed, elements=mats("both", width_mm=600, pitch_mm=80))
                for seed in range(KIND_ROOMS)
            ),
        ),
        steadiness("cables", (make_room(100 + number) for number in range(TURNED_ROOMS))),
        steadiness(
            "mats", (make_room(100 + number, elements=mats()) for number in range(TURNED_ROOMS))
        ),
    ]


if __name__ == "__main__":
    outcome(make_room(0))
    files = sorted(Path(sys.argv[1]).glob("*.json"))
    given = [json.loads(path.read_text(encoding="utf-8")) for path in files]
    print("\n".join(table(sys.argv[1], given)))
