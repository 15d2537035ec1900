"""Figures as a person reads them: the meter's digits, a no-break space before the unit."""

import math

NBSP = "\u00a0"
MINUS = "\u2212"
LEAST = 1e-9  # below it a figure reads as zero
PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""))


def figure(value: float, resolution: float | None = None) -> str:
    """`value` to the meter's last digit, or to four significant figures without one."""
    decimals = _decimals(resolution) if resolution else _decimals(_last_of_four(value))
    return f"{value:,.{decimals}f}".replace(",", NBSP).replace("-", MINUS)


def ohms(value: float, resolution: float | None = None) -> str:
    """Such as `104.6 Ω`."""
    return f"{figure(value, resolution)}{NBSP}Ω"


def megohms(value: float, resolution: float | None = None) -> str:
    """Such as `0.80 MΩ`; `value` in megohms."""
    return f"{figure(value, resolution) if resolution else _plain(value)}{NBSP}MΩ"


def celsius(value: float) -> str:
    """Such as `8.5 °C`."""
    return f"{figure(value, 0.1)}{NBSP}°C"


def range_name(full_scale_ohms: float) -> str:
    """A range as the meter's dial says it: `200 Ω`, `2 kΩ`, `20 MΩ`."""
    scale, prefix = next(
        ((s, p) for s, p in PREFIXES if full_scale_ohms >= s * 0.999), PREFIXES[-1]
    )
    return f"{_plain(full_scale_ohms / scale)}{NBSP}{prefix}Ω"


def plus_minus(half_width: float) -> str:
    """A half-width to two significant figures, rounded up: a reader may rely on it."""
    if half_width < LEAST:
        return "0"
    place = 10.0 ** (math.floor(math.log10(half_width)) - 1)
    return figure(math.ceil(half_width / place - 1e-9) * place, place)


def between(low: float | None, high: float | None, unit: str = "") -> str:
    """The limits in words: `93.1 to 107.8 Ω`, `at least 1 MΩ`, `at most 52.8 Ω`."""
    tail = f"{NBSP}{unit}" if unit else ""
    if high is None:
        return f"at least {figure(low or 0.0)}{tail}"
    if low is None:
        return f"at most {figure(high)}{tail}"
    return f"{figure(low)} to {figure(high)}{tail}"


def listed(names: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def _plain(value: float) -> str:
    text = f"{value:,.4f}".rstrip("0").rstrip(".")
    return text.replace(",", NBSP).replace("-", MINUS)


def _last_of_four(value: float) -> float:
    return 10.0 ** (math.floor(math.log10(abs(value))) - 3) if abs(value) >= LEAST else 1.0


def _decimals(resolution: float) -> int:
    return max(0, math.ceil(-math.log10(resolution) - 1e-9))
