"""Wiring rules as data: one profile per family of codes, each figure with where it comes from.

A figure that nobody looked up says so, and is shown as something to look up, not as a fact.
Local code, the maker's instructions and a licensed electrician rule over every figure here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from config.sentence import Sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a figure comes from; `looked_up` is False if it was written down from memory."""

    text: str
    looked_up: bool

    def __str__(self) -> str:
        text = Sentence(self.text)
        return text if self.looked_up else Sentence("{text} (from memory; look it up)", text=text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """A copper conductor: what it may carry, and the largest breaker that protects it."""

    name: str
    area_mm2: float
    ampacity_a: float
    largest_breaker_a: float
    ohms_per_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeProfile:
    """The rules of one family of codes. Fractions are of 1, lengths and areas SI."""

    key: str
    name: str
    continuous_factor: float
    continuous_source: Source
    breaker_sizes_a: tuple[float, ...]
    breaker_source: Source
    largest_circuit_a: float
    largest_circuit_source: Source
    conductors: tuple[Conductor, ...]
    conductor_source: Source
    voltage_drop_limit: float
    voltage_drop_source: Source
    voltage_window: float
    voltage_source: Source
    leakage_rule: str
    leakage_ma: float
    leakage_source: Source
    inspection_rule: str
    inspection_source: Source
    most_w_per_m2: float | None
    most_w_per_m2_source: Source | None
    most_w_per_m: float | None
    most_w_per_m_source: Source | None
    box_volume_in3: Mapping[str, float] = field(default_factory=dict)
    box_source: Source | None = None
    not_checked: tuple[str, ...] = ()


COPPER_K = 12.9
"""Ohm-circular-mils per foot of copper near 75 °C; 0.017241 ohm mm2/m is cold copper."""

_ALWAYS_UNCHECKED = (
    Sentence("the condition of the existing wiring and panel"),
    Sentence("derating for heat, bundling and insulation around the supply cable"),
    Sentence("earthing, bonding and fault-loop impedance"),
    Sentence("short-circuit capacity"),
    Sentence("local amendments to the code"),
)


def _awg(name: str, *, cmil: float, ampacity_a: float, largest_breaker_a: float) -> Conductor:
    return Conductor(
        name=name,
        area_mm2=cmil * 5.067075e-4,
        ampacity_a=ampacity_a,
        largest_breaker_a=largest_breaker_a,
        ohms_per_m=COPPER_K / cmil / 0.3048,
    )


def _metric(area_mm2: float, ohms_per_km: float, ampacity_a: float, breaker_a: float) -> Conductor:
    return Conductor(
        name=f"{area_mm2:g} mm²",
        area_mm2=area_mm2,
        ampacity_a=ampacity_a,
        largest_breaker_a=breaker_a,
        ohms_per_m=ohms_per_km / 1000 * (1 + 0.00393 * 50),  # printed at 20 °C, used at 70 °C
    )


US_TYPE = CodeProfile(
    key="us",
    name="US type",
    continuous_factor=1.25,
    continuous_source=Source(
        text="NEC 2017 424.3(B), 424.4(B) in later editions; 210.19, 210.20", looked_up=True
    ),
    breaker_sizes_a=(15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100),
    breaker_source=Source(text="NEC 240.6(A), standard ampere ratings", looked_up=False),
    largest_circuit_a=30,
    largest_circuit_source=Source(
        text="NEC 424.4(A), branch circuits for two or more heating outlets", looked_up=False
    ),
    conductors=(
        _awg("14 AWG", cmil=4_110, ampacity_a=15, largest_breaker_a=15),
        _awg("12 AWG", cmil=6_530, ampacity_a=20, largest_breaker_a=20),
        _awg("10 AWG", cmil=10_380, ampacity_a=30, largest_breaker_a=30),
        _awg("8 AWG", cmil=16_510, ampacity_a=40, largest_breaker_a=40),
        _awg("6 AWG", cmil=26_240, ampacity_a=55, largest_breaker_a=60),
    ),
    conductor_source=Source(
        text="NEC table 310.16, copper at 60 °C, with the small-conductor limits of 240.4(D)",
        looked_up=False,
    ),
    voltage_drop_limit=0.03,
    voltage_drop_source=Source(
        text="NEC 210.19(A), informational note: 3 % of a branch circuit", looked_up=False
    ),
    voltage_window=0.05,
    voltage_source=Source(
        text="Portland (Oregon) City Code 27.19.050: label within 5 % of the service voltage",
        looked_up=True,
    ),
    leakage_rule="Ground-fault protection of class A (trips at 6 mA, not below 4 mA) is required",
    leakage_ma=6,
    leakage_source=Source(text="NEC 2017 424.45; class A by NEC article 100", looked_up=True),
    inspection_rule="The element is inspected and approved before it is covered",
    inspection_source=Source(text="NEC 2017 424.46", looked_up=True),
    most_w_per_m2=15 / 0.09290304,
    most_w_per_m2_source=Source(
        text="NEC 424.99(B): heating panels under a floor covering, 15 W/ft²", looked_up=False
    ),
    most_w_per_m=16.5 / 0.3048,
    most_w_per_m_source=Source(
        text="NEC 424.44(A): heating cable in concrete, 16.5 W/ft", looked_up=False
    ),
    box_volume_in3={"14 AWG": 2.00, "12 AWG": 2.25, "10 AWG": 2.50},
    box_source=Source(text="NEC 314.16(B), volume per conductor", looked_up=True),
    not_checked=_ALWAYS_UNCHECKED,
)

IEC_TYPE = CodeProfile(
    key="iec",
    name="IEC type",
    continuous_factor=1.0,
    continuous_source=Source(
        text="IEC 60364-4-43, 433.1: design current not above the breaker's", looked_up=False
    ),
    breaker_sizes_a=(6, 10, 13, 16, 20, 25, 32, 40, 50, 63),
    breaker_source=Source(text="IEC 60898-1, preferred rated currents", looked_up=False),
    largest_circuit_a=32,
    largest_circuit_source=Source(text=Sentence("common practice, no source"), looked_up=True),
    conductors=(
        _metric(1.5, 12.1, 14, 13),
        _metric(2.5, 7.41, 18.5, 16),
        _metric(4, 4.61, 25, 25),
        _metric(6, 3.08, 32, 32),
    ),
    conductor_source=Source(
        text="IEC 60364-5-52 table B.52.2, method A2, two loaded copper conductors in PVC; "
        "resistance by IEC 60228 taken to 70 °C",
        looked_up=False,
    ),
    voltage_drop_limit=0.05,
    voltage_drop_source=Source(
        text="IEC 60364-5-52 annex G: 5 % for uses other than lighting", looked_up=False
    ),
    voltage_window=0.10,
    voltage_source=Source(text="IEC 60038: 230 V within 10 %", looked_up=False),
    leakage_rule="A residual current device of 30 mA or less is required",
    leakage_ma=30,
    leakage_source=Source(text="IEC 60364-7-753", looked_up=False),
    inspection_rule="The element is measured before it is covered and again after",
    inspection_source=Source(text=Sentence("common practice, no source"), looked_up=True),
    most_w_per_m2=None,
    most_w_per_m2_source=None,
    most_w_per_m=None,
    most_w_per_m_source=None,
    not_checked=(
        *_ALWAYS_UNCHECKED,
        Sentence("box fill (the profile has no volume per conductor)"),
        Sentence(
            "power over the floor and of the wire (the profile has no limit; the element's sheet "
            "and the covering rule)"
        ),
    ),
)

PROFILES: Mapping[str, CodeProfile] = {profile.key: profile for profile in (US_TYPE, IEC_TYPE)}
