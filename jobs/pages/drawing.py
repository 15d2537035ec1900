"""The drawing of a room on a page, with the same in words and numbers."""

from dataclasses import dataclass
from typing import cast

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

from config.tenancy import Asker
from jobs import drawing, plan_picture
from jobs.actions.pictures import stored_picture
from jobs.models import Room
from jobs.outline import Point
from jobs.plan_picture import Language, PlanPicture, PlanRow
from jobs.units import System


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A figure in the language of the page: the drawing, its legend, and its tables."""

    picture: PlanPicture
    language: Language
    system: System
    key: str

    @property
    def svg(self) -> SafeString:
        drawn = drawing.draw(self.picture, language=self.language, system=self.system, key=self.key)
        return mark_safe(drawn)  # made by us, every word in it escaped

    @property
    def title(self) -> str:
        return plan_picture.title(self.picture, language=self.language, system=self.system)

    @property
    def caption(self) -> str:
        return plan_picture.caption(self.picture, language=self.language)

    @property
    def measured_from(self) -> str:
        return plan_picture.measured_from(self.picture, self.language)

    @property
    def points(self) -> tuple[PlanRow, ...]:
        return plan_picture.points(self.picture, language=self.language, system=self.system)

    @property
    def lines(self) -> tuple[tuple[PlanRow, ...], ...]:
        """Walls, then runs of cable."""
        shown = {"language": self.language, "system": self.system}
        tables = (
            plan_picture.walls(self.picture, **shown),  # type: ignore[arg-type]
            plan_picture.cable_runs(self.picture, **shown),  # type: ignore[arg-type]
        )
        return tuple(rows for rows in tables if rows)


def drawn(
    asks: Asker, room: Room, *, system: str, asked: Point | None = None, key: str = "plan"
) -> Drawn:
    """The room as it is recorded; two queries."""
    return figure(stored_picture(asks, room, asked=asked), system=system, key=key)


def figure(shown: PlanPicture, *, system: str, key: str = "plan") -> Drawn:
    return Drawn(
        picture=shown,
        language=cast(Language, get_language() or "en"),
        system=cast(System, system),
        key=key,
    )
