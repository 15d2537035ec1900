"""The floor sensor: which curve it has, what it says, and whether it can be believed.

The catalogue holds generic curves, no maker's. What is printed for the sensor at hand rules; these
are for naming a suspicion when the ohms do not fit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from config.errors import DomainError
from readings import verdict, wording
from readings.element import STOP
from readings.instruments import Range
from readings.number import not_negative, positive
from readings.thermistor import Beta, Curve, OutsideCurve, SteinhartHart, Table
from readings.uncertainty import Budget, Component, rectangular
from readings.verdict import Verdict

# Common practice, no source. A floor sensor is never colder or hotter than this while somebody
# stands beside it, so ohms beyond are a break or a short.
COLDEST_C, HOTTEST_C = -40.0, 100.0
AGREE_K = 5.0  # a sound sensor and a thermometer beside it differ by less
SENSOR_HALF_WIDTH_K = 0.5
THERMOMETER_HALF_WIDTH_K = 1.0


class UnknownCurve(DomainError):
    """A key that is not in the catalogue."""

    slug = "not-acceptable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A generic curve: its key, its name, where its figures come from."""

    key: str
    name: str
    curve: Curve
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFinding:
    """A verdict on a sensor and the temperature it implies with its u.

    `fits` are the catalogue's curves that would explain a reading that did not pass.
    """

    verdict: Verdict
    celsius: float | None = None
    u_k: float | None = None
    fits: tuple[str, ...] = ()


# Thermometrics "Sensor Temperature Resistance Curves", Rev. C, material type 1; coefficients as
# in the Campbell Scientific 109SS manual, whose table confirms them.
TYPE_II_10K = SteinhartHart(0.001129241, 0.0002341077, 8.775468e-8)
TYPE_II_SOURCE = "published ratio table of material type 1, scaled"
NOMINAL = "nominal figures, common practice, no source"


@cache
def catalogue() -> tuple[Entry, ...]:
    """The generic curves, by ohms at 25 °C."""
    return (
        _type_ii(2_252),
        _type_ii(3_000),
        _type_ii(5_000),
        _beta(6_800, 3977),
        Entry(
            key="10k-3380",
            name="10 kΩ, beta 3380 K",
            curve=SteinhartHart.through([(0, 27_445), (25, 10_000), (50, 4_160)]),
            source="three points of an earlier look-up, from memory",
        ),
        _beta(10_000, 3435),
        _type_ii(10_000),
        _beta(12_000, 3740),
        _beta(15_000, 3740),
        _type_ii(30_000),
        _beta(33_000, 3740),
        _beta(47_000, 3950),
        _beta(100_000, 3950),
    )


def entry(key: str) -> Entry:
    """The curve of that key; raises UnknownCurve with the keys that there are."""
    for one in catalogue():
        if one.key == key:
            return one
    keys = ", ".join(one.key for one in catalogue())
    raise UnknownCurve(f"There is no curve {key}. There are {keys}.", pointer="#/curve")


def fitting(ohms: float, at_c: float, within_k: float = AGREE_K) -> list[Entry]:
    """The catalogue's curves that make `ohms` a temperature within `within_k` of `at_c`."""
    found = []
    for one in catalogue():
        try:
            miss = abs(one.curve.celsius_at(ohms) - at_c)
        except OutsideCurve:
            continue
        if miss <= within_k:
            found.append((miss, one.key, one))
    return [one for _, _, one in sorted(found, key=lambda row: row[:2])]


def judge_sensor(
    curve: Curve,
    *,
    ohms: float | None,
    meter: Range,
    at_c: float | None,
    leads_ohms: float = 0.0,
    confidence: float = verdict.CONFIDENCE,
) -> SensorFinding:
    """Judge a sensor against a thermometer beside it; `ohms` is None where it was over range.

    `at_c` is what a thermometer at the same place says, None if nobody looked: then an open or
    shorted sensor is found, but not a wrong one.
    """
    coldest, hottest = _ohms_beyond(curve, COLDEST_C), _ohms_beyond(curve, HOTTEST_C)
    if ohms is None:
        return SensorFinding(verdict=_judge_over_range(curve, meter, at_c))
    read = wording.ohms(not_negative(ohms, "ohms"), meter.resolution_ohms)
    half = meter.half_width_ohms(ohms)
    if ohms - half > coldest or ohms + half < hottest:
        return _broken(ohms, read, at_c, hottest=hottest, coldest=coldest)
    try:
        celsius = curve.celsius_at(positive(ohms, "ohms"))
        budget = _uncertainty(curve, celsius, ohms, meter, leads_ohms)
    except OutsideCurve as outside:
        return SensorFinding(
            verdict=Verdict(
                outcome="undecided",
                because=f"Sensor: {outside.detail}",
                next_step="Measure when the floor is less cold or hot, or use a longer table.",
                value=ohms,
            )
        )
    told = f"Sensor: {read} is {wording.celsius(celsius)}"
    if at_c is None:
        found = Verdict(
            outcome="undecided",
            because=f"{told}. Without a temperature beside it nobody can tell whether that is so.",
            next_step="Hold a thermometer to the place of the sensor and send its temperature too.",
            value=ohms,
        )
        return SensorFinding(verdict=found, celsius=celsius, u_k=budget.combined)
    found = _judge_difference(told, celsius - at_c, budget, ohms, at_c, confidence)
    fits = () if found.outcome == "pass" else _fits(ohms, at_c)
    if found.outcome == "fail":
        found = replace(found, because=found.because + _others(fits))
    return SensorFinding(verdict=found, celsius=celsius, u_k=budget.combined, fits=fits)


def _broken(
    ohms: float, read: str, at_c: float | None, *, hottest: float, coldest: float
) -> SensorFinding:
    """Ohms that no floor can cause: a break, a short, or another sensor."""
    fits = () if at_c is None or ohms == 0 else _fits(ohms, at_c)
    is_open = ohms > coldest
    end = wording.celsius(COLDEST_C if is_open else HOTTEST_C)
    return SensorFinding(
        verdict=Verdict(
            outcome="fail",
            because=f"Sensor: {read} would be below {end}. It is open, or it is another sensor."
            f"{_others(fits)}"
            if is_open
            else f"Sensor: {read} would be above {end}. It is shorted, or it is another sensor."
            f"{_others(fits)}",
            next_step=f"{STOP} Free the sensor's ends and measure again; if it stays, replace it "
            "before the floor is covered.",
            value=ohms,
            low=hottest,
            high=coldest,
        ),
        fits=fits,
    )


def _judge_difference(
    told: str, difference: float, budget: Budget, ohms: float, at_c: float, confidence: float
) -> Verdict:
    beside = Component(name="thermometer", standard=rectangular(THERMOMETER_HALF_WIDTH_K))
    whole = Budget(components=(*budget.components, beside))
    found = verdict.judge(difference, whole.combined, -AGREE_K, AGREE_K, confidence)
    spread = wording.plus_minus(whole.expanded)
    because, next_step = {
        "pass": (
            f"{told}, and the thermometer says {wording.celsius(at_c)}: they agree within "
            f"{AGREE_K:g} K, and the meters can tell.",
            "",
        ),
        "undecided": (
            f"{told}, the thermometer says {wording.celsius(at_c)}. They may differ by more than "
            f"{AGREE_K:g} K or not: the difference is true to ±{spread} K.",
            "Wait until sensor and thermometer have the same temperature, and measure again.",
        ),
        "fail": (
            f"{told}, but the thermometer says {wording.celsius(at_c)}: more than {AGREE_K:g} K "
            "apart.",
            f"{STOP} Check the thermometer and the sensor's type; if it stays, replace the sensor "
            "before the floor is covered.",
        ),
    }[found.outcome]
    return replace(found, because=because, next_step=next_step, components=whole.components)


def _judge_over_range(curve: Curve, meter: Range, at_c: float | None) -> Verdict:
    coldest = COLDEST_C if at_c is None else max(at_c - AGREE_K, COLDEST_C)
    expected = _ohms_beyond(curve, coldest)
    if meter.full_scale_ohms < expected:
        return Verdict(
            outcome="undecided",
            because=f"Sensor: over-range on the {meter.name} range, but a sound one may show "
            f"{wording.ohms(expected)}. This range cannot tell.",
            next_step="Choose a higher range and measure again.",
        )
    return Verdict(
        outcome="fail",
        because=f"Sensor: over-range on the {meter.name} range, where at most "
        f"{wording.ohms(expected)} is expected. It is open.",
        next_step=f"{STOP} Clean the contacts and measure again; if it stays, replace the sensor "
        "before the floor is covered.",
    )


@lru_cache(maxsize=1_000)
def _ohms_beyond(curve: Curve, celsius: float) -> float:
    """Ohms at `celsius`, a table drawn out beyond its ends: good enough to tell a break."""
    try:
        return curve.ohms_at(celsius)
    except OutsideCurve:
        if not isinstance(curve, Table):
            raise
    ends = curve.points[:2] if celsius < curve.points[0][0] else curve.points[-2:]
    return Beta.through(ends).ohms_at(celsius)


def _uncertainty(
    curve: Curve, celsius: float, ohms: float, meter: Range, leads_ohms: float
) -> Budget:
    """In kelvin: the meter and the leads through the slope of the curve, and the sensor's own."""
    # Towards the middle of any curve, since a table has no slope beyond its ends.
    beside = celsius + (1e-3 if celsius < 25 else -1e-3)
    per_ohm = abs((beside - celsius) / (curve.ohms_at(beside) - ohms))
    return Budget(
        components=(
            Component(name="meter", standard=meter.standard_uncertainty_ohms(ohms) * per_ohm),
            Component(
                name="test leads and contacts", standard=rectangular(leads_ohms / 2) * per_ohm
            ),
            Component(name="sensor", standard=rectangular(SENSOR_HALF_WIDTH_K)),
        )
    )


def _fits(ohms: float, at_c: float) -> tuple[str, ...]:
    return tuple(one.key for one in fitting(ohms, at_c))


def _others(fits: Sequence[str]) -> str:
    if not fits:
        return ""
    return f" These would fit: {wording.listed([entry(key).name for key in fits])}."


def _type_ii(ohms: int) -> Entry:
    points = [(c, TYPE_II_10K.ohms_at(c) * ohms / 10_000) for c in (0.0, 25.0, 50.0)]
    curve = TYPE_II_10K if ohms == 10_000 else SteinhartHart.through(points)
    return Entry(
        key=f"{_short(ohms)}-3977",
        name=f"{wording.range_name(ohms)}, beta 3977 K",
        curve=curve,
        source=TYPE_II_SOURCE,
    )


def _beta(ohms: int, beta_k: int) -> Entry:
    return Entry(
        key=f"{_short(ohms)}-{beta_k}",
        name=f"{wording.range_name(ohms)}, beta {beta_k} K",
        curve=Beta(ohms, 25, beta_k),
        source=NOMINAL,
    )


def _short(ohms: int) -> str:
    return f"{ohms / 1000:g}k"
