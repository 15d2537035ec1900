"""How ohms go with temperature, and with volts and watts."""

from config.errors import DomainError
from readings.number import finite, not_negative, positive, temperature_c

COPPER_ALPHA_PER_K = 0.00393  # at 20 °C, annealed copper; NBS Handbook 100 (from memory)
REFERENCE_C = 20.0
STEEPEST_ALPHA_PER_K = 0.05  # no conductor comes near; a larger figure was given in another unit

# Greatest ohms per kilometre at 20 °C of plain copper by cross-section in mm².
# Source: IEC 60228:2004, tables A.1 and A.2 (transcriptions seen).
COPPER_OHMS_PER_KM = {1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08}


class NotAConductor(DomainError):
    """A temperature coefficient or cross-section with which the ohms make no sense."""

    slug = "implausible-number"


def at_temperature(
    ohms: float, from_c: float, to_c: float, alpha_per_k: float, reference_c: float = REFERENCE_C
) -> float:
    """The ohms at `to_c` of what shows `ohms` at `from_c`.

    `alpha_per_k` is a fraction per kelvin that holds at `reference_c`, so a warm reading is
    divided by its own factor before it is multiplied by the new one; multiplying by
    (1 - alpha dT) instead is wrong.

    Raises ImplausibleNumber, NotAConductor.
    """
    read = positive(ohms, "ohms")
    return read * factor(to_c, alpha_per_k, reference_c) / factor(from_c, alpha_per_k, reference_c)


def factor(celsius: float, alpha_per_k: float, reference_c: float = REFERENCE_C) -> float:
    """Ohms at `celsius` per ohm at `reference_c`."""
    alpha = finite(alpha_per_k, "alpha_per_k")
    if abs(alpha) > STEEPEST_ALPHA_PER_K:
        raise NotAConductor(
            f"A temperature coefficient of {alpha:g} per kelvin is not one of a conductor. "
            "Give it as a fraction per kelvin: copper is 0.00393.",
            pointer="#/alpha_per_k",
        )
    dt = temperature_c(celsius, "celsius") - temperature_c(reference_c, "reference_c")
    value = 1 + alpha * dt
    if value <= 0:
        raise NotAConductor(
            f"A coefficient of {alpha:g} per kelvin does not hold as far as {celsius:g} °C.",
            pointer="#/alpha_per_k",
        )
    return value


def copper_lead_ohms(length_m: float, cross_section_mm2: float) -> float:
    """Greatest ohms at 20 °C of one copper conductor, there only; a pair is twice that."""
    length = not_negative(length_m, "length_m")
    per_km = COPPER_OHMS_PER_KM.get(positive(cross_section_mm2, "cross_section_mm2"))
    if per_km is None:
        sizes = ", ".join(f"{size:g}" for size in COPPER_OHMS_PER_KM)
        raise NotAConductor(
            f"No figure for copper of {cross_section_mm2:g} mm²; there are {sizes} mm².",
            pointer="#/cross_section_mm2",
        )
    return length * per_km / 1000


def rated_ohms(watts: float, volts: float) -> float:
    """The ohms of a load of `watts` at `volts`."""
    return positive(volts, "volts") ** 2 / positive(watts, "watts")


def watts_at(supply_volts: float, *, watts: float, volts: float) -> float:
    """What a load rated `watts` at `volts` takes at `supply_volts`: by the square of the volts."""
    return (
        positive(watts, "watts")
        * (positive(supply_volts, "supply_volts") / positive(volts, "volts")) ** 2
    )
