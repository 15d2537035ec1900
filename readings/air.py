"""What a thermometer and a hygrometer on a building site can show."""

from config.errors import DomainError

COLDEST_C, HOTTEST_C = -40.0, 70.0


class ImplausibleTemperature(DomainError):
    """A temperature that no floor has while people work on it."""

    slug = "implausible-temperature"


class ImplausibleHumidity(DomainError):
    """A relative humidity that no air has."""

    slug = "implausible-humidity"


def require_plausible(celsius: float, *, pointer: str) -> None:
    """Raise ImplausibleTemperature outside -40 to 70 °C, guessing at °F where that explains it."""
    if COLDEST_C <= celsius <= HOTTEST_C:
        return
    guess = ""
    if HOTTEST_C < celsius <= 1.8 * HOTTEST_C + 32:
        guess = f" If it was read in °F, it is {(celsius - 32) / 1.8:.1f} °C."
    raise ImplausibleTemperature(
        f"{celsius:g} °C is outside {COLDEST_C:g} to {HOTTEST_C:g} °C.{guess}".replace("-", "−"),
        pointer=pointer,
    )


def require_humidity(percent: float, *, pointer: str) -> None:
    """Raise ImplausibleHumidity for a relative humidity outside 0 to 100 %."""
    if not 0 <= percent <= 100:  # also refuses NaN
        raise ImplausibleHumidity(
            f"{percent:g} % is no relative humidity from 0 to 100 %.", pointer=pointer
        )
