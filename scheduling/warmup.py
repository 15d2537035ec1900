"""The first heating after the energize date: in steps, never above what the floor takes.

EN 1264 is written for water-heated floors. Its figures are used here as a check, and said to be so
wherever they are shown; the maker's print rules.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final, Literal
from zoneinfo import ZoneInfo

from config.errors import DomainError
from config.sentence import Sentence
from jobs.heatloss import (
    BATHROOM_EXCESS_K,
    COVERING_LIMIT_C,
    EDGE_C,
    OCCUPIED_C,
    OUTPUT_EXPONENT,
    OUTPUT_FACTOR,
)
from jobs.units import System
from scheduling.chart_words import Language, degrees
from scheduling.halfday import plus_days, plus_hours

Counting = Literal["calendar", "elapsed"]

WIDEST_EXCESS_K = 60.0
ROOM_C = (-10.0, 40.0)

# First heating after laying, in days, or what the maker says. EN 1264-4, from memory.
FIRST_HEATING_DAYS = {"cement-screed": 21, "calcium-sulfate-screed": 7}
OVERSHOOT_K = 3.0  # a floor this far above its step is heated without control
CALENDAR: Final = {
    "en": {
        "about": "As it was planned when this was fetched. Fetch it again when the date moves.",
        "title": "{room}: floor at {celsius}",
        "likely": "{room}: floor at {celsius}, likely",
        "text": "Warm-up, step {number} of {steps}. The floor at most {limit} ({because}). Too "
        "warm, or a check that fails: switch off. Local code, the makers’ instructions and the "
        "licensed electrician rule.",
    },
    "es": {
        "about": "Como estaba previsto al bajarlo. Bájelo otra vez cuando cambie la fecha.",
        "title": "{room}: piso a {celsius}",
        "likely": "{room}: piso a {celsius}, probable",
        "text": "Primer calentamiento, paso {number} de {steps}. El piso, a lo sumo {limit} "
        "({because}). Demasiado caliente, o una prueba que falla: apague. Mandan la norma local, "
        "las instrucciones de los fabricantes y el electricista autorizado.",
    },
}


class ImplausibleWarmUp(DomainError):
    """A warm-up that was asked for with figures that mean nothing."""

    slug = "implausible-warm-up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """How a floor is warmed up: start, rise, hold.

    The floor is kept at `first_c` for `first_days`, rises by `step_k` a day (at once to the
    maximum if None), and stays at the maximum for `hold_days`. `printed_c` are the highest
    temperatures that materials of this floor print, as `(material, °C)`.
    """

    first_c: float
    first_days: int
    step_k: float | None
    hold_days: int
    source: str
    printed_c: tuple[tuple[str, float], ...] = ()


GENTLE = Profile(
    first_c=18, first_days=1, step_k=3, hold_days=2, source="common practice, no source"
)
SCREED = Profile(
    first_c=25,
    first_days=3,
    step_k=None,
    hold_days=4,
    source="EN 1264-4, written for water-heated screeds; from memory",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a warm-up: keep the floor at `floor_c` from `starts_at` to `ends_at`."""

    number: int
    starts_at: datetime
    ends_at: datetime
    floor_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarEntry:
    """A step of a warm-up as a calendar shows it; `key` stays the same when the dates move."""

    key: str
    starts_at: datetime
    ends_at: datetime
    title: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The highest floor surface in °C, and which of all limits it is."""

    celsius: float
    because: str


def heat_output_w_m2(floor_minus_room_k: float) -> float:
    """Heat given off in W/m² by a floor so many kelvin warmer than its room.

    Source: EN 1264-2 basic characteristic (ISO 11855-2:2021 equation 1).
    """
    if not 0 <= floor_minus_room_k <= WIDEST_EXCESS_K:
        raise ImplausibleWarmUp(
            f"A floor {floor_minus_room_k:g} K above its room is outside 0 to "
            f"{WIDEST_EXCESS_K:g} K.",
            pointer="#/floor_minus_room_k",
        )
    return float(OUTPUT_FACTOR * floor_minus_room_k**OUTPUT_EXPONENT)


def floor_minus_room_k(heat_output_w_m2: float) -> float:
    """How many kelvin warmer than its room a floor must be to give off so many W/m²."""
    most = OUTPUT_FACTOR * WIDEST_EXCESS_K**OUTPUT_EXPONENT
    if not 0 <= heat_output_w_m2 <= most:
        raise ImplausibleWarmUp(
            f"{heat_output_w_m2:g} W/m² is outside 0 to {most:.0f} W/m².",
            pointer="#/heat_output_w_m2",
        )
    return float((heat_output_w_m2 / OUTPUT_FACTOR) ** (1 / OUTPUT_EXPONENT))


def floor_limit_c(zone: str, room_c: float) -> float:
    """Highest floor surface in °C in a zone: `occupied`, `edge` or `bathroom`.

    Source: EN 1264 (29 °C, 35 °C, room + 9 K), written for water-heated floors.
    """
    low_c, high_c = ROOM_C
    if not low_c <= room_c <= high_c:
        raise ImplausibleWarmUp(
            f"A room of {room_c:g} °C is outside {low_c:g} to {high_c:g} °C.", pointer="#/room_c"
        )
    limits_c = {"occupied": OCCUPIED_C, "edge": EDGE_C, "bathroom": room_c + BATHROOM_EXCESS_K}
    if zone not in limits_c:
        raise ImplausibleWarmUp(
            f"{zone!r} is no zone; name one of {', '.join(limits_c)}.", pointer="#/zone"
        )
    return limits_c[zone]


def highest_floor(
    *, zone: str, room_c: float, covering: str, printed_c: Iterable[tuple[str, float]] = ()
) -> Limit:
    """The lowest of all limits of a floor: its zone's, its covering's, and what materials print.

    `printed_c` are `(material, °C)`. An unknown covering counts as the most delicate.
    """
    zone_limit = Limit(
        celsius=floor_limit_c(zone, room_c),
        because=f"{zone} zone, EN 1264 (written for water-heated floors)",
    )
    covering_c = COVERING_LIMIT_C.get(covering, min(COVERING_LIMIT_C.values()))
    limits = [
        zone_limit,
        Limit(celsius=covering_c, because=f"covering {covering or 'unknown'}, common practice"),
        *(Limit(celsius=celsius, because=f"printed for {name}") for name, celsius in printed_c),
    ]
    return min(limits, key=lambda limit: limit.celsius)


def first_heating_days(kind: str) -> int:
    """Days from laying a screed to its first heating where the maker says nothing else."""
    if kind not in FIRST_HEATING_DAYS:
        raise ImplausibleWarmUp(
            f"There is no first-heating time for {kind!r}; the maker prints one.", pointer="#/kind"
        )
    return FIRST_HEATING_DAYS[kind]


def warm_up(
    *,
    starts_at: datetime,
    zone: ZoneInfo,
    profile: Profile,
    highest_c: float,
    counting: Counting = "elapsed",
) -> tuple[Step, ...]:
    """The steps of a first heating, one after the other, none above `highest_c`.

    `counting` says whether a day is 24 elapsed hours or one of the local calendar, which differ
    when the clocks change.
    """
    if starts_at.tzinfo is None:
        raise ImplausibleWarmUp("A start needs its zone.", pointer="#/starts_at")
    steps: list[Step] = []
    days = 0
    for celsius, length in _stages(profile, highest_c):
        steps.append(
            Step(
                number=len(steps) + 1,
                starts_at=_after(starts_at, days, zone, counting),
                ends_at=_after(starts_at, days + length, zone, counting),
                floor_c=celsius,
            )
        )
        days += length
    return tuple(steps)


def calendar_entries(
    steps: Sequence[Step],
    *,
    room: str,
    limit: Limit,
    likely: bool,
    rests_on: str = "",
    language: Language = "en",
    system: System = "metric",
) -> tuple[CalendarEntry, ...]:
    """The steps as entries of a calendar, said to be likely while heat is not on.

    `room` is how people call it; the text names the limit, its reason and the caution, and what
    the days rest on (`rests_on`, in the same language).
    """
    words = CALENDAR[language]
    title = words["likely"] if likely else words["title"]
    return tuple(
        CalendarEntry(
            key=f"warm-up-{step.number}",
            starts_at=step.starts_at,
            ends_at=step.ends_at,
            title=title.format(room=room, celsius=degrees(step.floor_c, system)),
            text=words["text"].format(
                number=step.number,
                steps=len(steps),
                limit=degrees(limit.celsius, system),
                because=limit.because,
            )
            + (f" {rests_on}" if rests_on else ""),
        )
        for step in steps
    )


def going_on(
    steps: Sequence[Step], resumed: Sequence[tuple[int, datetime]], zone: ZoneInfo
) -> tuple[Step, ...]:
    """The steps after stops: from the step of each on they begin when it was gone on with.

    `resumed` are `(step number, at)` in order of time; a step keeps its length in elapsed hours.
    """
    found = list(steps)
    for number, at in resumed:
        begins_at = at.astimezone(zone)
        for index, step in enumerate(found):
            if step.number >= number:
                length = step.ends_at.astimezone(UTC) - step.starts_at.astimezone(UTC)
                ends_at = (begins_at.astimezone(UTC) + length).astimezone(zone)
                found[index] = replace(step, starts_at=begins_at, ends_at=ends_at)
                begins_at = ends_at
    return tuple(found)


def step_at(steps: Sequence[Step], at: datetime) -> Step:
    """The step that a floor is in: the last that has begun, before them all the first."""
    begun = [step for step in steps if step.starts_at <= at]
    return begun[-1] if begun else steps[0]


def stop_because(
    step: Step, *, floor_c: float, highest_c: float, evidence_failed: bool = False
) -> Sentence | None:
    """Why a reading during warm-up ends it at once; None if it may go on."""
    if evidence_failed:
        return Sentence("A check failed during warm-up. Switch off, prove dead, find the cause.")
    if floor_c > highest_c:
        return Sentence(
            "The floor is at {floor} °C, above its limit of {limit} °C. Switch off and look at the "
            "control and the sensor.",
            floor=f"{floor_c:g}",
            limit=f"{highest_c:g}",
        )
    if floor_c > step.floor_c + OVERSHOOT_K:
        return Sentence(
            "The floor is at {floor} °C where step {step} wants {wanted} °C. Switch off and look "
            "at the control.",
            floor=f"{floor_c:g}",
            step=step.number,
            wanted=f"{step.floor_c:g}",
        )
    return None


def _stages(profile: Profile, highest_c: float) -> list[tuple[float, int]]:
    if not math.isfinite(highest_c) or (profile.step_k is not None and profile.step_k <= 0):
        raise ImplausibleWarmUp("A warm-up rises to a limit.", pointer="#/highest_c")
    stages = [(min(profile.first_c, highest_c), profile.first_days)]
    celsius = profile.first_c
    while profile.step_k is not None and celsius + profile.step_k < highest_c:
        celsius += profile.step_k
        stages.append((celsius, 1))
    return [*stages, (highest_c, profile.hold_days)]


def _after(at: datetime, days: int, zone: ZoneInfo, counting: Counting) -> datetime:
    if counting == "calendar":
        return plus_days(at, days, zone)
    return plus_hours(at, 24 * days, zone)
