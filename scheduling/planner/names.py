"""How sentences call what a problem has only ids for."""

from collections.abc import Callable
from dataclasses import dataclass

from config.sentence import Sentence, word
from scheduling.planner.problem import Link


def _waits(link: Link, until: Sentence) -> Sentence:
    return Sentence(
        "{after} has to wait {hours} h behind {before}, until {when}",
        after=link.after,
        hours=f"{link.lag_hours:g}",
        before=link.before,
        when=until,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """By itself, by those ids; crews and tools are called by theirs everywhere.

    `can` is what somebody with a skill can do. `waits` is the whole sentence about a link with a
    wait, and until when it lasts.
    """

    task: Callable[[str], str] = str
    job: Callable[[str], str] = str
    can: Callable[[str], str] = word
    waits: Callable[[Link, Sentence], Sentence] = _waits


IDS = Names()
