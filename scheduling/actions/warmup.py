"""The first heating of a room: its plan, and its steps ticked off or stopped."""

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.db import transaction

from config.errors import DomainError
from config.tenancy import told
from jobs.models import Member, Room
from readings.flags import CLOCK_WRONG
from readings.models import Check
from scheduling.actions import decisions
from scheduling.halfday import zone_named
from scheduling.models import Energizing, Layer, WarmUpStep
from scheduling.warmup import GENTLE, SCREED, Limit, Profile, Step, highest_floor, stop_because
from scheduling.warmup import warm_up as steps_from

ROOM_C = 20.0  # what an occupied room is planned for; common practice, no source


class WarmUpNotBegun(DomainError):
    slug = "warm-up-not-begun"


class WarmUpStopped(DomainError):
    slug = "warm-up-stopped"


class WarmUpOutOfOrder(DomainError):
    slug = "warm-up-out-of-order"


class WarmUpPlan(NamedTuple):
    """How a room is to be warmed up, and how far it is.

    `likely` is true while heat is not on: the plan begins at the likely date, and has no steps
    where that never comes.
    """

    steps: tuple[Step, ...]
    limit: Limit
    profile: Profile
    likely: bool
    ticks: tuple[WarmUpStep, ...]

    @property
    def stopped_because(self) -> str:
        return next((tick.stopped_because for tick in self.ticks if tick.stopped_because), "")


def plan_of(room: Room, *, at: datetime) -> WarmUpPlan:
    """The warm-up of a room as of `at`: from when heat came on, else from the likely date."""
    heat = Energizing.objects.filter(room=room, test_minutes=None).first()
    starts_at = heat.at if heat else _likely(room, at)
    profile = profiles_of([room])[room.pk]
    steps, limit = planned(room, starts_at=starts_at, profile=profile)
    return WarmUpPlan(
        steps=steps,
        limit=limit,
        profile=profile,
        likely=heat is None,
        ticks=tuple(heat.steps.order_by("step")) if heat else (),
    )


def planned(
    room: Room, *, starts_at: datetime | None, profile: Profile
) -> tuple[tuple[Step, ...], Limit]:
    """The steps of a room's first heating from when it begins, if it does, and its limit."""
    limit = highest_floor(zone="occupied", room_c=ROOM_C, covering=room.covering)
    if starts_at is None:
        return (), limit
    zone = zone_named(room.job.time_zone)
    steps = steps_from(starts_at=starts_at, zone=zone, profile=profile, highest_c=limit.celsius)
    return steps, limit


def profiles_of(rooms: Sequence[Room]) -> dict[UUID, Profile]:
    """How each room is warmed up, in one query: a screed by its standard, else gently."""
    screeds = Layer.objects.filter(
        room__in=rooms, placed_at__isnull=False, removed_at=None, material__kind="screed"
    )
    with_screed = set(screeds.values_list("room_id", flat=True))
    return {room.pk: SCREED if room.pk in with_screed else GENTLE for room in rooms}


@transaction.atomic
def tick(
    *, by: Member, room: Room, step: int, done_at: datetime, floor_c: float | None, at: datetime
) -> WarmUpStep:
    """Tick a step off as done, or stop the warm-up where its reading demands that.

    Raises WarmUpNotBegun, WarmUpStopped, or WarmUpOutOfOrder (a step before its turn or its end, or
    in the future).
    """
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    plan = plan_of(room, at=at)
    heat = Energizing.objects.filter(room=room, test_minutes=None).first()
    if heat is None:
        raise WarmUpNotBegun("Record first that heat was switched on.")
    if plan.stopped_because:
        raise WarmUpStopped(f"The warm-up was stopped: {plan.stopped_because}")
    if done_at - at > CLOCK_WRONG:
        raise WarmUpOutOfOrder("This time is still to come.", pointer="#/done_at")
    due = len(plan.ticks) + 1
    if step != due or step > len(plan.steps):
        said = f"Step {due} comes next." if due <= len(plan.steps) else "All steps are done."
        raise WarmUpOutOfOrder(said, pointer="#/step")
    planned = plan.steps[step - 1]
    stopped = stop_because(
        planned,
        floor_c=floor_c if floor_c is not None else planned.floor_c,
        highest_c=plan.limit.celsius,
        evidence_failed=_failed_since(room, heat.at),
    )
    if stopped is None and done_at < planned.ends_at:
        raise WarmUpOutOfOrder(
            f"Step {step} lasts until {planned.ends_at:%Y-%m-%d %H:%M}.", pointer="#/done_at"
        )
    ticked = WarmUpOutOfOrder(f"Step {step} is ticked off already.", pointer="#/step")
    with told({"warmupstep_once": ticked}):
        return WarmUpStep.objects.create(
            contractor_id=by.contractor_id,
            energizing=heat,
            step=step,
            done_at=min(done_at, at),
            floor_c=floor_c,
            stopped_because=stopped or "",
            recorded_by=by,
        )


def _likely(room: Room, at: datetime) -> datetime | None:
    _, result = decisions.current(room, at=at)
    return datetime.fromisoformat(result["likely"]) if result["likely"] else None


def _failed_since(room: Room, since: datetime) -> bool:
    return Check.objects.filter(
        room=room, taken_at__gte=since, superseded_by=None, outcome="fail"
    ).exists()
