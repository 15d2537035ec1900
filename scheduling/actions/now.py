"""Jobs as their records tell now, in so many queries however many jobs there are."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, TypeAlias, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import JSONObject

from config.tenancy import Asker, TenantQuerySet
from jobs.models import Element, Job, Room
from readings.models import Check
from scheduling.actions.facts import ASSUMED, layer_name
from scheduling.halfday import Half, HalfDay, half_day_span
from scheduling.models import (
    Booking,
    Certificate,
    DateMove,
    Decision,
    Energizing,
    Layer,
    SignOff,
    Visit,
    WarmUpStep,
)
from scheduling.waiting import BookingNow, Exposure, JobNow, MoveNow, RoomNow, VisitNow

Ids: TypeAlias = "QuerySet[Job, Any]"


def jobs_now(by: Asker, rows: TenantQuerySet[Job], now: datetime) -> list[JobNow]:
    """What is known of jobs that `by` may see, in the order of the rows, in four queries."""
    jobs: list[Any] = list(rows.annotate(**_papers(by), last_booked_on=_last_booked_on(by)))
    # As a subquery: a thousand ids spelt out cost more than all the rest.
    ids = rows.values("pk")
    zones = {job.pk: ZoneInfo(job.time_zone) for job in jobs}
    rooms = _rooms(by, ids)
    bookings = _bookings(by, ids, zones, now)
    visits = _visits(by, ids, now)
    return [
        JobNow(
            id=job.pk,
            street=job.street,
            time_zone=job.time_zone,
            due_on=job.due_on,
            last_booked_on=job.last_booked_on,
            rooms=rooms[job.pk],
            bookings=bookings[job.pk],
            visits=visits[job.pk],
            signed=frozenset(job.signed),
            certified=job.certified,
        )
        for job in jobs
    ]


def _papers(by: Asker) -> dict[str, Any]:
    """Who signed for a job, and whether a certificate is in force."""
    signed = SignOff.objects.visible_to(by).filter(job=OuterRef("pk"))
    in_force = Certificate.objects.visible_to(by).filter(job=OuterRef("pk"), voided_at=None)
    return {"signed": ArraySubquery(signed.values("kind")), "certified": Exists(in_force)}


def _last_booked_on(by: Asker) -> Subquery:
    bookings = Booking.objects.visible_to(by).filter(job=OuterRef("pk"), cancelled_at=None)
    return Subquery(bookings.order_by("-day").values("day")[:1])


def _rooms(by: Asker, jobs: Ids) -> dict[UUID, list[RoomNow]]:
    records = _records(by)
    rows = Room.objects.visible_to(by).filter(job__in=jobs).annotate(**records).order_by("pk")
    found: dict[UUID, list[RoomNow]] = defaultdict(list)
    for row in rows.values("pk", "job_id", "name", *records):
        stages = {check["stage"]: check["outcome"] for check in row["latest_checks"]}
        failed = [check["taken_at"] for check in row["latest_checks"] if check["outcome"] == "fail"]
        decision = row["decision"] or {}
        cover = Layer(**row["cover"]) if row["cover"] else None
        found[row["job_id"]].append(
            RoomNow(
                id=row["pk"],
                name=row["name"],
                elements=len(row["fitted"]),
                stages=stages,
                failed_at=max(map(datetime.fromisoformat, failed), default=None),
                exposure=recorded_exposure(stages, cover, decision.get("layers"), row["heated_at"]),
                covered=cover is not None,
                may_energize=decision.get("may_energize", False),
                likely=_instant(decision.get("likely")),
                earliest=_instant(decision.get("earliest")),
                holds=[(hold["text"], hold["cleared_by"]) for hold in decision.get("holds") or ()],
                heated_at=row["heated_at"],
                moved=_moved(row["unread"]),
                stopped=row["stopped"] or "",
                assumed=tuple(dict.fromkeys(row["assumed"])),
            )
        )
    return found


def _records(by: Asker) -> dict[str, Any]:
    """What the records of a room tell, as columns of a query for rooms: a table each, and in JSON
    where it is more than one value."""
    room = {"room": OuterRef("pk")}
    elements = Element.objects.visible_to(by).filter(**room, removed_at=None)
    checks = Check.objects.visible_to(by).filter(**room, superseded_by=None)
    placed = Layer.objects.visible_to(by).filter(**room, placed_at__isnull=False, removed_at=None)
    decisions = Decision.objects.visible_to(by).filter(**room)
    # A hold that cleared asks nothing of anybody.
    unread = DateMove.objects.visible_to(by).filter(**room, read_at=None).exclude(kind="cleared")
    heated = Energizing.objects.visible_to(by).filter(**room, test_minutes=None)
    stops = WarmUpStep.objects.visible_to(by).filter(
        energizing__room=OuterRef("pk"), resumed_at=None
    )
    return {
        "fitted": ArraySubquery(elements.values("pk")),
        "latest_checks": ArraySubquery(
            checks.order_by("stage", "-sequence")
            .distinct("stage")
            .values(json=_tree("stage", "outcome", "taken_at"))
        ),
        "cover": Subquery(
            placed.filter(embeds=True)
            .order_by("placed_at", "pk")
            .values(json=_tree("position", "curing"))[:1]
        ),
        "assumed": ArraySubquery(
            placed.filter(ASSUMED).order_by("position", "pk").values("material__name")
        ),
        "decision": Subquery(
            decisions.order_by("-pk").values(
                json=_tree(
                    *("may_energize", "earliest", "likely"),
                    holds="result__holds",
                    layers="result__layers",
                )
            )[:1]
        ),
        "unread": ArraySubquery(
            unread.order_by("pk").values(json=_tree("kind", "moved_at", "was", "likely", "why"))
        ),
        "heated_at": Subquery(heated.values("at")[:1]),
        "stopped": Subquery(stops.exclude(stopped_because="").values("stopped_because")[:1]),
    }


def _tree(*names: str, **others: str) -> JSONObject:
    return JSONObject(**{name: name for name in names}, **others)


def _instant(text: str | None) -> datetime | None:
    """An instant as JSON has it."""
    return datetime.fromisoformat(text) if text else None


def _moved(unread: Sequence[Mapping[str, Any]]) -> MoveNow | None:
    """What the office has not read of a room's date: from before the first to the newest."""
    if not unread:
        return None
    first, newest = unread[0], unread[-1]
    holds = [said["text"] for _, said in newest["why"] if "text" in said]
    only_held = all(move["kind"] == "held" for move in unread)
    return MoveNow(
        at=datetime.fromisoformat(first["moved_at"]),
        was=_instant(first["was"]),
        likely=_instant(newest["likely"]),
        held=next(iter(holds), "") if only_held else "",
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
