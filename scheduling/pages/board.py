"""What needs a person, and all open jobs by what they wait for."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from config.pages import page
from jobs.models import Job, Member
from jobs.requests import PageRequest
from scheduling.pages import words
from scheduling.pages.now import jobs_now
from scheduling.waiting import BANDS, NEEDS, JobNow, Need, Waiting, waiting

# More open jobs than this at once are beyond one office; the newest are shown.
MOST_OPEN = 2_000
BAND = 50


@dataclass(frozen=True, slots=True)
class NeedRow:
    """One row of the page: state, place, reason, time, and the one thing to do."""

    mark: str
    place: str
    url: str
    reason: str
    until: datetime | None
    since: datetime | None
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
    zone: str
    job: JobNow


@page("GET")
def home(request: PageRequest) -> HttpResponse:
    waits = _waits(request.user, request.now)
    needing = [(job, waits_for) for job, waits_for in waits if waits_for.needs]
    groups: dict[str, list[tuple[Need, JobNow]]] = defaultdict(list)
    for job, waits_for in needing:
        for need in waits_for.needs:
            groups[need.group].append((need, job))
    shown = [
        (words.NEEDS[group], [_need_row(need, job) for need, job in groups[group]])
        for group in NEEDS
        if groups[group]
    ]
    others = [w for _, w in waits if not w.needs]
    bands = Counter(waits_for.band for waits_for in others)
    ready = [w.until for w in others if w.band == "mortar" and w.until]
    context = {
        "here": "home",
        "groups": shown,
        "needing": len(needing),
        "open": len(waits),
        "others": [(words.BANDS[band], band, bands[band]) for band in BANDS if bands[band]],
        "next_ready": min(ready, default=None),
        "zone": request.user.contractor.time_zone,
    }
    return render(request, "scheduling/home.html", context)


@page("GET")
def board(request: PageRequest) -> HttpResponse:
    rows: dict[str, list[BandRow]] = defaultdict(list)
    for job, waits_for in _waits(request.user, request.now):
        rows[waits_for.band].append(_band_row(job, waits_for))
    whole = request.GET.get("all", "")
    bands = [
        (band, words.BANDS[band], found if band == whole else found[:BAND], len(found))
        for band in BANDS
        if (found := rows[band])
    ]
    context = {"here": "jobs", "bands": bands, "open": sum(n for *_, n in bands)}
    return render(request, "scheduling/board.html", context)


def _waits(member: Member, now: datetime) -> list[tuple[JobNow, Waiting]]:
    jobs = (
        Job.objects.visible_to(member)
        .filter(closed_at=None)
        .only("pk", "street", "time_zone", "due_on", "contractor_id")
        .order_by("-pk")[:MOST_OPEN]
    )
    found = [(job, waiting(job, now)) for job in jobs_now(member, jobs, now)]
    return sorted(found, key=lambda pair: (pair[1].until is None, pair[1].until or now))


def _need_row(need: Need, job: JobNow) -> NeedRow:
    url = reverse("room", args=[need.room.id]) if need.room else reverse("job", args=[job.id])
    label, act = str(words.LOOK), url
    if need.call:
        label, act = words.called(need), f"tel:{need.call}"
    elif need.says.key in ("failed", "undecided", "cover-unproven") and need.room:
        label, act = _("See the readings"), reverse("checks", args=[need.room.id])
    elif need.says.key in ("sign", "issue"):
        label, act = _("See what is missing"), reverse("handover", args=[job.id])
    return NeedRow(
        mark=need.mark,
        place=f"{job.street} · {need.room.name}" if need.room else job.street,
        url=url,
        reason=words.sentence(need.says),
        until=need.until,
        since=need.since,
        zone=job.time_zone,
        label=label,
        act=act,
    )


def _band_row(job: JobNow, waits_for: Waiting) -> BandRow:
    reason = words.sentence(waits_for.says)
    if waits_for.room is not None:
        reason = f"{waits_for.room.name}: {reason[:1].lower()}{reason[1:]}"
    return BandRow(
        mark=waits_for.mark,
        place=job.street,
        url=reverse("job", args=[job.id]),
        reason=reason,
        until=waits_for.until,
        zone=job.time_zone,
        job=job,
    )
