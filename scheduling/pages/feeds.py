"""Calendars that others follow by a private link: a crew's, the office's, an owner's, a trade's."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from functools import lru_cache
from hashlib import sha256
from typing import Any, NamedTuple, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import translation
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _

from config.pages import TimedRequest, public_page
from config.wording import in_language
from jobs.actions.links import open_link
from jobs.models import Link
from jobs.units import System
from scheduling.actions import calendar
from scheduling.actions.facts import assumed_words
from scheduling.chart_words import Language
from scheduling.feed import FeedEvent, Status, feed
from scheduling.pages import words
from scheduling.pages.public import speaking
from scheduling.warmup import CalendarEntry as Worded
from scheduling.warmup import Limit, Step, calendar_entries

FORMAT = 1  # raised when the same entries come to be worded otherwise


class Line(NamedTuple):
    """An entry with the names that its words are made of; 2 000 of them are read at once."""

    pk: UUID
    kind: str
    key: str
    starts_at: datetime
    ends_at: datetime
    all_day: bool
    likely: bool
    detail: dict[str, Any]
    sequence: int
    changed_at: datetime
    cancelled_at: datetime | None
    job_id: UUID
    street: str
    city: str
    time_zone: str
    units: str
    room_id: UUID | None
    room: str | None
    crew: str | None


COLUMNS = (
    *Line._fields[:12],
    "job__street",
    "job__city",
    "job__time_zone",
    "job__units",
    "room_id",
    "room__name",
    "crew__name",
)


@public_page("GET")
def feed_by_link(request: TimedRequest, secret: str) -> HttpResponseBase:
    """The calendar of a crew, or of the office."""
    link = open_link(purpose="feed", secret=secret, at=request.now)
    if link is None:
        raise Http404
    return followed(request, link, language=link.contractor.language)


def followed(request: TimedRequest, link: Link, *, language: str) -> HttpResponseBase:
    """The feed that a link opens, or word that nothing has changed, by a query instead of a page.

    Kept by the reader, shared by nobody, asked about each time.
    """
    calendar.bring_up_to_date(link, at=request.now)
    rows = calendar.shown_by(link, at=request.now)
    with speaking(request, language):
        named = FORMAT, link.purpose, link.contractor.name, translation.get_language()
        version = (*named, *calendar.version_of(rows))
        etag = f'"{sha256(repr(version).encode()).hexdigest()[:32]}"'
        unchanged = get_conditional_response(request, etag=etag)
        response = unchanged or HttpResponse(
            _written(link, [Line(*row) for row in rows.values_list(*COLUMNS)]),
            content_type="text/calendar; charset=utf-8",
            headers={"Content-Disposition": 'inline; filename="calendar.ics"'},
        )
    response.headers["ETag"] = etag
    response.headers["Cache-Control"] = "private, no-cache"
    response.headers["X-Robots-Tag"] = "noindex"
    return response


def _written(link: Link, rows: Sequence[Line]) -> bytes:
    ordered = sorted(rows, key=lambda row: (row.starts_at, row.key))
    return feed(
        name=_name(link, ordered),
        about=_("Kept up to date by %(contractor)s. Likely days may move.")
        % {"contractor": link.contractor.name},
        changed_at=max((row.changed_at for row in ordered), default=link.made_at),
        events=_events(link, ordered),
    )


def _name(link: Link, rows: Sequence[Line]) -> str:
    if link.job:
        return f"{link.contractor.name} · {link.job.street}"
    crew = next((row.crew for row in rows if row.crew), None) if link.subject_id else None
    return f"{link.contractor.name} · {crew}" if crew else link.contractor.name


def _events(link: Link, rows: Sequence[Line]) -> Iterator[FeedEvent]:
    warm_up = _warm_up_words(rows)
    host = settings.PUBLIC_URL.partition("//")[2].partition(":")[0].strip("/")
    for row in rows:
        title, text = warm_up[row.pk] if row.kind == "warm-up" else _words(link, row)
        yield FeedEvent(
            uid=f"{row.pk}@{host}",
            sequence=row.sequence,
            changed_at=row.changed_at,
            starts=_day(row, row.starts_at) if row.all_day else row.starts_at,
            ends=_day(row, row.ends_at) if row.all_day else row.ends_at,
            title=title,
            text=text,
            place=f"{row.street}, {row.city}",
            url=_url(link, row),
            category=row.kind,
            status=_status(row),
        )


def _words(link: Link, row: Line) -> tuple[str, str]:
    """Title and text of anything but a step of a warm-up."""
    where = f"{row.street} · {row.room}" if row.room else row.street
    if row.kind == "booking":
        task = str(words.TASKS[row.detail["task"]])
        title = f"{task[:1].upper()}{task[1:]}: {where}"
        half = str(words.HALVES[row.detail["half"]])
        text = _("%(crew)s, half a day (%(half)s); the hours are usual ones.")
        return title, text % {"crew": row.crew or "", "half": half}
    if row.kind == "visit":
        who = ", ".join(dict.fromkeys((row.detail["trade"], row.detail["company"])))
        text = _("A floor may not bear walking then: look at the warning, or ask first.")
        return f"{who}: {where}", text
    caution = _(
        "Connections by a licensed electrician. Local code and the makers’ instructions rule."
    )
    if not row.likely:
        return _("Heat is on: %(room)s") % {"room": where}, caution
    text = _("The likely day; ask before you count on it.")
    rests_on = assumed_words(row.detail.get("assumed", ()))
    said = " ".join(filter(None, (text, rests_on, caution)))
    return _("Heat may come on, likely: %(room)s") % {"room": where}, said


def _warm_up_words(rows: Sequence[Line]) -> dict[UUID, tuple[str, str]]:
    """Title and text of the steps of warm-ups, each among those of its room."""
    by_room: dict[UUID | None, list[Line]] = defaultdict(list)
    for row in rows:
        if row.kind == "warm-up":
            by_room[row.room_id].append(row)
    said: dict[UUID, tuple[str, str]] = {}
    for steps in by_room.values():
        standing = [row for row in steps if not row.cancelled_at]
        for some in (standing, [row for row in steps if row.cancelled_at]):
            said |= {
                row.pk: (entry.title, entry.text)
                for row, entry in zip(some, _steps(some), strict=True)
            }
    return said


def _steps(rows: Sequence[Line]) -> Sequence[Worded]:
    if not rows:
        return ()
    first = rows[0]
    return calendar_entries(
        [
            Step(
                number=row.detail["number"],
                starts_at=row.starts_at,
                ends_at=row.ends_at,
                floor_c=row.detail["floor_c"],
            )
            for row in rows
        ],
        room=first.room or "",
        limit=Limit(celsius=first.detail["limit_c"], because=in_language(first.detail["because"])),
        rests_on=assumed_words(first.detail.get("assumed", ())),
        likely=first.likely,
        language=cast(Language, translation.get_language()),
        system=cast(System, first.units),
    )


def _day(row: Line, at: datetime) -> date:
    return at.astimezone(ZoneInfo(row.time_zone)).date()


def _url(link: Link, row: Line) -> str:
    """Where members read more; others have their own page."""
    if link.purpose != "feed":
        return ""
    return f"{settings.PUBLIC_URL}{_job_page(row.job_id)}"


@lru_cache(maxsize=4096)
def _job_page(job_id: UUID) -> str:
    return reverse("job", args=[job_id])


def _status(row: Line) -> Status:
    if row.cancelled_at:
        return "CANCELLED"
    return "TENTATIVE" if row.likely else "CONFIRMED"
