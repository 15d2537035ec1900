"""Which readings will pass and which will fail, worked out before anybody measures.

A phone without signal judges by these numbers. They come from the rule itself, asked again and
again: no rule is written twice.
"""

from collections.abc import Callable
from dataclasses import dataclass

from readings.verdict import Outcome

Judge = Callable[[float | None], Outcome]
ROUNDS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """In the unit of the reading: what lies in `passes` passes (ends included), what lies at
    or below `fails_below`, or at or above `fails_above`, fails, the rest is undecided. None: no
    reading does.

    `over_range` is the verdict where the meter shows no number.
    """

    passes: tuple[float, float] | None
    fails_below: float | None
    fails_above: float | None
    over_range: Outcome


def bands(judge: Judge, *, expected: float, highest: float) -> Bands:
    """Return the bands of a rule that gets stricter away from `expected`, from 0 to `highest`.

    `judge` gives the outcome of a reading, None being over-range.
    """
    middle = min(expected, highest)
    passes = None
    if judge(middle) == "pass":
        low = 0.0 if judge(0.0) == "pass" else _edge(judge, "pass", inside=middle, outside=0.0)
        high = (
            highest
            if judge(highest) == "pass"
            else _edge(judge, "pass", inside=middle, outside=highest)
        )
        passes = (low, high)
    if judge(middle) == "fail":
        return Bands(passes=None, fails_below=None, fails_above=0.0, over_range=judge(None))
    return Bands(
        passes=passes,
        fails_below=_edge(judge, "fail", inside=0.0, outside=middle)
        if judge(0.0) == "fail"
        else None,
        fails_above=_edge(judge, "fail", inside=highest, outside=middle)
        if judge(highest) == "fail"
        else None,
        over_range=judge(None),
    )


def _edge(judge: Judge, outcome: Outcome, *, inside: float, outside: float) -> float:
    """The last reading from `inside` towards `outside` that still has the outcome."""
    for _ in range(ROUNDS):
        middle = (inside + outside) / 2
        if judge(middle) == outcome:
            inside = middle
        else:
            outside = middle
    return inside
