"""Other trades that tell their own times: their page behind a private link, and asking them in."""

from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from config.pages import TimedRequest, page, private_page, public_page
from config.tenancy import editable, may_write, visible
from jobs.models import Job, Link, Room
from jobs.pages.filling import filled, offer, sent
from jobs.requests import PageRequest
from scheduling.actions import trades
from scheduling.actions.exposures import windows_of
from scheduling.actions.facts import assumed_in, layers_of
from scheduling.actions.notices import conflicts_of
from scheduling.actions.visit_imports import Source
from scheduling.exposure import Window, exposure_at
from scheduling.forms import ImportForm, TradeForm
from scheduling.models import Visit, VisitingTrade
from scheduling.pages import words
from scheduling.pages.feeds import followed
from scheduling.pages.public import other_languages, speaking
from scheduling.pages.visit_imports import against, looked_at

MOST_SHOWN = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """One room as a trade needs to know it before it comes."""

    name: str
    state: str
    head: str
    text: str
    until: datetime | None
    likely: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Time:
    """One of a trade's visits, and what stands against it."""

    visit: Visit
    against: tuple[str, ...]
    nearest_at: datetime | None


@private_page("GET", "POST")
def trade_page(request: TimedRequest, secret: str) -> HttpResponseBase:
    link, trade = _opened(request, secret)
    with speaking(request, trade.language):
        posted = request.method == "POST"
        if posted and request.POST.get("deed") == "off":
            _call_off(request, link, trade)
            return redirect(f"{request.path}?{request.GET.urlencode()}#times")
        form = ImportForm(request.POST if posted else None, request.FILES if posted else None)
        found, taken = looked_at(request, form, lambda given: _source(trade, given))
        if taken:
            return redirect(f"{request.path}?{request.GET.urlencode()}#times")
        rooms = list(
            Room.objects.visible_to(link).filter(job=trade.job).select_related("job").order_by("pk")
        )
        layers = layers_of(rooms)
        windows = windows_of(rooms, at=request.now, layers=layers)
        context = {
            "contractor": trade.job.contractor,
            "job": trade.job,
            "trade": trade,
            "assumed": assumed_in(chain(*layers.values())),
            "floors": [_floor(room, windows[str(room.pk)], request.now) for room in rooms],
            "times": _times(
                request, link, trade, windows, {str(room.pk): room.name for room in rooms}
            ),
            "form": form,
            "preview": found,
            "activities": [words.ACTIVITIES[name] for name in trade.activities],
            "languages": other_languages(request),
            "secret": secret,
        }
        status = 422 if form.errors else 200
        return render(request, "scheduling/trade.html", context, status=status)


@public_page("GET")
def trade_calendar(request: TimedRequest, secret: str) -> HttpResponseBase:
    """A trade's own times, to follow in its calendar."""
    link, trade = _opened(request, secret)
    return followed(request, link, language=trade.language)


@page("GET", "POST")
def trade_add(request: PageRequest, job_id: UUID) -> HttpResponse:
    """Let a trade tell its own times; its address is shown once."""
    job = visible(Job.objects.all(), request.user, pk=job_id)
    may_write(VisitingTrade, request.user)
    form = TradeForm(sent(request))
    offer(form, activities=words.ACTIVITIES)

    def do(given: dict[str, Any]) -> HttpResponse:
        trade = trades.ask_in(job=job, fields=given)
        return _address(request, trade)

    lead = _("It gets a private page: what the floors are like, and a place to tell its times.")
    title = _("Let a trade tell its times")
    return filled(
        request, form, do, title=f"{job.street}: {title}", lead=lead, act=title, here="jobs"
    )


@page("GET", "POST")
def trade_link(request: PageRequest, trade_id: UUID) -> HttpResponse:
    """Another private address for a trade; those made before stay good."""
    rows = VisitingTrade.objects.select_related("job")
    trade = editable(rows, request.user, pk=trade_id)
    if request.method == "POST":
        return _address(request, trade)
    shown = {"job": trade.job, "trade": trade, "url": "", "here": "jobs"}
    return render(request, "scheduling/trade_link.html", shown)


def _address(request: PageRequest, trade: VisitingTrade) -> HttpResponse:
    url = trades.link_to(trade, at=request.now)
    shown = {"job": trade.job, "trade": trade, "url": url, "here": "jobs"}
    return render(request, "scheduling/trade_link.html", shown)


def _opened(request: TimedRequest, secret: str) -> tuple[Link, VisitingTrade]:
    found = trades.trade_by_secret(secret, at=request.now)
    if found is None:
        raise Http404
    return found


def _source(trade: VisitingTrade, given: dict[str, Any]) -> Source:
    names = ("trade", "company", "email", "phone", "language", "activities")
    return Source(
        job=trade.job,
        told_by=trade,
        calendar=given["calendar"],
        lines=given["lines"],
        fields={name: getattr(trade, name) for name in names},
    )


def _call_off(request: TimedRequest, link: Link, trade: VisitingTrade) -> None:
    try:
        visit_id = UUID(request.POST.get("visit", ""))
    except ValueError as error:
        raise Http404 from error
    own = Visit.objects.filter(announced_by=trade)
    trades.call_off(visit=visible(own, link, pk=visit_id), at=request.now)


def _floor(room: Room, windows: tuple[Window, ...], now: datetime) -> Floor:
    window = exposure_at(windows, now)
    return Floor(
        name=room.name,
        state=window.state,
        head=str(words.KEEP[window.state]),
        text=str(words.LIES[window.state]),
        until=window.ends_at,
        likely=window.likely,
    )


def _times(
    request: TimedRequest,
    link: Link,
    trade: VisitingTrade,
    windows: dict[str, tuple[Window, ...]],
    names: dict[str, str],
) -> list[Time]:
    visits = (
        Visit.objects.visible_to(link)
        .filter(announced_by=trade, cancelled_at=None, ends_at__gt=request.now)
        .select_related("room")
        .order_by("starts_at", "pk")
    )
    found = []
    for visit in visits[:MOST_SHOWN]:
        met = conflicts_of(visit, at=request.now, windows=windows)
        found.append(
            Time(
                visit=visit,
                against=against(met, names),
                nearest_at=met[0].nearest_start_at if met else None,
            )
        )
    return found
