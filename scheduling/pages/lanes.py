"""A job's rooms over time: a fragment of its page, and a page of its own without script."""

from itertools import chain
from typing import NamedTuple, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import get_language
from django.views.decorators.vary import vary_on_headers

from config.marks import MARKS
from config.pages import page
from config.tenancy import visible
from jobs.models import Job, Room
from jobs.requests import PageRequest
from scheduling.actions.exposures import windows_of
from scheduling.actions.facts import assumed_in, layers_of
from scheduling.chart_words import Language
from scheduling.exposure import END, Window
from scheduling.lanes import FOOT, LANE, Stretch, lanes
from scheduling.pages import words


class Shown(NamedTuple):
    stretch: Stretch
    tone: str
    word: str


class Turn(NamedTuple):
    """One state of a room, now or to come, in words."""

    room: Room
    window: Window
    mark: str
    says: str
    now: bool


@page("GET")
@vary_on_headers("HX-Request")
def job_lanes(request: PageRequest, job_id: UUID) -> HttpResponse:
    job = visible(Job.objects.all(), request.user, pk=job_id)
    rooms = list(
        Room.objects.visible_to(request.user)
        .filter(job=job)
        .select_related("job")
        .order_by("name", "pk")
    )
    layers = layers_of(rooms)
    windows = windows_of(rooms, at=request.now, layers=layers) if rooms else {}
    drawn = lanes(
        [(room.name, windows[str(room.pk)]) for room in rooms],
        now=request.now,
        zone=ZoneInfo(job.time_zone),
        language=cast(Language, get_language() or "en"),
    )
    context = {
        "here": "jobs",
        "job": job,
        "drawn": drawn,
        "assumed": assumed_in(chain(*layers.values())),
        "lane_high": LANE,
        "bottom": drawn.height - FOOT,
        "shown": [(lane, [_shown(each) for each in lane.stretches]) for lane in drawn.lanes],
        "turns": [
            _turn(room, window, now=(window.starts_at is None or window.starts_at <= request.now))
            for room in rooms
            for window in windows[str(room.pk)]
            if (window.ends_at or END) > request.now
        ],
    }
    name = "scheduling/_lanes.html" if request.htmx else "scheduling/lanes.html"
    return render(request, name, context)


def _shown(stretch: Stretch) -> Shown:
    word = str(words.WARM if stretch.state == "cleared" else MARKS[stretch.state].word)
    return Shown(stretch, MARKS[stretch.state].tone, word if stretch.fits_word(word) else "")


def _turn(room: Room, window: Window, *, now: bool) -> Turn:
    warm = window.state == "embedded" and "switching-on" not in window.forbids
    says = words.EXPOSURES[window.state]
    if window.state == "embedded" and not warm:
        says = words.STILL_COLD
    return Turn(room, window, window.state, str(says), now)
