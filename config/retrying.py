"""How long to wait before something that failed is tried again."""

from datetime import timedelta

LONGEST_BACK_OFF = timedelta(hours=6)


def back_off(attempts: int) -> timedelta:
    """How long to wait after so many failed tries: 1, 2, 4 minutes ... up to six hours."""
    return min(timedelta(minutes=2 ** min(attempts - 1, 10)), LONGEST_BACK_OFF)
