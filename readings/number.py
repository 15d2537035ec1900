"""Plain numbers that come in from outside: refused with a reason before any rule sees them."""

import math
from decimal import Decimal
from numbers import Real

from config.errors import DomainError

ABSOLUTE_ZERO_C = -273.15


class ImplausibleNumber(DomainError):
    """A figure that no instrument, tag or table can have shown."""

    slug = "implausible-number"


def finite(value: object, name: str) -> float:
    """`value` as a float; refuses what is no number, NaN and the infinities."""
    if isinstance(value, bool) or not isinstance(value, Real | Decimal):
        raise refused(name, f"must be a number, not {value!r}")
    try:
        number = float(value)
    except OverflowError:
        raise refused(name, "is larger than anything that is measured here") from None
    if not math.isfinite(number):
        raise refused(name, f"must be a finite number, not {number}")
    return number


def positive(value: object, name: str) -> float:
    """`value` as a float above zero."""
    number = finite(value, name)
    if number <= 0:
        raise refused(name, f"must be above zero, not {number:g}")
    return number


def not_negative(value: object, name: str) -> float:
    """`value` as a float of zero or more."""
    number = finite(value, name)
    if number < 0:
        raise refused(name, f"must not be below zero, but is {number:g}")
    return number


def temperature_c(value: object, name: str) -> float:
    """`value` as degrees Celsius above absolute zero."""
    number = finite(value, name)
    if number <= ABSOLUTE_ZERO_C:
        raise refused(name, f"is {number:g} °C, which is not above absolute zero")
    return number


def refused(name: str, why: str) -> ImplausibleNumber:
    """The refusal of the argument or field `name`, worded for a person."""
    return ImplausibleNumber(f"{name.replace('_', ' ').capitalize()} {why}.", pointer=f"#/{name}")
