"""Words of pages for readings."""

from typing import NamedTuple

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from readings import wording
from readings.models import Check, Reading

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
    """One reading: what was measured, what the meter showed, the verdict and its reason."""

    what: str
    shown: str
    outcome: str
    because: str
    reading: Reading


def rows(check: Check) -> list[Row]:
    found = sorted(check.readings.all(), key=lambda reading: reading.position)
    return [
        Row(what(reading), shown(reading), reading.outcome, reading.because, reading)
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
