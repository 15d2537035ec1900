"""What needs a person, and all open jobs by what they wait for."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, F, Min, QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from config.pages import page
from jobs.models import Job
from jobs.requests import PageRequest
from scheduling.actions.sample import has_sample
from scheduling.actions.standing import bring_up_to_date
from scheduling.models import JobNeed, JobWait
from scheduling.pages import words
from scheduling.waiting import BANDS, NEEDS, Said

MOST = 50
MORE = 100
SHOWN = (
    *("contractor", "mark", "says", "figures", "assumed", "until", "job", "room"),
    *("job__contractor", "job__street", "job__time_zone", "job__due_on"),
    *("room__contractor", "room__job", "room__name"),
)
URGENT = (F("until").asc(nulls_last=True), "job", "pk")


@dataclass(frozen=True, slots=True)
class NeedRow:
    """One row of the page: state, place, reason, time, and the one thing to do."""

    mark: str
    place: str
    url: str
    reason: str
    until: datetime | None
    since: datetime | None
    assumed: bool
    zone: str
    label: str
    act: str


@dataclass(frozen=True, slots=True)
class BandRow:
    mark: str
    place: str
    url: str
    reason: str
    until: datetime | None
    assumed: bool
    zone: str
    job: Job


@page("GET")
def home(request: PageRequest) -> HttpResponse:
    bring_up_to_date(request.user, at=request.now)
    bands = _bands(request)
    mortar = JobWait.objects.visible_to(request.user).filter(band="mortar")
    counts = _counts(JobNeed.objects.visible_to(request.user), "group")
    needs = [group for group in NEEDS if group in counts]
    context = {
        "here": "home",
        "groups": [(words.NEEDS[each], _needs(request, each), counts[each]) for each in needs],
        "needing": bands.get("us", 0),
        "open": sum(bands.values()),
        "others": [(words.BANDS[band], band, n) for band, n in bands.items() if band != "us"],
        "next_ready": mortar.aggregate(first=Min("until"))["first"],
        "zone": request.user.contractor.time_zone,
        "sample": has_sample(request.user),
    }
    return render(request, "scheduling/home.html", context)


@page("GET")
def board(request: PageRequest) -> HttpResponse:
    bring_up_to_date(request.user, at=request.now)
    counts = _bands(request)
    whole = request.GET.get("all", "")
    start = 0
    with suppress(ValueError):
        start = max(0, int(request.GET.get("from", "0")))
    bands = []
    for band, count in counts.items():
        first, size = (min(start, count), MORE) if band == whole else (0, MOST)
        rows = (
            JobWait.objects.visible_to(request.user)
            .filter(band=band)
            .select_related("job", "room")
            .only(*SHOWN)
            .order_by(*URGENT)[first : first + size]
        )
        found = [_band_row(row) for row in rows]
        after = first + len(found)
        bands.append((band, words.BANDS[band], found, count, after if after < count else 0))
    context = {"here": "jobs", "bands": bands, "open": sum(counts.values()), "whole": whole}
    return render(request, "scheduling/board.html", context)


def _bands(request: PageRequest) -> dict[str, int]:
    """How many jobs wait for each, in the order of the page; none for none."""
    counts = _counts(JobWait.objects.visible_to(request.user), "band")
    return {band: counts[band] for band in BANDS if band in counts}


def _counts(rows: QuerySet[Any], by: str) -> dict[str, int]:
    return dict(rows.order_by().values(by).annotate(n=Count("pk")).values_list(by, "n"))


def _needs(request: PageRequest, group: str) -> list[NeedRow]:
    needs = JobNeed.objects.visible_to(request.user).filter(group=group)
    return [_need_row(row) for row in needs.select_related("job", "room").order_by(*URGENT)[:MOST]]


def _need_row(need: JobNeed) -> NeedRow:
    url = (
        reverse("room", args=[need.room_id]) if need.room_id else reverse("job", args=[need.job_id])
    )
    said = Said(need.says, need.figures)
    label, act = str(words.LOOK), url
    if need.call:
        label, act = words.called(said), f"tel:{need.call}"
    elif need.says in ("failed", "undecided", "cover-unproven") and need.room_id:
        label, act = _("See the readings"), reverse("checks", args=[need.room_id])
    elif need.says in ("sign", "issue"):
        label, act = _("See what is missing"), reverse("handover", args=[need.job_id])
    return NeedRow(
        mark=need.mark,
        place=f"{need.job.street} · {need.room.name}" if need.room else need.job.street,
        url=url,
        reason=words.sentence(said),
        until=need.until,
        since=need.since,
        assumed=need.assumed,
        zone=need.job.time_zone,
        label=label,
        act=act,
    )


def _band_row(row: JobWait) -> BandRow:
    reason = words.sentence(Said(row.says, row.figures))
    if row.room is not None:
        reason = f"{row.room.name}: {reason[:1].lower()}{reason[1:]}"
    return BandRow(
        mark=row.mark,
        place=row.job.street,
        url=reverse("job", args=[row.job_id]),
        reason=reason,
        until=row.until,
        assumed=row.assumed,
        zone=row.job.time_zone,
        job=row.job,
    )
