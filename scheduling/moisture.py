"""Residual moisture: a screed that has cured may still be too wet. Drying is not curing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from config.errors import DomainError

CM_LIMIT_PERCENT = {
    # Source: trade pages on residual moisture; calcium sulfate heated from memory (some print 0.5).
    ("cement-screed", False): 2.0,
    ("cement-screed", True): 1.8,
    ("calcium-sulfate-screed", False): 0.5,
    ("calcium-sulfate-screed", True): 0.3,
}
SQUARE_METRES_PER_1000_FT2 = 92.90304
ONE_SIDED_DEPTH = 0.4  # of the thickness, for a slab that dries from the top only


class ImplausibleMoisture(DomainError):
    """A moisture figure that no floor has, or a question without an answer."""

    slug = "implausible-moisture"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoistureLimit:
    """The most moisture at which a layer may be covered or heated.

    `method` is how it is measured (CM, RH), `unit` what the figure is in (CM-%, %).
    """

    method: str
    limit: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drying:
    """How long a layer dries at a temperature in °C and a relative humidity in percent."""

    hours: float
    reference_c: float
    reference_rh_percent: float


def is_dry(value: float, limit: MoistureLimit) -> bool:
    """Whether a reading clears the limit; exactly on the limit does."""
    return value <= limit.limit


def cm_limit_percent(kind: str, *, heated: bool) -> float:
    """Most residual moisture in CM-% by the carbide method, for `cement-screed` and
    `calcium-sulfate-screed`.

    Written for water-heated screeds; the maker's print rules. Raises ImplausibleMoisture for
    another kind.
    """
    if (kind, heated) not in CM_LIMIT_PERCENT:
        raise ImplausibleMoisture(f"There is no carbide limit for {kind!r}.", pointer="#/kind")
    return CM_LIMIT_PERCENT[kind, heated]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleTest:
    """How to test the humidity in a slab: how many holes, how deep, how long they rest."""

    holes: int
    depth_mm: float
    rest_hours: int


def humidity_hole_test(*, area_m2: float, thickness_mm: float) -> HoleTest:
    """Holes for an in-slab humidity test of a slab that dries from the top only.

    Three for the first 1 000 ft², one more for each further 1 000 ft² or part of it.
    Source: ASTM F2170 (2018 and later: 24 h of rest; 72 h before).
    """
    if not (math.isfinite(area_m2) and area_m2 > 0 and thickness_mm > 0):
        raise ImplausibleMoisture("An area and a thickness are above zero.", pointer="#/area_m2")
    more = max(math.ceil(round(area_m2 / SQUARE_METRES_PER_1000_FT2, 9)) - 1, 0)
    return HoleTest(holes=3 + more, depth_mm=ONE_SIDED_DEPTH * thickness_mm, rest_hours=24)
