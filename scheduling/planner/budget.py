"""How long a search may go on: by the clock, or by steps where the same plan must come out."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

SECONDS_LEFT_BY_STEPS = 1e9


class Budget:
    """By `steps` if they are given, else by `seconds` from now; ends at once when `stopped`."""

    def __init__(self, *, seconds: float, steps: int | None, stopped: Callable[[], bool]) -> None:
        self.began = time.monotonic()
        self.seconds = seconds
        self.steps = steps
        self.done = 0
        self.stopped = stopped

    def elapsed(self) -> float:
        return time.monotonic() - self.began

    def spent(self) -> float:
        """The fraction that is used up, 1 or more at the end."""
        if self.stopped():
            return 1.0
        if self.steps is not None:
            return self.done / max(1, self.steps)
        return self.elapsed() / max(self.seconds, 1e-9)

    def left(self) -> float:
        """Seconds left."""
        if self.stopped():
            return 0.0
        return SECONDS_LEFT_BY_STEPS if self.steps is not None else self.seconds - self.elapsed()

    @contextmanager
    def paused(self) -> Iterator[None]:
        """What happens in here does not count."""
        began = time.monotonic()
        yield
        self.began += time.monotonic() - began
