"""Lengths and areas as people write and read them: metric, or feet and inches with fractions.

Inside, everything is SI. The inch is 25.4 mm exactly (NIST SP 811, appendix B).
"""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from config.errors import DomainError
from config.sentence import Sentence

System = Literal["metric", "imperial"]

MM_PER_INCH = Fraction("25.4")
MM_PER_FOOT = 12 * MM_PER_INCH
M2_PER_FT2 = (MM_PER_FOOT / 1000) ** 2
KG_PER_LB = Fraction("0.45359237")
ML_PER_IN3 = (MM_PER_INCH / 10) ** 3
M_PER_MILE = 5280 * MM_PER_FOOT / 1000

NO_BREAK = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"

_IN_MM: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": MM_PER_INCH,
    "ft": MM_PER_FOOT,
}
_SPELLINGS = {
    "\N{PRIME}": "ft", "'": "ft", "\N{RIGHT SINGLE QUOTATION MARK}": "ft", "feet": "ft",
    "foot": "ft", "pies": "ft", "pie": "ft", "ft": "ft",
    "\N{DOUBLE PRIME}": "in", '"': "in", "\N{RIGHT DOUBLE QUOTATION MARK}": "in", "''": "in",
    "inches": "in", "inch": "in", "pulgadas": "in", "pulgada": "in", "in": "in",
    "mm": "mm", "cm": "cm", "m": "m",
}  # fmt: skip
_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_UNITS = "|".join(re.escape(unit) for unit in sorted(_SPELLINGS, key=len, reverse=True))
_TERM = re.compile(
    rf"\s*(?P<number>\d+(?:[.,]\d+)?(?![\d/]))?(?:(?P<join>[\s-]*)(?P<over>\d+)/(?P<under>\d+))?"
    rf"\s*(?P<unit>{_UNITS})?\.?",
    re.IGNORECASE,
)


_NUMBER = rf"{MINUS}?(?:\d{{1,3}}(?:{NO_BREAK}\d{{3}})+|\d+)(?:\.\d+)?"
# A figure of a sentence, or two of a range, with a unit of which nothing is left out: not W/m².
_FIGURE = re.compile(
    rf"(?<![\w.,/])(?:(?P<low>{_NUMBER})(?P<to> to | a | and | y | ?– ?))?"
    rf"(?P<number>{_NUMBER})[ {NO_BREAK}]?(?P<unit>mm|m²|m|°C)(?![\w²³/])"
)


class UnreadableLength(DomainError):
    """What was typed is not one length."""

    slug = "length-not-readable"


def length_mm(text: str, *, unit: str = "mm", pointer: str = "") -> float:
    """Read a length: `1200`, `1.2 m`, `1,2 m`, `5' 3 1/2"`, `63 1/2 in`, `5 ft 3-1/2`.

    `unit` (mm, cm, m, in or ft) is meant where none is written; after feet, inches are. Both
    decimal signs are read, a thousands sign is not. Raises UnreadableLength.
    """
    rest = text.strip()
    for sign, plain in _VULGAR.items():
        rest = rest.replace(sign, f" {plain}")
    total, meant = Fraction(0), unit
    parts: list[str] = []
    while rest:
        term = _TERM.match(rest)
        if term is None or not (term["number"] or term["over"]) or len(parts) == 2:
            raise _unreadable(text, pointer)
        used = _SPELLINGS[term["unit"].lower()] if term["unit"] else meant
        parts.append(used)
        total += _number(term, text, pointer) * _IN_MM[used]
        rest = rest[term.end() :].lstrip(" -")  # 5'-3" is written as often as 5' 3"
        meant = "in"
    if not parts or (len(parts) == 2 and parts != ["ft", "in"]):
        raise _unreadable(text, pointer)
    return float(total)


def feet_inches(mm: float, *, finest: int = 16) -> str:
    """Return a length as feet, inches and the nearest 1/`finest` inch: `5′ 3 1/2″`."""
    sixteenths = round(abs(Fraction(mm)) / MM_PER_INCH * finest)
    inches, over = divmod(sixteenths, finest)
    feet, inches = divmod(inches, 12)
    part = Fraction(over, finest)
    words = [f"{feet}\N{PRIME}"] if feet else []
    figures = [str(inches)] if inches or not part else []
    figures += [f"{part.numerator}/{part.denominator}"] if part else []
    if inches or part or not feet:
        words.append(NO_BREAK.join(figures) + "\N{DOUBLE PRIME}")
    return (MINUS if mm < 0 and sixteenths else "") + NO_BREAK.join(words)


def typed_length(mm: float, system: System = "metric") -> str:
    """Return a length for a field, such that reading it gives the same to 0.01 mm.

    Feet and inches if a 64th of an inch says it, else millimetres with their unit.
    """
    if system == "metric":
        return _plain(mm)
    words = feet_inches(abs(mm), finest=64)
    if abs(length_mm(words) - abs(mm)) > 0.01:
        words = f"{_plain(abs(mm))}{NO_BREAK}mm"
    return f"-{words}" if mm < 0 else words


def shown_length(mm: float, system: System = "metric") -> str:
    """Return a length for a table: whole millimetres, or feet and inches."""
    return feet_inches(mm) if system == "imperial" else f"{grouped(mm)}{NO_BREAK}mm"


def shown_dimension(mm: float, system: System = "metric") -> str:
    """Return a length for a dimension line: metres to the centimetre, or feet and inches."""
    return feet_inches(mm, finest=4) if system == "imperial" else f"{mm / 1000:.2f}{NO_BREAK}m"


def shown_area(m2: float, system: System = "metric") -> str:
    """Return an area with its unit."""
    if system == "imperial":
        return f"{square_feet(m2):.1f}{NO_BREAK}ft²"
    return f"{m2:.2f}{NO_BREAK}m²"


def in_units(text: str, system: System = "metric") -> str:
    """Return a sentence with its lengths, areas and temperatures in the units of the place."""
    if system == "metric":
        return text
    return _FIGURE.sub(_imperial, text)


def _imperial(found: re.Match[str]) -> str:
    unit = found["unit"]
    low, high = (
        _in_imperial(float(figure.replace(NO_BREAK, "").replace(MINUS, "-")), unit)
        if figure
        else ""
        for figure in (found["low"], found["number"])
    )
    return f"{low}{found['to'] or ''}{high}"


def _in_imperial(value: float, unit: str) -> str:
    if unit == "°C":
        return f"{round(fahrenheit(value), 1):g}{NO_BREAK}°F".replace("-", MINUS)
    if unit == "m²":
        return shown_area(value, "imperial")
    return feet_inches(value * (1000 if unit == "m" else 1))


def grouped(number: float) -> str:
    """Return a whole number with no-break spaces between thousands: `1 650`, `−40`."""
    whole = round(number)
    return (MINUS if whole < 0 else "") + f"{abs(whole):,}".replace(",", NO_BREAK)


def square_feet(m2: float) -> float:
    """Return square metres as square feet."""
    return float(Fraction(m2) / M2_PER_FT2)


def square_metres(ft2: float) -> float:
    """Return square feet as square metres."""
    return float(Fraction(Decimal(repr(ft2))) * M2_PER_FT2)


def fahrenheit(celsius: float) -> float:
    """Return a temperature in degrees Fahrenheit; a difference takes `fahrenheit_difference`."""
    return celsius * 9 / 5 + 32


def fahrenheit_difference(kelvin: float) -> float:
    """Return a difference of temperatures in degrees Fahrenheit."""
    return kelvin * 9 / 5


def celsius(shown: float, system: System | str) -> float:
    """Return a temperature as it was typed in the units of a place, in degrees Celsius."""
    return (shown - 32) / 1.8 if system == "imperial" else shown


def _plain(mm: float) -> str:
    return f"{mm:.2f}".rstrip("0").rstrip(".")


def _number(term: re.Match[str], text: str, pointer: str) -> Fraction:
    value = Fraction(Decimal((term["number"] or "0").replace(",", ".")))
    if term["over"] is None:
        return value
    mixed = term["number"] is not None
    if int(term["under"]) == 0 or (mixed and (not term["join"] or value.denominator != 1)):
        raise _unreadable(text, pointer)
    return value + Fraction(int(term["over"]), int(term["under"]))


def _unreadable(text: str, pointer: str) -> UnreadableLength:
    return UnreadableLength(
        Sentence("“{text}” is not one length. Write 1200, 1.2 m or 5' 3 1/2\".", text=text),
        pointer=pointer,
    )
