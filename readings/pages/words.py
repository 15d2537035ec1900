"""Words of pages for readings."""

from typing import Any, NamedTuple

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from config.wording import in_language
from readings import wording
from readings.assess import RoomFacts
from readings.bands import Bands
from readings.element import expected
from readings.insulation import minimum
from readings.models import Check, Reading
from readings.sequence import Step

STAGES = {
    "arrival": _("on arrival"),
    "laid": _("laid, before covering"),
    "covered": _("after covering"),
    "handover": _("at handover"),
    "service": _("at service"),
}
KINDS = {
    "element": _("core to core"),
    "lead_to_ground": _("lead to ground"),
    "insulation": _("insulation at voltage"),
    "sensor": _("floor sensor"),
    "supply": _("supply voltage"),
    "load": _("current"),
}
UNITS = {
    "element": "Ω",
    "lead_to_ground": "Ω",
    "insulation": "MΩ",
    "sensor": "Ω",
    "supply": "V",
    "load": "A",
}


class Row(NamedTuple):
    """One reading: what was measured, what the meter showed, the verdict, its reason and sums."""

    what: str
    shown: str
    outcome: str
    because: str
    why: list[str]
    reading: Reading


def rows(check: Check) -> list[Row]:
    found = sorted(check.readings.all(), key=lambda reading: reading.position)
    return [
        Row(
            what(reading),
            shown(reading),
            reading.outcome,
            in_language(reading.because),
            worked_out(reading),
            reading,
        )
        for reading in found
    ]


def what(reading: Reading) -> str:
    """Such as `M1, core to core` or `M1, lead to ground, lead A`."""
    thing = reading.element or reading.sensor
    parts = [thing.label if thing else "", str(KINDS[reading.kind])]
    if reading.lead:
        parts.append(gettext("lead %(lead)s") % {"lead": reading.lead})
    return ", ".join(part for part in parts if part)


def shown(reading: Reading) -> str:
    """What the meter showed, with its unit; as many digits as the range shows."""
    if reading.over_range or reading.value is None:
        return gettext("over-range")
    used = reading.instrument_range
    resolution = used.resolution if used else None
    return f"{wording.figure(reading.value, resolution)} {UNITS[reading.kind]}"


# Where to put the probes, and when to read.
WHERE = {
    "element": _("One probe on each core of the cold lead. Wait until the number stands still."),
    "lead_to_ground": _(
        "One probe on the core of this lead, the other on its screen or ground. Hands off the tips."
    ),
    "insulation": _(
        "Tester on both cores together and on the screen. Nobody touches anything while it tests."
    ),
    "sensor": _("One probe on each wire of the floor sensor. Hold a thermometer where it lies."),
    "load": _(
        "A licensed electrician reads volts and amperes at the control, with the floor switched on."
    ),
}


# Where a limit is no figure of a tag.
LIMITS_OF = {
    "lead_to_ground": _("An ohmmeter sees no path to ground through sound insulation."),
    "sensor": _(
        "The sensor’s curve turns the ohms into a temperature, which is held against yours."
    ),
    "load": _("Volts over amperes are ohms: held against the tag, at the warmth of the floor."),
}


def step(found: Step) -> str:
    """A step in words, such as `M1, core to core`."""
    parts = [found.label, str(KINDS[found.kind])]
    if found.lead:
        parts.append(gettext("lead %(lead)s") % {"lead": found.lead})
    return ", ".join(part for part in parts if part)


def limits(found: Step, facts: RoomFacts) -> str:
    """What is expected, as far as it hangs on nothing else."""
    if found.kind == "element" and found.element is not None:
        wanted = expected(facts.elements[found.element].tag)
        low, high = wording.figure(wanted.low), wording.figure(wanted.high)
        return gettext("Expected %(low)s to %(high)s Ω.") % {"low": low, "high": high}
    if found.kind == "lead_to_ground":
        return gettext("Expected: over-range. Any number is a path to ground.")
    if found.kind == "insulation":
        needed = minimum(facts.supply_volts)
        return gettext("At least %(least)s at %(volts)s V.") % {
            "least": wording.megohms(needed.megohms),
            "volts": f"{needed.test_volts:g}",
        }
    return ""


def why_limits(found: Step, facts: RoomFacts) -> list[str]:
    """How the limits of a step came about, and what a meter's own doubt does to them."""
    lines = []
    if found.kind == "element" and found.element is not None:
        tag = facts.elements[found.element].tag
        lines.append(
            gettext("The tag says %(ohms)s at %(at)s, −%(below)s %% / +%(above)s %%.")
            % {
                "ohms": wording.ohms(tag.ohms),
                "at": wording.celsius(tag.celsius),
                "below": f"{tag.below * 100:g}",
                "above": f"{tag.above * 100:g}",
            }
        )
    if found.kind == "insulation":
        lines.append(in_language(minimum(facts.supply_volts).because))
    if found.kind in ("lead_to_ground", "sensor", "load"):
        lines.append(str(LIMITS_OF[found.kind]))
    lines.append(
        gettext(
            "A reading passes if it lies inside by more than the meter, its leads and the "
            "temperature can be wrong, 19 times in 20; it fails if it lies outside by as much."
        )
    )
    lines.append(gettext("Rule: a guard band, JCGM 106:2012, 8.3."))
    return lines


def plain(bands: Bands) -> dict[str, Any]:
    """Bands as a phone keeps them."""
    return {
        "passes": bands.passes,
        "fails_below": bands.fails_below,
        "fails_above": bands.fails_above,
        "over_range": bands.over_range,
    }


def worked_out(reading: Reading) -> list[str]:
    """How a verdict came about, a line for each figure."""
    figures = reading.figures
    unit = "K" if reading.kind == "sensor" else UNITS[reading.kind]
    lines = []
    if figures.get("value") is not None and figures.get("expanded_uncertainty") is not None:
        lines.append(
            gettext("Value %(value)s ± %(u)s %(unit)s, 19 times in 20.")
            % {
                "value": wording.figure(figures["value"]),
                "u": wording.plus_minus(figures["expanded_uncertainty"]),
                "unit": unit,
            }
        )
    if figures.get("low") is not None or figures.get("high") is not None:
        between = wording.between(figures.get("low"), figures.get("high"), unit)
        lines.append(gettext("Limits: %(limits)s.") % {"limits": in_language(between)})
    for name, share in figures.get("components", {}).items():
        lines.append(f"{in_language(name)}: {wording.figure(share)} {unit}")
    if figures.get("probability") is not None:
        lines.append(
            gettext(
                "Inside the limits with a probability of %(p)s %%; %(needed)s %% are asked for."
            )
            % {
                "p": f"{figures['probability'] * 100:.1f}",
                "needed": f"{figures['confidence'] * 100:g}",
            }
        )
    lines.append(gettext("Rule: a guard band, JCGM 106:2012, 8.3."))
    return lines
