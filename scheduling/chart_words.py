"""What the cure chart says: its labels, its legend, and the sentence that stands for it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Final, Literal

from jobs.units import System, fahrenheit
from scheduling.energize import Decision
from scheduling.floor import Facts, Layer
from scheduling.progress import CureProgress

Language = Literal["en", "es"]

MONTHS: Final = {
    "en": ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"],
    "es": ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"],
}
WEEKDAYS: Final = {
    "en": ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"],
    "es": ["lun", "mar", "mié", "jue", "vie", "sáb", "dom"],
}
WORDS: Final = {
    "en": {
        "floor": "Floor, {unit}",
        "curing": "Curing, hours reached",
        "drying": "Drying, hours reached",
        "now": "now",
    },
    "es": {
        "floor": "Piso, {unit}",
        "curing": "Curado, horas alcanzadas",
        "drying": "Secado, horas alcanzadas",
        "now": "ahora",
    },
}
CAPTION: Final = {
    "en": "Whole line: measured. Dashes: likely. Grey: no data, counted as {assumed} at most. "
    "Dash-dot: {lowest}, below it nothing counts; {hours} h, {printed}. "
    "Dot and wedge: the likely time and its range.",
    "es": "Línea entera: medido. Guiones: probable. Gris: sin datos, cuenta como {assumed} a lo "
    "sumo. Raya y punto: {lowest}, por debajo nada cuenta; {hours} h, {printed}. "
    "Punto y cuña: la hora probable y su margen.",
}
PRINTED: Final = {
    "en": {False: "the printed minimum", True: "an assumption, no data sheet"},
    "es": {False: "el mínimo impreso", True: "un supuesto, sin hoja técnica"},
}
ESTIMATE: Final = {
    "en": "an estimate of its drying, by the humidity of the air",
    "es": "una estimación del secado, por la humedad del aire",
}
TITLE: Final = {
    "en": {
        False: "{material}: {reached} of {required} h of curing reached by {now}.",
        True: "{material}: {reached} of {required} h of drying reached by {now}.",
    },
    "es": {
        False: "{material}: {reached} de {required} h de curado alcanzadas el {now}.",
        True: "{material}: {reached} de {required} h de secado alcanzadas el {now}.",
    },
}
DATES: Final = {
    "en": {
        "ready": "Ready since {ready}.",
        "frost": "No date: frost reached the fresh mortar.",
        "likely": "Heat may come on: likely {likely}; not before {earliest}; latest {latest}.",
        "never": "not in sight",
    },
    "es": {
        "ready": "Listo desde {ready}.",
        "frost": "Sin fecha: la helada alcanzó el mortero fresco.",
        "likely": "Se puede encender: probable {likely}; no antes de {earliest}; último {latest}.",
        "never": "no a la vista",
    },
}


def words(name: str, language: Language, system: System = "metric") -> str:
    """A label of the drawing."""
    return WORDS[language][name].format(unit="°F" if system == "imperial" else "°C")


def day(on: date, language: Language, *, with_month: bool) -> str:
    """A tick: `16 Nov`, or `21` within a month."""
    return f"{on.day} {MONTHS[language][on.month - 1]}" if with_month else str(on.day)


def title(
    facts: Facts,
    layer: Layer,
    progress: CureProgress,
    decision: Decision,
    *,
    language: Language,
    system: System,
) -> str:
    """The drawing as a sentence for a screen reader, dates in the room's zone."""
    told = DATES[language]
    shown = progress.governing
    reached = TITLE[language][progress.drying_governs].format(
        material=layer.material.name,
        reached=f"{int(shown.equivalent_hours * 10) / 10:g}",
        required=f"{shown.required_hours:g}",
        now=_moment(facts.now, facts, language),
    )
    if decision.earliest is None:
        dates = told["frost"]
    elif progress.ready is not None:
        dates = told["ready"].format(ready=_moment(progress.ready, facts, language))
    else:
        dates = told["likely"].format(
            **{
                name: _moment(at, facts, language) if at else told["never"]
                for name, at in (
                    ("earliest", progress.earliest),
                    ("likely", progress.likely),
                    ("latest", progress.latest),
                )
            }
        )
    legend = caption(facts, layer, progress, language=language, system=system)
    return f"{reached} {dates} {legend}"


def caption(
    facts: Facts, layer: Layer, progress: CureProgress, *, language: Language, system: System
) -> str:
    """The legend, in words."""
    printed = PRINTED[language][layer.material.assumed]
    return CAPTION[language].format(
        assumed=degrees(facts.assume_c, system),
        lowest=degrees(layer.material.lowest_c, system),
        hours=f"{progress.governing.required_hours:g}",
        printed=ESTIMATE[language] if progress.drying_governs else printed,
    )


def degrees(celsius: float, system: System) -> str:
    """A temperature in the units of the reader."""
    if system == "imperial":
        return f"{fahrenheit(celsius):.0f} °F".replace("-", "−")
    return f"{celsius:g} °C".replace("-", "−")


def _moment(at: datetime, facts: Facts, language: Language) -> str:
    local = at.astimezone(facts.zone)
    month = MONTHS[language][local.month - 1]
    weekday = WEEKDAYS[language][local.weekday()]
    return f"{weekday} {local.day} {month} {local.year}, {local:%H:%M}"
