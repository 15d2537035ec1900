"""The tasks that follow from a job's rooms and materials, with the waits between them.

How long a task takes is common practice for one crew of two (no source); the waits come from the
cure of the materials, never shorter than what a sheet prints.
"""

import math
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from config.sentence import Sentence
from scheduling.cure import Law, capped_rate
from scheduling.planner.problem import Fixed, Job, Link, Task

STEPS = ("survey", "prepare", "lay", "embed", "tile", "grout", "connect", "energize")
AFTER_COVERING = STEPS[STEPS.index("embed") + 1 :]  # their times rest on what the floor is made of
ANY_CREW = "any"
SKILLS: Mapping[str, str] = {
    "survey": ANY_CREW,
    "prepare": "lay",
    "lay": "lay",
    "embed": "mortar",
    "tile": "tile",
    "grout": "tile",
    "connect": "electric",
    "energize": "electric",
}
CAN: Mapping[str, Sentence] = {
    ANY_CREW: Sentence("look at the rooms"),
    "lay": Sentence("prepare and lay"),
    "mortar": Sentence("work with mortar"),
    "tile": Sentence("tile and grout"),
    "electric": Sentence("connect and switch on"),
}
# Square metres that a crew does in a half-day; rooms for the electrician's steps.
M2_PER_HALF_DAY: Mapping[str, float] = {
    "prepare": 20.0,
    "lay": 8.0,
    "embed": 25.0,
    "tile": 6.0,
    "grout": 20.0,
}
ROOMS_PER_HALF_DAY: Mapping[str, float] = {"survey": 6.0, "connect": 3.0, "energize": 4.0}
GROUT_AFTER_TILE_HOURS = 24.0
PLANNED_AT_C = 15.0  # a heated building site, where nothing was measured yet; no source
LONGEST_WAIT_HOURS = 24.0 * 120

HOW = (
    "What bookings that are over, or the records of all rooms of a job, show as made is not "
    "planned again.",
    "How long a task takes is common practice for a crew of two, no source.",
    Sentence(
        "Behind a wet floor the next task waits as long as the sheet prints, and longer where "
        "{celsius} °C, assumed of a heated site, make it slower.",
        celsius=f"{PLANNED_AT_C:g}",
    ),
    "A job is late by the half-days from its due date to the end of its last task.",
    "What would change is the least that makes the plan less late.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """What a material's sheet prints, and how its cure depends on temperature.

    `assumed` says that no sheet stands behind these figures; `material` and `room` are names, as
    far as they are known.
    """

    law: Law
    lowest_c: float
    walk_after_hours: float
    heat_after_hours: float
    assumed: bool = False
    material: str = ""
    room: str = ""

    def elapsed(self, hours: float, *, celsius: float = PLANNED_AT_C) -> float:
        """Hours at `celsius` that are worth `hours` of the sheet; never fewer."""
        rate = capped_rate(self.law, lowest_c=self.lowest_c, celsius=celsius)
        return min(hours / rate, LONGEST_WAIT_HOURS) if rate > 0 else LONGEST_WAIT_HOURS


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A job as far as planning goes; slots count from the start of the plan.

    `done` are the steps behind it. `embedded_slots_ago` is how long ago its floor was covered,
    None if it was not. `pinned` are steps that the office holds in their place.
    """

    job: str
    release_slot: int
    due_slot: int
    weight: int
    area_m2: float
    rooms: int
    cures: tuple[Cure, ...]
    done: frozenset[str] = frozenset()
    embedded_slots_ago: int | None = None
    pinned: Mapping[str, Fixed] | None = None
    booked_half_days: Mapping[str, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomMade:
    """What the records of a room show: the check of the laid element passed, the layer with the
    cable placed, heat on for good, and the kinds of the other layers that are placed."""

    laid: bool
    covered: bool
    heated: bool
    placed: frozenset[str]


def steps_made(rooms: Collection[RoomMade]) -> frozenset[str]:
    """The steps that every room has behind it, as its records show.

    Adhesive goes down with the tiles (common practice, no source). A control proves no connection:
    it may be recorded long before.
    """
    return frozenset(step for step, shown in SHOWN_BY.items() if rooms and all(map(shown, rooms)))


SHOWN_BY: Mapping[str, Callable[[RoomMade], bool]] = {
    "lay": lambda room: room.laid or room.covered,
    "embed": lambda room: room.covered,
    "tile": lambda room: room.covered and "adhesive" in room.placed,
    "grout": lambda room: room.covered and "grout" in room.placed,
    "energize": lambda room: room.heated,
}


def task_id(job: str, step: str) -> str:
    return f"{job} {step}"


def job_of(work: Work) -> Job:
    return Job(id=work.job, due_slot=work.due_slot, weight=work.weight)


def tasks_of(work: Work, *, testers: str | None) -> tuple[Task, ...]:
    """The steps that are still to do; `testers` is the pool of insulation testers, if any."""
    pinned, booked = work.pinned or {}, work.booked_half_days or {}
    return tuple(
        Task(
            id=task_id(work.job, step),
            job=work.job,
            skill=SKILLS[step],
            half_days=booked[step] if step in pinned else half_days(step, work.area_m2, work.rooms),
            uses=((testers, 1),) if step == "energize" and testers else (),
            not_before=max(0, work.release_slot, _ready_slot(work, step)),
            fixed=pinned.get(step),
        )
        for step in _left(work)
    )


def links_of(work: Work) -> Iterator[Link]:
    """Each step behind the one before it; walking and heat wait for the mortar."""
    left = _left(work)
    walk, heat = waits_of(work)
    waits = {("embed", "tile"): walk, ("tile", "grout"): GROUT_AFTER_TILE_HOURS}
    for before, after in pairwise(left):
        yield Link(
            before=task_id(work.job, before),
            after=task_id(work.job, after),
            lag_hours=waits.get((before, after), 0),
        )
    if "embed" in left and "energize" in left:
        yield Link(
            before=task_id(work.job, "embed"),
            after=task_id(work.job, "energize"),
            lag_hours=heat,
        )


def waits_of(work: Work) -> tuple[float, float]:
    """Hours from embedding to walking and to heat: the slowest material decides."""
    walk, heat = slowest_of(work)
    return (
        walk.elapsed(walk.walk_after_hours) if walk else 0.0,
        heat.elapsed(heat.heat_after_hours) if heat else 0.0,
    )


def slowest_of(work: Work) -> tuple[Cure | None, Cure | None]:
    """What is walked on last, and what is heated last."""
    return (
        max(work.cures, key=lambda cure: cure.elapsed(cure.walk_after_hours), default=None),
        max(work.cures, key=lambda cure: cure.elapsed(cure.heat_after_hours), default=None),
    )


def half_days(step: str, area_m2: float, rooms: int) -> int:
    """How many half-days of one crew a step takes, at least one."""
    if step in M2_PER_HALF_DAY:
        return max(1, math.ceil(area_m2 / M2_PER_HALF_DAY[step]))
    return max(1, math.ceil(rooms / ROOMS_PER_HALF_DAY[step]))


def _left(work: Work) -> list[str]:
    """Steps behind the last one that is done: nobody goes back."""
    last = max((STEPS.index(step) for step in work.done), default=-1)
    return list(STEPS[last + 1 :])


def _ready_slot(work: Work, step: str) -> int:
    """For a floor that was covered before the plan begins: when it is ready."""
    if work.embedded_slots_ago is None or step not in ("tile", "energize"):
        return 0
    wait = waits_of(work)[0 if step == "tile" else 1]
    return math.ceil(wait / 12) - work.embedded_slots_ago
