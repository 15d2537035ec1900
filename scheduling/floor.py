"""What is known of a room's floor: its layers, temperatures, promises and evidence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from config.errors import DomainError
from readings.air import require_humidity, require_plausible
from scheduling.cure import Law
from scheduling.drying import NO_HUMIDITY, DampCourse, HumidityRecord, damp_course
from scheduling.forecast import RECENT_HOURS, Promise
from scheduling.moisture import Drying, MoistureLimit
from scheduling.temperatures import (
    US_PER_HOUR,
    Course,
    TemperatureRecord,
    course,
    microseconds,
    require_zone,
)

LONGEST_HOURS = 100_000.0  # eleven years
YEARS = (1970, 2200)
DAMP_PERCENT = 90.0  # of the air of a site that nobody measured; common practice, no source


class ImplausibleFacts(DomainError):
    """Facts that contradict each other or mean nothing."""

    slug = "implausible-facts"


@dataclass(frozen=True, slots=True, kw_only=True)
class CuringMaterial:
    """What a data sheet prints about a material that cures, as far as heat depends on it.

    `drying` is what it takes to dry beside curing, where it has to. `assumed` marks figures that no
    data sheet stands behind.
    """

    name: str
    law: Law
    lowest_c: float
    heat_after_hours: float
    frost_watch_hours: float
    walk_after_hours: float | None = None
    moisture: MoistureLimit | None = None
    drying: Drying | None = None
    assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One course of the floor, placed at an instant."""

    id: str
    placed_at: datetime
    material: CuringMaterial


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Something that was shown, seen or measured, or that stands open.

    `outcome` is `pass`, `undecided` or `fail`. Which further fields matter depends on `kind`:
    `stage` with `check`; `layer`, `value` and, if told, `method` and `unit` with `moisture`;
    `layer` with `frost-cleared` (somebody looked at mortar that met frost); `subject` with what
    stands open.
    """

    kind: str
    at: datetime
    outcome: str = "pass"
    stage: str = ""
    layer: str = ""
    value: float | None = None
    method: str = ""
    unit: str = ""
    subject: str = ""

    @property
    def item(self) -> str:
        """The item of `required` that this is about, such as `check:laid` or `sensor`."""
        return f"{self.kind}:{self.stage}" if self.stage else self.kind


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """All that a decision rests on.

    Instants carry a zone; `zone` is the room's. `assume_c` is the coldest plausible temperature
    of the room in °C, `assume_rh_percent` the dampest plausible humidity of its air,
    `max_gap_hours` the longest time between readings that is bridged.
    """

    now: datetime
    zone: ZoneInfo
    assume_c: float
    max_gap_hours: float
    layers: Sequence[Layer]
    temperatures: TemperatureRecord
    promises: Sequence[Promise]
    evidence: Sequence[Evidence]
    required: Sequence[str]
    humidities: HumidityRecord = NO_HUMIDITY
    assume_rh_percent: float = DAMP_PERCENT


def room_course(facts: Facts) -> Course:
    """The cautious temperature course that a decision uses: since the first layer, or a week."""
    return course(
        facts.temperatures,
        start=_course_starts_at(facts),
        now=facts.now,
        assume_c=facts.assume_c,
        max_gap_hours=facts.max_gap_hours,
    )


def room_damp(facts: Facts) -> DampCourse:
    """The humidity course that a decision uses, over the same time as `room_course`."""
    return damp_course(
        facts.humidities,
        start=_course_starts_at(facts),
        now=facts.now,
        assume_percent=facts.assume_rh_percent,
        max_gap_hours=facts.max_gap_hours,
    )


def _course_starts_at(facts: Facts) -> datetime:
    week_ago = facts.now - timedelta(hours=RECENT_HOURS)
    return min([week_ago, *(layer.placed_at for layer in facts.layers)])


def coldest_plausible_c(facts: Facts) -> float:
    """Coldest of the assumed temperature, the last seven days' readings and every promise."""
    now_us = microseconds(facts.now)
    recent = facts.temperatures.between(now_us - RECENT_HOURS * US_PER_HOUR, now_us)
    promised = [promise.celsius for promise in facts.promises]
    return float(min([facts.assume_c, *recent.tolist(), *promised]))


def dampest_plausible_percent(facts: Facts) -> float:
    """Dampest of the assumed humidity and the readings of the last seven days."""
    week_ago_us = microseconds(facts.now) - RECENT_HOURS * US_PER_HOUR
    return float(max([facts.assume_rh_percent, *facts.humidities.since(week_ago_us).tolist()]))


def require_sense(facts: Facts) -> None:
    """Raise on the first fact that cannot be meant, pointing at its field in the file."""
    require_zone(facts.now, pointer="#/now")
    if not YEARS[0] <= facts.now.year <= YEARS[1]:
        _refuse(f"The year {facts.now.year} is not meant.", "#/now")
    require_plausible(facts.assume_c, pointer="#/assume_c")
    _require_hours(facts.max_gap_hours, "#/max_gap_hours")
    require_humidity(facts.assume_rh_percent, pointer="#/assume_rh_percent")
    for number, layer in enumerate(facts.layers):
        _require_layer(layer, facts, f"#/layers/{number}")
    _require_unique([layer.id for layer in facts.layers])
    if len(facts.temperatures.at_us) and facts.temperatures.at_us[-1] > microseconds(facts.now):
        _refuse("A reading lies after now.", "#/temperatures")
    if len(facts.humidities.at_us) and facts.humidities.at_us[-1] > microseconds(facts.now):
        _refuse("A reading lies after now.", "#/humidities")
    for number, promise in enumerate(facts.promises):
        at = f"#/promises/{number}"
        require_zone(promise.starts_at, pointer=f"{at}/from")
        require_zone(promise.ends_at, pointer=f"{at}/to")
        require_plausible(promise.celsius, pointer=f"{at}/celsius")
        if promise.starts_at >= promise.ends_at:
            _refuse("A promise ends after it starts.", f"{at}/to")
    for number, each in enumerate(facts.evidence):
        _require_evidence(each, facts, f"#/evidence/{number}")


def _require_layer(layer: Layer, facts: Facts, at: str) -> None:
    material = layer.material
    require_zone(layer.placed_at, pointer=f"{at}/placed_at")
    if layer.placed_at > facts.now:
        _refuse(f"Layer {layer.id} is placed after now.", f"{at}/placed_at")
    if layer.placed_at.year < YEARS[0]:
        _refuse(f"The year {layer.placed_at.year} is not meant.", f"{at}/placed_at")
    require_plausible(material.lowest_c, pointer=f"{at}/material/lowest_c")
    _require_hours(material.heat_after_hours, f"{at}/material/heat_after_hours")
    _require_hours(material.frost_watch_hours, f"{at}/material/frost_watch_hours")
    if material.walk_after_hours is not None:
        _require_hours(material.walk_after_hours, f"{at}/material/walk_after_hours")
    limit = material.moisture
    if limit and not (math.isfinite(limit.limit) and limit.limit > 0):
        _refuse("A moisture limit is above zero.", f"{at}/material/moisture/limit")
    if drying := material.drying:
        _require_hours(drying.hours, f"{at}/material/drying/hours")
        require_plausible(drying.reference_c, pointer=f"{at}/material/drying/reference_c")
        if not 0 <= drying.reference_rh_percent < 100:
            _refuse(
                "Nothing dries in air that is saturated.",
                f"{at}/material/drying/reference_rh_percent",
            )


def _require_evidence(each: Evidence, facts: Facts, at: str) -> None:
    require_zone(each.at, pointer=f"{at}/at")
    if each.at > facts.now:
        _refuse("What is yet to come is no evidence.", f"{at}/at")
    if each.layer and each.layer not in {layer.id for layer in facts.layers}:
        _refuse(f"There is no layer {each.layer!r}.", f"{at}/layer")
    if each.value is not None and not (math.isfinite(each.value) and 0 <= each.value <= 100):
        _refuse(f"{each.value:g} is no moisture from 0 to 100.", f"{at}/value")


def _require_hours(hours: float, pointer: str) -> None:
    if not 0 <= hours <= LONGEST_HOURS:
        _refuse(f"{hours:g} hours is not from 0 to {LONGEST_HOURS:g}.", pointer)


def _require_unique(ids: list[str]) -> None:
    for number, each in enumerate(ids):
        if each in ids[:number]:
            _refuse(f"Two layers are called {each!r}.", f"#/layers/{number}/id")


def _refuse(detail: str, pointer: str) -> None:
    raise ImplausibleFacts(detail, pointer=pointer)
