"""The first heating of a room: its plan, its steps ticked off, stopped, gone on with."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple, cast
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, Prefetch
from django.utils import translation

from config.errors import DomainError
from config.sentence import Sentence
from config.tenancy import told
from config.wording import in_language
from jobs.models import Member, Room
from jobs.units import System
from readings.flags import CLOCK_WRONG
from readings.models import Check, SiteTemperature
from scheduling.actions import decisions
from scheduling.actions.facts import assumed_materials, assumed_words, layers_of
from scheduling.chart_words import Language
from scheduling.halfday import zone_named
from scheduling.models import Energizing, Layer, WarmUpStep
from scheduling.warmup import (
    CALENDAR,
    GENTLE,
    SCREED,
    Limit,
    Profile,
    Step,
    calendar_entries,
    going_on,
    highest_floor,
    step_at,
    stop_because,
)
from scheduling.warmup import warm_up as steps_from
from scheduling.warmup_file import warm_up_file

ROOM_C = 20.0  # what an occupied room is planned for; common practice, no source
Resumed = Sequence[tuple[int, datetime]]


class WarmUpNotBegun(DomainError):
    slug = "warm-up-not-begun"


class WarmUpStopped(DomainError):
    slug = "warm-up-stopped"


class WarmUpOutOfOrder(DomainError):
    slug = "warm-up-out-of-order"


class WarmUpPlan(NamedTuple):
    """How a room is to be warmed up, and how far it is.

    `likely` is true while heat is not on: the plan begins at the likely date, and has no steps
    where that never comes. `stop` is where it was stopped and not gone on with.
    """

    steps: tuple[Step, ...]
    limit: Limit
    profile: Profile
    heat: Energizing | None
    ticks: tuple[WarmUpStep, ...]
    stop: WarmUpStep | None

    @property
    def likely(self) -> bool:
        return self.heat is None

    @property
    def stopped_because(self) -> str:
        return self.stop.stopped_because if self.stop else ""

    @property
    def due(self) -> Step | None:
        """The step that is to be ticked off next; None before heat and after the last."""
        done = len(self.ticks)
        return self.steps[done] if self.heat and done < len(self.steps) else None

    def why_stopped(self) -> Sentence | None:
        """The reason of the stop as a sentence that can be said in another language."""
        if self.stop is None:
            return None
        return stop_because(
            self.steps[self.stop.step - 1],
            floor_c=self.stop.floor_c or 0.0,
            highest_c=self.limit.celsius,
            evidence_failed=self.stop.floor_c is None,
        )


def plan_of(room: Room, *, at: datetime) -> WarmUpPlan:
    """The warm-up of a room as of `at`: from when heat came on, else from the likely date."""
    profile = profile_of(layers_of([room])[room.pk])
    return plans_of([room], {room.pk: profile}, at=at)[room.pk]


def plans_of(
    rooms: Sequence[Room], profiles: Mapping[UUID, Profile], *, at: datetime
) -> dict[UUID, WarmUpPlan]:
    """The same of rooms, by room, in two queries for all that are heated; jobs are read with
    the rooms."""
    done = Prefetch("steps", queryset=WarmUpStep.objects.order_by("done_at", "pk"))
    heats = {
        row.room_id: row
        for row in Energizing.objects.filter(room__in=rooms, test_minutes=None)
        .prefetch_related(done)
        .order_by("-pk")
    }
    return {room.pk: _plan(room, heats.get(room.pk), profiles[room.pk], at=at) for room in rooms}


def _plan(room: Room, heat: Energizing | None, profile: Profile, *, at: datetime) -> WarmUpPlan:
    starts_at = heat.at if heat else _likely(room, at)
    rows = list(heat.steps.all()) if heat else []
    resumed = [(row.step, row.resumed_at) for row in rows if row.resumed_at]
    steps, limit = planned(room, starts_at=starts_at, profile=profile, resumed=resumed)
    stops = [row for row in rows if row.stopped_because and not row.resumed_at]
    return WarmUpPlan(
        steps=steps,
        limit=limit,
        profile=profile,
        heat=heat,
        ticks=tuple(row for row in rows if not row.stopped_because),
        stop=stops[0] if stops else None,
    )


def planned(
    room: Room, *, starts_at: datetime | None, profile: Profile, resumed: Resumed = ()
) -> tuple[tuple[Step, ...], Limit]:
    """The steps of a room's first heating from when it begins, if it does, and its limit."""
    limit = highest_floor(
        zone="occupied", room_c=ROOM_C, covering=room.covering, printed_c=profile.printed_c
    )
    if starts_at is None:
        return (), limit
    zone = zone_named(room.job.time_zone)
    steps = steps_from(starts_at=starts_at, zone=zone, profile=profile, highest_c=limit.celsius)
    return going_on(steps, resumed, zone), limit


def profile_of(layers: Iterable[Layer]) -> Profile:
    """How a floor is warmed up by what is placed: a screed by its standard, else gently; never
    above what a material in it prints."""
    profile, printed = GENTLE, []
    for row in (layer for layer in layers if layer.placed_at):
        if row.material.kind == "screed":
            profile = SCREED
        if (most_c := (row.curing or {}).get("service_most_c")) is not None:
            printed.append((row.material.name, most_c))
    return replace(profile, printed_c=tuple(printed))


def resumed_of(rooms: Sequence[Room]) -> dict[UUID, list[tuple[int, datetime]]]:
    """After which stops each room's warm-up went on, in one query."""
    rows = WarmUpStep.objects.filter(energizing__room__in=rooms, resumed_at__isnull=False)
    found: dict[UUID, list[tuple[int, datetime]]] = defaultdict(list)
    for room_id, step, resumed_at in rows.order_by("done_at", "pk").values_list(
        "energizing__room_id", "step", "resumed_at"
    ):
        assert resumed_at is not None
        found[room_id].append((step, resumed_at))
    return found


def calendar_file(room: Room, *, at: datetime, language: Language) -> bytes:
    """A room's warm-up as a calendar file, as it is planned as of `at`."""
    plan, job = plan_of(room, at=at), room.job
    host = settings.PUBLIC_URL.partition("//")[2].partition(":")[0].strip("/")
    assumed = assumed_materials([room]).get(room.pk, ()) if plan.likely else ()
    with translation.override(language):
        limit = replace(plan.limit, because=in_language(plan.limit.because))
        rests_on = assumed_words(assumed)
    entries = calendar_entries(
        plan.steps,
        room=room.name,
        limit=limit,
        likely=plan.likely,
        rests_on=rests_on,
        language=language,
        system=cast(System, job.units),
    )
    return warm_up_file(
        entries,
        uid=f"{room.pk}@{host}",
        name=f"{job.street} · {room.name}",
        about=CALENDAR[language]["about"],
        place=f"{job.street}, {job.city}",
        likely=plan.likely,
        changed_at=at,
    )


@transaction.atomic
def tick(
    *, by: Member, room: Room, step: int, done_at: datetime, floor_c: float | None, at: datetime
) -> WarmUpStep:
    """Tick a step off as done, or stop the warm-up where its reading demands that.

    Raises WarmUpNotBegun, WarmUpStopped, or WarmUpOutOfOrder (a step before its turn or its end, or
    in the future).
    """
    heat, plan = _under_way(room, at)
    if plan.stopped_because:
        raise WarmUpStopped(f"The warm-up was stopped: {plan.stopped_because}")
    if done_at - at > CLOCK_WRONG:
        raise WarmUpOutOfOrder("This time is still to come.", pointer="#/done_at")
    due = plan.due
    if due is None or step != due.number:
        said = f"Step {due.number} comes next." if due else "All steps are done."
        raise WarmUpOutOfOrder(said, pointer="#/step")
    failed = _failed_since(room, _since(heat)) is not None
    stopped = stop_because(
        due,
        floor_c=floor_c if floor_c is not None else due.floor_c,
        highest_c=plan.limit.celsius,
        evidence_failed=failed,
    )
    if stopped is None and done_at < due.ends_at:
        raise WarmUpOutOfOrder(
            f"Step {step} lasts until {due.ends_at:%Y-%m-%d %H:%M}.", pointer="#/done_at"
        )
    ticked = WarmUpOutOfOrder(f"Step {step} is ticked off already.", pointer="#/step")
    with told({"warmupstep_once": ticked, "warmupstep_stopped_once": ticked}):
        return WarmUpStep.objects.create(
            contractor_id=by.contractor_id,
            energizing=heat,
            step=step,
            done_at=min(done_at, at),
            floor_c=None if failed else floor_c,
            stopped_because=stopped or "",
            recorded_by=by,
        )


@transaction.atomic
def watch(room: Room, *, at: datetime) -> WarmUpStep | None:
    """Stop a warm-up where a check or the floor sensor demands that, though nobody ticked."""
    try:
        heat, plan = _under_way(room, at)
    except WarmUpNotBegun:
        return None
    if plan.stop or plan.due is None:
        return None
    demand = _demand(room, plan, heat)
    if demand is None:
        return None
    stopped, floor_c, read_at, by_id = demand
    return WarmUpStep.objects.create(
        contractor_id=room.contractor_id,
        energizing=heat,
        step=plan.due.number,
        done_at=read_at,
        floor_c=floor_c,
        stopped_because=stopped,
        recorded_by_id=by_id,
    )


def watch_all(job_ids: Collection[UUID], *, at: datetime) -> int:
    """Watch the warm-ups under way in some jobs; returns how many were stopped."""
    heated = Exists(Energizing.objects.filter(room=OuterRef("pk"), test_minutes=None))
    rooms = Room.objects.filter(heated, job__in=job_ids, job__closed_at=None)
    rooms = rooms.select_related("job").order_by("pk")
    return sum(watch(room, at=at) is not None for room in rooms)


@transaction.atomic
def resume(*, by: Member, room: Room, at: datetime) -> WarmUpStep:
    """Go on from the step at which a warm-up was stopped, beginning it anew.

    Raises WarmUpNotBegun, WarmUpOutOfOrder if it is not stopped, or WarmUpStopped while a check
    that failed was not made good.
    """
    heat, plan = _under_way(room, at)
    if plan.stop is None:
        raise WarmUpOutOfOrder("The warm-up is not stopped.")
    if _failed_since(room, heat.at) is not None:
        raise WarmUpStopped("A check that failed was not made good. Measure again first.")
    plan.stop.resumed_at, plan.stop.resumed_by = at, by
    plan.stop.save(update_fields=["resumed_at", "resumed_by"])
    return plan.stop


def _under_way(room: Room, at: datetime) -> tuple[Energizing, WarmUpPlan]:
    """The plan of a room that is heated; nobody else writes in it meanwhile."""
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    heat = Energizing.objects.filter(room=room, test_minutes=None).first()
    if heat is None:
        raise WarmUpNotBegun("Record first that heat was switched on.")
    return heat, plan_of(room, at=at)


def _since(heat: Energizing) -> datetime:
    """From when on readings count: since heat came on, or the warm-up was gone on with."""
    rows = WarmUpStep.objects.filter(energizing=heat).values_list("resumed_at", flat=True)
    return max([heat.at, *(at for at in rows if at)])


def _demand(
    room: Room, plan: WarmUpPlan, heat: Energizing
) -> tuple[Sentence, float | None, datetime, UUID] | None:
    """Why a reading demands a stop, the floor's °C if it is that, when and by whom it was read."""
    since = _since(heat)
    if (check := _failed_since(room, since)) is not None:
        failed = stop_because(plan.steps[0], floor_c=0, highest_c=0, evidence_failed=True)
        assert failed is not None
        return failed, None, check.taken_at, check.taken_by_id
    warm = SiteTemperature.objects.filter(room=room, source="floor_sensor", at__gte=since)
    for read_at, celsius, by_id in warm.order_by("at").values_list("at", "celsius", "taken_by_id"):
        step = step_at(plan.steps, read_at)
        if stopped := stop_because(step, floor_c=celsius, highest_c=plan.limit.celsius):
            return stopped, celsius, read_at, by_id
    return None


def _likely(room: Room, at: datetime) -> datetime | None:
    _, result = decisions.current(room, at=at)
    return datetime.fromisoformat(result["likely"]) if result["likely"] else None


def _failed_since(room: Room, since: datetime) -> Check | None:
    """A check that failed since, and is neither corrected nor made good by a later one."""
    checks = Check.objects.filter(room=room, taken_at__gte=since, superseded_by=None)
    newest = checks.order_by("stage", "-taken_at", "-sequence").distinct("stage")
    return next((check for check in newest if check.outcome == "fail"), None)
