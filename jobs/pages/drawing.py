"""The drawing of a room on a page, with the same in words and numbers."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

from config.tenancy import Asker
from jobs import drawing, plan_picture
from jobs.actions.pictures import stored_picture
from jobs.grips import Fields, Grip
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
    grips: Sequence[Grip] = ()
    fields: Fields | None = None
    notes: Sequence[str] = ()
    scale: int | None = None

    @property
    def svg(self) -> SafeString:
        drawn = drawing.draw(
            self.picture,
            language=self.language,
            system=self.system,
            scale=self.scale,
            key=self.key,
            grips=self.grips,
            fields=self.fields,
        )
        return mark_safe(drawn)  # made by us, every word in it escaped

    @property
    def title(self) -> str:
        return plan_picture.title(self.picture, language=self.language, system=self.system)

    @property
    def caption(self) -> str:
        return plan_picture.caption(self.picture, language=self.language, scale=self.scale)

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


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenWalls:
    """Walls that do not close, as they were read off the tape, and by how much they miss."""

    walls: Sequence[Point]
    title: str
    caption: str = ""
    notes: Sequence[str] = ()

    @property
    def svg(self) -> SafeString:
        drawn = drawing.draw_open(self.walls, misses=self.title)
        return mark_safe(drawn)  # made by us, every word in it escaped


def drawn(
    asks: Asker, room: Room, *, system: str, asked: Point | None = None, key: str = "plan"
) -> Drawn:
    """The room as it is recorded; one query."""
    return figure(stored_picture(asks, room, asked=asked), system=system, key=key)


def figure(
    shown: PlanPicture,
    *,
    system: str,
    key: str = "plan",
    grips: Sequence[Grip] = (),
    fields: Fields | None = None,
    notes: Sequence[str] = (),
    scale: int | None = None,
) -> Drawn:
    return Drawn(
        picture=shown,
        language=cast(Language, get_language() or "en"),
        system=cast(System, system),
        key=key,
        grips=grips,
        fields=fields,
        notes=notes,
        scale=scale,
    )


def open_figure(walls: Sequence[Point], *, misses: str) -> OpenWalls | None:
    """A figure of walls that do not close; None for walls that all run along one line."""
    xs, ys = zip(*walls, strict=True)
    if min(max(xs) - min(xs), max(ys) - min(ys)) < 1:
        return None
    return OpenWalls(walls=walls, title=misses)
