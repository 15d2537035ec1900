"""Jobs as their records tell now, in so many queries however many jobs there are."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any, TypeAlias, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Q, QuerySet, Value

from config.tenancy import Asker, TenantQuerySet
from jobs.models import Job, Room
from readings.models import Check
from scheduling.actions.facts import ASSUMED, layer_name
from scheduling.halfday import Half, HalfDay, half_day_span
from scheduling.models import (
    Booking,
    Certificate,
    DateMove,
    Decision,
    Layer,
    SignOff,
    Visit,
    WarmUpStep,
)
from scheduling.waiting import BookingNow, Exposure, JobNow, MoveNow, RoomNow, VisitNow

CERTIFICATE = "certificate"
Ids: TypeAlias = "QuerySet[Job, Any]"


def jobs_now(by: Asker, rows: TenantQuerySet[Job], now: datetime) -> list[JobNow]:
    """What is known of jobs that `by` may see, in the order of the rows."""
    jobs = list(rows)
    # As a subquery: a thousand ids spelt out cost more than all the rest.
    ids = rows.values("pk")
    zones = {job.pk: ZoneInfo(job.time_zone) for job in jobs}
    rooms = _rooms(by, ids)
    bookings = _bookings(by, ids, zones, now)
    visits = _visits(by, ids, now)
    signed: dict[UUID, set[str]] = defaultdict(set)
    certified = set()
    in_force = Certificate.objects.visible_to(by).filter(job__in=ids, voided_at=None)
    papers = SignOff.objects.visible_to(by).filter(job__in=ids).values_list("job_id", "kind")
    for job_id, kind in papers.union(in_force.values_list("job_id", Value(CERTIFICATE))):
        if kind == CERTIFICATE:
            certified.add(job_id)
        else:
            signed[job_id].add(kind)
    return [
        JobNow(
            id=job.pk,
            street=job.street,
            time_zone=job.time_zone,
            due_on=job.due_on,
            rooms=rooms[job.pk],
            bookings=bookings[job.pk],
            visits=visits[job.pk],
            signed=frozenset(signed[job.pk]),
            certified=job.pk in certified,
        )
        for job in jobs
    ]


def _rooms(by: Asker, jobs: Ids) -> dict[UUID, list[RoomNow]]:
    rows = (
        Room.objects.visible_to(by)
        .filter(job__in=jobs)
        .annotate(
            installed=Count("elements", filter=Q(elements__removed_at=None)),
            heated_at=Max("energizings__at", filter=Q(energizings__test_minutes=None)),
        )
        .order_by("pk")
        .values_list("pk", "job_id", "name", "installed", "heated_at")
    )
    covers = {
        layer.room_id: layer
        for layer in Layer.objects.visible_to(by)
        .filter(room__job__in=jobs, embeds=True, placed_at__isnull=False, removed_at=None)
        .only("room_id", "position", "placed_at", "curing", "contractor_id")
        .order_by("-placed_at")
    }
    stages: dict[UUID, dict[str, str]] = defaultdict(dict)
    failed: dict[UUID, datetime] = {}
    checks = (
        Check.objects.visible_to(by)
        .filter(room__job__in=jobs, superseded_by=None)
        .order_by("room_id", "stage", "-sequence")
        .distinct("room_id", "stage")
        .values_list("room_id", "stage", "outcome", "taken_at")
    )
    for room_id, stage, outcome, taken_at in checks:
        stages[room_id][stage] = outcome
        if outcome == "fail":
            failed[room_id] = max(taken_at, failed.get(room_id, taken_at))
    decisions: dict[UUID, Any] = {
        row["room_id"]: row
        for row in Decision.objects.visible_to(by)
        .filter(room__job__in=jobs)
        .order_by("room_id", "-pk")
        .distinct("room_id")
        .values("room_id", "may_energize", "earliest", "likely", "result__holds", "result__layers")
    }
    placed = Layer.objects.visible_to(by).filter(
        room__job__in=jobs, placed_at__isnull=False, removed_at=None
    )
    assumed = set(placed.filter(ASSUMED).values_list("room_id", flat=True))
    moved, stopped = _moved(by, jobs), _stopped(by, jobs)
    found: dict[UUID, list[RoomNow]] = defaultdict(list)
    for pk, job_id, name, installed, heated_at in rows:
        decision = decisions.get(pk, {})
        cover = covers.get(pk)
        found[job_id].append(
            RoomNow(
                id=pk,
                name=name,
                elements=installed,
                stages=stages[pk],
                failed_at=failed.get(pk),
                exposure=recorded_exposure(
                    stages[pk], cover, decision.get("result__layers"), heated_at
                ),
                covered=cover is not None,
                may_energize=decision.get("may_energize", False),
                likely=decision.get("likely"),
                earliest=decision.get("earliest"),
                holds=[
                    (hold["text"], hold["cleared_by"])
                    for hold in decision.get("result__holds") or ()
                ],
                heated_at=heated_at,
                moved=moved.get(pk),
                stopped=stopped.get(pk, ""),
                assumed=pk in assumed,
            )
        )
    return found


def _moved(by: Asker, jobs: Ids) -> dict[UUID, MoveNow]:
    """What the office has not read of each room's date: from before the first to the newest.

    A hold that cleared asks nothing of anybody.
    """
    rows = (
        DateMove.objects.visible_to(by)
        .filter(room__job__in=jobs, read_at=None)
        .exclude(kind="cleared")
        .order_by("pk")
        .values_list("room_id", "kind", "moved_at", "was", "likely", "why")
    )
    found: dict[UUID, MoveNow] = {}
    for room_id, kind, moved_at, was, likely, why in rows:
        first = found.get(room_id)
        held = next((said["text"] for _, said in why if "text" in said), "")
        found[room_id] = MoveNow(
            at=first.at if first else moved_at,
            was=first.was if first else was,
            likely=likely,
            held=held if kind == "held" and not (first and not first.held) else "",
        )
    return found


def _stopped(by: Asker, jobs: Ids) -> dict[UUID, str]:
    rows = WarmUpStep.objects.visible_to(by).filter(energizing__room__job__in=jobs, resumed_at=None)
    return dict(
        rows.exclude(stopped_because="").values_list("energizing__room_id", "stopped_because")
    )


def recorded_exposure(
    stages: Collection[str],
    cover: Layer | None,
    layers: Sequence[dict[str, Any]] | None,
    heated_at: datetime | None,
) -> Exposure:
    """What a list shows without working every room out anew: wet until the last decision says
    that the mortar bears walking. It may show `wet` too long, never too short."""
    if cover is None:
        return "bare" if "laid" in stages else "none"
    if heated_at is not None:
        return "embedded"
    curing = cover.curing or {}
    walk_hours = curing.get("walk_after_hours") or curing.get("heat_after_hours", 0.0)
    reached = {layer["id"]: layer["equivalent_hours"] for layer in layers or ()}
    return "embedded" if reached.get(layer_name(cover), 0.0) >= walk_hours else "wet"


def _bookings(
    by: Asker, jobs: Ids, zones: dict[UUID, ZoneInfo], now: datetime
) -> dict[UUID, list[BookingNow]]:
    rows = (
        Booking.objects.visible_to(by)
        .filter(job__in=jobs, cancelled_at=None, day__gte=(now - timedelta(days=1)).date())
        .order_by("day", "half", "pk")
        .values_list("job_id", "room_id", "task", "crew__name", "day", "half", "pinned")
    )
    found: dict[UUID, list[BookingNow]] = defaultdict(list)
    for job_id, room_id, task, crew, day, half, pinned in rows:
        start, end = half_day_span(HalfDay(day, cast(Half, half)), zones[job_id])
        if end > now:
            found[job_id].append(
                BookingNow(
                    room=room_id,
                    task=task,
                    crew=crew,
                    day=day,
                    half=half,
                    starts_at=start,
                    ends_at=end,
                    pinned=pinned,
                )
            )
    return found


def _visits(by: Asker, jobs: Ids, now: datetime) -> dict[UUID, list[VisitNow]]:
    standing = Q(notices__withdrawn_at=None, notices__replaced_by=None)
    rows = (
        Visit.objects.visible_to(by)
        .filter(job__in=jobs, cancelled_at=None, ends_at__gt=now)
        .annotate(
            warned=Count("notices", filter=standing),
            confirmed=Count("notices", filter=standing & Q(notices__acknowledged_at__isnull=False)),
            raised=Count("notices", filter=standing & Q(notices__raised_at__isnull=False)),
        )
        .order_by("starts_at", "pk")
        .values_list(
            "job_id",
            "room_id",
            "trade",
            "company",
            "phone",
            "starts_at",
            "ends_at",
            "warned",
            "confirmed",
            "raised",
        )
    )
    found: dict[UUID, list[VisitNow]] = defaultdict(list)
    for job_id, room_id, trade, company, phone, start, end, warned, confirmed, raised in rows:
        found[job_id].append(
            VisitNow(
                room=room_id,
                who=f"{trade} ({company})" if company else trade,
                phone=phone,
                starts_at=start,
                ends_at=end,
                warned=warned > 0,
                confirmed=warned > 0 and confirmed == warned,
                raised=raised > 0,
            )
        )
    return found
