"""What a job waits for, and whether somebody of the office must act: worst first, with the reason.

Every open job waits for exactly one of `BANDS`. It needs a person if somebody or a cable could be
hurt, if proof is about to be covered, if a date moves, or if a paper is missing: the groups of
`NEEDS`, in that order. Sentences come as a key of `SAYS` with its figures, so that a page can say
them in its language.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

Band = Literal["us", "mortar", "crews", "trades", "customers", "nobody"]
Group = Literal["people", "proof", "dates", "papers"]
Exposure = Literal["none", "bare", "wet", "embedded"]

BANDS: tuple[Band, ...] = ("us", "mortar", "crews", "trades", "customers", "nobody")
NEEDS: tuple[Group, ...] = ("people", "proof", "dates", "papers")

SOON = timedelta(hours=36)
"""A visit so near is a matter of today: there is one night to reach somebody."""

COVERS_WITHIN = timedelta(days=2)
"""Mortar booked so soon: what is not measured by then cannot be measured on the bare cable."""

FAR = datetime(9000, 1, 1, tzinfo=UTC)

SAYS = {
    "visit": "{who} is due here and has not confirmed the warning.",
    "failed": "“{stage}” failed. The circuit stays off until the cause is found.",
    "cover-unproven": "Mortar is booked, and “{stage}” is not passed. After covering it cannot be "
    "repeated on the bare cable.",
    "undecided": "“{stage}” is undecided. Measure again, so that it can be decided.",
    "late": "Heat may come on only after the due date.",
    "overdue": "The due date has passed.",
    "raised": "{who} was not reached, or has not answered though asked again.",
    "sign": "Everything is proven. The electrician has not signed.",
    "issue": "Everything is proven and signed. The certificate can be issued.",
    "cure": "hardens",
    "moved": "Heat may come on likely on {day} now, not on {was}.",
    "date-lost": "There is no date for heat any more; it was {was}.",
    "date-back": "There is a date for heat again: likely {day}.",
    "held": "New: {what}",
    "stopped": "The warm-up was stopped: {what}",
    "hold": "{what}",
    "booked": "{task}, {crew}",
    "unbooked": "no crew booked yet",
    "heat": "heat may come on",
    "trade": "{who}",
    "customer": "the customer has not signed",
    "close": "certificate issued",
}

ORDER = ("arrival", "laid", "covered", "handover")


# Sentences with a date that follows from how the mortar hardens.
HARDENS: frozenset[str] = frozenset({"late", "cure", "moved", "date-back"})


class Said(NamedTuple):
    """A sentence: a key of `SAYS` and what is put into it."""

    key: str
    figures: Mapping[str, str]

    def rests_on(self, room: "RoomNow | None") -> bool:
        """Whether its date rests on figures without a data sheet."""
        return room is not None and bool(room.assumed) and self.key in HARDENS


class MoveNow(NamedTuple):
    """News of a room's date that the office has not read: since when, from what to what.

    `held` is the new hold where the date itself stayed.
    """

    at: datetime
    was: datetime | None
    likely: datetime | None
    held: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNow:
    """One room as its records tell. `stages` has the outcome of each stage that was checked."""

    id: UUID
    name: str
    elements: int = 0
    stages: Mapping[str, str] = field(default_factory=dict)
    failed_at: datetime | None = None
    exposure: Exposure = "none"
    covered: bool = False
    may_energize: bool = False
    likely: datetime | None = None
    earliest: datetime | None = None
    holds: Sequence[tuple[str, str]] = ()  # what, and who clears it how
    heated_at: datetime | None = None
    moved: MoveNow | None = None
    stopped: str = ""  # why the warm-up was stopped and not gone on with
    assumed: Sequence[str] = ()  # materials of its layers without a data sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingNow:
    """The next half-day that a crew has in this job."""

    room: UUID | None
    task: str
    crew: str
    day: date
    half: str
    starts_at: datetime
    ends_at: datetime
    pinned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitNow:
    """Another trade that is to come; `warned` and `confirmed` tell of its notice."""

    room: UUID | None
    who: str
    phone: str
    starts_at: datetime
    ends_at: datetime
    warned: bool = False
    confirmed: bool = False
    raised: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JobNow:
    """One open job as its records tell; bookings and visits are those not yet over, and
    `last_booked_on` is the day of the last booking of all."""

    id: UUID
    street: str
    time_zone: str
    due_on: date | None
    last_booked_on: date | None = None
    rooms: Sequence[RoomNow] = ()
    bookings: Sequence[BookingNow] = ()
    visits: Sequence[VisitNow] = ()
    signed: frozenset[str] = frozenset()
    certified: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Why a person must act: `mark` is the state shown, `room` what it is about (None: the job).

    `until` is when it is too late, `since` from when it waits; `call` is a phone number if a call
    is what helps.
    """

    group: Group
    mark: str
    says: Said
    room: RoomNow | None = None
    until: datetime | None = None
    since: datetime | None = None
    call: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What a job waits for: its band, the state that shows it, the room, until when."""

    band: Band
    mark: str
    says: Said
    room: RoomNow | None
    until: datetime | None
    needs: tuple[Need, ...]


def waiting(job: JobNow, now: datetime) -> Waiting:
    """Return what an open job waits for."""
    needs = tuple(sorted(_needs(job, now), key=_urgency))
    if needs:
        first = needs[0]
        return Waiting(
            band="us",
            mark=first.mark,
            says=first.says,
            room=first.room,
            until=first.until,
            needs=needs,
        )
    return _quiet(job, now)


def days_late(job: JobNow) -> int | None:
    """Days from the due date to the last booking behind it; None if there is none."""
    if job.due_on is None or job.last_booked_on is None or job.last_booked_on <= job.due_on:
        return None
    return (job.last_booked_on - job.due_on).days


def changes_at(job: JobNow, now: datetime) -> datetime | None:
    """The next instant at which time alone may change what `waiting` returns; None for never."""
    zone = ZoneInfo(job.time_zone)
    turns = [room.earliest for room in job.rooms if room.earliest]
    for visit in job.visits:
        turns += [visit.starts_at - SOON, visit.starts_at, visit.ends_at]
    for booking in job.bookings:
        turns += [booking.starts_at - COVERS_WITHIN, booking.ends_at]
    if job.due_on is not None:
        turns.append(datetime.combine(job.due_on + timedelta(days=1), time(), zone))
    return min((turn for turn in turns if turn > now), default=None)


def _urgency(need: Need) -> tuple[int, datetime]:
    return NEEDS.index(need.group), need.until or FAR


def _needs(job: JobNow, now: datetime) -> Iterator[Need]:
    rooms = {room.id: room for room in job.rooms}
    for visit in job.visits:
        room = rooms.get(visit.room) if visit.room else None
        if not visit.warned or visit.confirmed or visit.starts_at <= now:
            continue
        mark = room.exposure if room is not None else "hold"
        if visit.starts_at - now <= SOON:
            yield Need(
                group="people",
                mark=mark,
                says=Said("visit", {"who": visit.who}),
                room=room,
                until=visit.starts_at,
                call=visit.phone,
            )
        elif visit.raised:
            yield Need(
                group="dates",
                mark="hold",
                says=Said("raised", {"who": visit.who}),
                room=room,
                until=visit.starts_at,
                call=visit.phone,
            )
    for room in job.rooms:
        yield from _needs_of_room(job, room, now)
    yield from _needs_of_dates(job, now)
    yield from _needs_of_papers(job)


def _needs_of_room(job: JobNow, room: RoomNow, now: datetime) -> Iterator[Need]:
    if room.stopped:
        yield Need(
            group="people", mark="fail", says=Said("stopped", {"what": room.stopped}), room=room
        )
    failed = [stage for stage in ORDER if room.stages.get(stage) == "fail"]
    if failed:
        yield Need(
            group="people" if room.covered else "proof",
            mark="fail",
            says=Said("failed", {"stage": failed[-1]}),
            room=room,
            since=room.failed_at,
        )
        return
    covering = [
        booking
        for booking in job.bookings
        if booking.task == "embed" and booking.room in (room.id, None)
    ]
    soon = [booking for booking in covering if booking.starts_at - now <= COVERS_WITHIN]
    if soon and room.elements and not room.covered and room.stages.get("laid") != "pass":
        undecided = room.stages.get("laid") == "undecided"
        yield Need(
            group="proof",
            mark="undecided" if undecided else "todo",
            says=Said("cover-unproven", {"stage": "laid"}),
            room=room,
            until=soon[0].starts_at,
        )
    elif undecided_stages := [s for s in ORDER if room.stages.get(s) == "undecided"]:
        yield Need(
            group="proof",
            mark="undecided",
            says=Said("undecided", {"stage": undecided_stages[-1]}),
            room=room,
        )


def _needs_of_dates(job: JobNow, now: datetime) -> Iterator[Need]:
    cold = [room for room in job.rooms if room.heated_at is None]
    for room in cold:
        if room.moved:
            yield Need(
                group="dates",
                mark="hold" if room.moved.held else "moved",
                says=_says_moved(room.moved, job.time_zone),
                room=room,
                since=room.moved.at,
            )
    for room in cold:
        if room.covered and room.holds and room.earliest and room.earliest <= now:
            what = room.holds[0][0]
            yield Need(group="dates", mark="hold", says=Said("hold", {"what": what}), room=room)
    if job.due_on is None or job.certified:
        return
    zone = ZoneInfo(job.time_zone)
    late = [
        room for room in cold if room.likely and room.likely.astimezone(zone).date() > job.due_on
    ]
    if late:
        slowest = max(late, key=lambda room: room.likely or FAR)
        yield Need(
            group="dates", mark="late", says=Said("late", {}), room=slowest, until=slowest.likely
        )
    elif job.due_on < now.astimezone(zone).date() and (cold or not job.rooms):
        yield Need(group="dates", mark="late", says=Said("overdue", {}))


def _says_moved(moved: MoveNow, zone: str) -> Said:
    if moved.held:
        return Said("held", {"what": moved.held})
    days = {"was": moved.was, "day": moved.likely}
    figures = {name: at.isoformat() for name, at in days.items() if at} | {"zone": zone}
    if moved.likely is None:
        return Said("date-lost", figures)
    return Said("moved" if moved.was else "date-back", figures)


def _needs_of_papers(job: JobNow) -> Iterator[Need]:
    if job.certified or not _proven(job):
        return
    if "electrician" not in job.signed:
        yield Need(group="papers", mark="hold", says=Said("sign", {}))
    elif "customer" in job.signed:
        yield Need(group="papers", mark="cleared", says=Said("issue", {}))


def _quiet(job: JobNow, now: datetime) -> Waiting:
    """What a job waits for of which nobody has to take care."""

    def is_(
        band: Band,
        mark: str,
        key: str,
        room: RoomNow | None = None,
        until: datetime | None = None,
        **figures: str,
    ) -> Waiting:
        said = Said(key, figures)
        return Waiting(band=band, mark=mark, says=said, room=room, until=until, needs=())

    if job.certified:
        return is_("nobody", "cleared", "close")
    curing = [room for room in job.rooms if room.covered and not room.heated_at]
    if unready := [room for room in curing if not room.may_energize]:
        slowest = max(unready, key=lambda room: room.likely or FAR)
        mark = slowest.exposure if slowest.exposure != "none" else "wet"
        return is_("mortar", mark, "cure", slowest, slowest.likely)
    if job.bookings:
        booking = job.bookings[0]
        return is_(
            "crews",
            "frozen" if booking.pinned else "booked",
            "booked",
            next((room for room in job.rooms if room.id == booking.room), None),
            booking.starts_at,
            task=booking.task,
            crew=booking.crew,
        )
    if coming := [visit for visit in job.visits if visit.starts_at > now]:
        visit = coming[0]
        room_of = next((room for room in job.rooms if room.id == visit.room), None)
        return is_("trades", "todo", "trade", room_of, visit.starts_at, who=visit.who)
    if curing:
        return is_("crews", "cleared", "heat", curing[0])
    if _proven(job) and "electrician" in job.signed:
        return is_("customers", "hold", "customer")
    return is_("crews", "todo", "unbooked", job.rooms[0] if job.rooms else None)


def _proven(job: JobNow) -> bool:
    return bool(job.rooms) and all(
        room.heated_at and room.stages.get("handover") == "pass" for room in job.rooms
    )
