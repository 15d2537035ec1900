"""The whole story in order, and who tells it."""

from datetime import datetime
from pathlib import Path

from scheduling.demo import scenario, story
from scheduling.demo.client import Caller

ACTS = (
    story.office_prepares,
    story.laying_is_planned,
    story.crew_is_booked,
    story.arrival,
    story.laying,
    story.plumber_is_warned,
    story.mortar_goes_down,
    story.covering,
    story.too_early,
    story.heat_comes_on,
    story.handover,
    story.certificate,
    story.years_later,
)


def play(*, url: str, now: datetime, folder: Path, tell: story.Tell) -> None:
    """Play the job at `url`; papers go to `folder`. Raises StoryBroke where it does not hold."""
    office, installer, electrician, _ = (
        _logged_in(url, member["name"], member["email"]) for member in scenario.MEMBERS
    )
    told = story.Story(
        calendar=scenario.Calendar(now=now),
        office=office,
        installer=installer,
        electrician=electrician,
        outsider=Caller(name=scenario.PLUMBER["company"], url=url),
        folder=folder,
        tell=tell,
    )
    for act in ACTS:
        act(told)


def _logged_in(url: str, name: str, email: str) -> Caller:
    """A member's device with a token of its own."""
    body = {"email": email, "password": scenario.PASSWORD, "name": "demo"}
    issued = Caller(name=name, url=url).post("tokens/issue/", body)
    return Caller(name=name, url=url, secret=issued["secret"])
