"""Rows as planning takes them: open jobs, crews, absences, tools and bookings as one problem."""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from shapely.geometry import Polygon

from config.sentence import Sentence
from jobs.models import Contractor, Job, Material, Room
from readings.models import Check
from scheduling.actions.crews import holidays_of
from scheduling.actions.facts import is_assumed, material_facts
from scheduling.halfday import half_day, zone_named
from scheduling.models import Booking, Crew, CrewAbsence, Energizing, Layer, Tool
from scheduling.planner.names import IDS, Names
from scheduling.planner.problem import HOURS_PER_SLOT, Fixed, Link, Pool, Problem, slot_of
from scheduling.planner.problem import Booking as Place
from scheduling.planner.problem import Crew as PlanCrew
from scheduling.planner.problem import Plan as Schedule
from scheduling.workload import (
    ANY_CREW,
    CAN,
    STEPS,
    Cure,
    RoomMade,
    Work,
    job_of,
    links_of,
    slowest_of,
    steps_made,
    task_id,
    tasks_of,
    waits_of,
)

HALF_DAYS = 360  # half a year ahead
NO_DUE_DATE_SLOT = HALF_DAYS
TESTER = "insulation tester"
CALLED = {
    "survey": "survey at {street}",
    "prepare": "prepare at {street}",
    "lay": "lay at {street}",
    "embed": "cover with mortar at {street}",
    "tile": "tile at {street}",
    "grout": "grout at {street}",
    "connect": "connect at {street}",
    "energize": "switch on at {street}",
}
HARDENS_WITHIN = timedelta(days=90)  # no printed time before heat is longer; common practice
COVERING = ("mortar", "screed", "leveller")


class Hardening(NamedTuple):
    """A floor that was covered, or is booked to be: slots from which it may be walked on, heated.

    `covered` is the end slot of covering it, `assumed` the materials without a data sheet.
    """

    job: Job
    covered: int
    walk: int
    heat: int
    assumed: Sequence[str]


def hardening_of(contractor_id: UUID, *, start: date) -> list[Hardening]:
    """The open jobs with a floor that was covered lately, or is to be, by number; slots count from
    `start`."""
    jobs = jobs_by_name(contractor_id, among=_covered_about(contractor_id, start))
    if not jobs:
        return []
    bookings, spans = _bookings(contractor_id, start, among=jobs.values())
    found = []
    for work in _works(contractor_id, jobs, bookings, spans, start):
        job = jobs[work.job]
        covered = None
        if work.embedded_slots_ago is not None:
            covered = -work.embedded_slots_ago
        elif embeds := [each for each in bookings if (each.job_id, each.task) == (job.pk, "embed")]:
            covered = slot_of(start, embeds[-1].day, embeds[-1].half) + 1
        if covered is not None:
            walk, heat = (covered + math.ceil(hours / HOURS_PER_SLOT) for hours in waits_of(work))
            assumed = [cure.material for cure in work.cures if cure.assumed]
            found.append(Hardening(job, covered, walk, heat, list(dict.fromkeys(assumed))))
    return found


def assumptions_of(contractor_id: UUID, jobs: Collection[UUID]) -> dict[UUID, list[str]]:
    """The materials without a data sheet on which the waits of these jobs rest, by job."""
    covering: dict[UUID, list[Layer]] = {job: [] for job in jobs}
    rows = Layer.objects.filter(
        contractor_id=contractor_id, room__job__in=jobs, removed_at=None
    ).select_related("material", "room")
    for layer in rows.order_by("position", "pk"):
        covering[layer.room.job_id] += _covering([layer])
    usual = None if all(covering.values()) else _usual_mortar(contractor_id)
    found: dict[UUID, list[str]] = {}
    for job, layers in covering.items():
        pairs = [(layer.material, layer.curing) for layer in layers]
        if not layers and usual:
            pairs = [(usual, None)]
        names = [material.name for material, curing in pairs if is_assumed(material, curing)]
        found[job] = list(dict.fromkeys(names))
    return found


def problem_of(contractor_id: UUID, *, start: date) -> Problem:
    """All open jobs with a room, the crews and tools, from `start` on."""
    rows = list(
        Crew.objects.filter(contractor_id=contractor_id, retired_at=None).order_by("name", "pk")
    )
    jobs = jobs_by_name(contractor_id)
    bookings, spans = _bookings(contractor_id, start)
    works = _works(contractor_id, jobs, bookings, spans, start)
    testers = [
        tool.name
        for tool in Tool.objects.filter(contractor_id=contractor_id).order_by("name")
        if tool.name.lower() == TESTER
    ]
    tasks = [
        task for work in works for task in tasks_of(work, testers=testers[0] if testers else None)
    ]
    planned = _planned_spans(jobs, spans, {task.id for task in tasks})
    return Problem(
        start=start,
        half_days=HALF_DAYS,
        crews=tuple(_crews(contractor_id, rows, spans, planned, start)),
        pools=tuple(
            Pool(id=tool.name, capacity=tool.capacity)
            for tool in Tool.objects.filter(contractor_id=contractor_id, name__in=testers)
        ),
        tasks=tuple(tasks),
        links=tuple(link for work in works for link in links_of(work)),
        jobs=tuple(job_of(work) for work in works),
        previous=Schedule(bookings=tuple(_places(spans, planned, start))) if spans else None,
    )


def _covered_about(contractor_id: UUID, start: date) -> Q:
    """Jobs of which a floor hardens about `start`, for all that is known without working it out."""
    first, last = start - HARDENS_WITHIN, start + HARDENS_WITHIN
    booked = Booking.objects.filter(
        contractor_id=contractor_id,
        task="embed",
        cancelled_at=None,
        day__gte=first,
        day__lte=last,
    )
    placed = Layer.objects.filter(
        contractor_id=contractor_id,
        embeds=True,
        removed_at=None,
        placed_at__gte=datetime.combine(first, time(), UTC),
    )
    return Q(pk__in=booked.values("job").union(placed.values("room__job")))


def _bookings(
    contractor_id: UUID, start: date, *, among: Iterable[Job] | None = None
) -> tuple[list[Booking], dict[UUID, list[Booking]]]:
    """All bookings (of some jobs), and by task those from `start` on of crews that there still
    are."""
    rows = Booking.objects.filter(contractor_id=contractor_id, cancelled_at=None)
    if among is not None:
        rows = rows.filter(job__in=list(among))
    bookings = list(rows.select_related("crew").order_by("day", "half", "pk"))
    spans: dict[UUID, list[Booking]] = defaultdict(list)
    for booking in bookings:
        if booking.day >= start and booking.crew.retired_at is None:
            spans[booking.span].append(booking)
    return bookings, spans


def jobs_by_name(contractor_id: UUID, *, among: Q | None = None) -> dict[str, Job]:
    """The open jobs that have a room, by number."""
    has_room = Exists(Room.objects.filter(job=OuterRef("pk")))
    rows = (
        Job.objects.filter(has_room, among or Q(), contractor_id=contractor_id, closed_at=None)
        .prefetch_related(Prefetch("rooms", _rooms_as_made()))
        .order_by("number")
    )
    return {str(job.number): job for job in rows}


def _rooms_as_made() -> QuerySet[Room]:
    """Rooms that know whether the laid element passed, and whether heat is on for good."""
    room = {"room": OuterRef("pk")}
    laid = Check.objects.filter(**room, stage="laid", outcome="pass", superseded_by=None)
    heated = Energizing.objects.filter(**room, test_minutes=None)
    return Room.objects.annotate(laid=Exists(laid), heated=Exists(heated))


def jobs_named(contractor_id: UUID, names: Collection[str]) -> dict[str, Job]:
    """The jobs with these numbers, closed ones too."""
    rows = Job.objects.filter(contractor_id=contractor_id, number__in=map(int, names))
    return {str(job.number): job for job in rows.prefetch_related("rooms").order_by("number")}


def names_of(jobs: Mapping[str, Job]) -> Names:
    """What a problem has numbers for, as people call it: a step and where, or the address."""

    def task(name: str) -> str:
        number, step = name.rsplit(" ", 1)
        job = jobs.get(number.rstrip("+"))
        if job is None:
            return name
        return Sentence(CALLED.get(step, "other work at {street}"), street=job.street)

    def job(name: str) -> str:
        return Sentence("the job at {street}", street=jobs[name].street) if name in jobs else name

    return Names(task=task, job=job, can=CAN.__getitem__)


def names_with_waits(contractor_id: UUID, *, start: date) -> Names:
    """The names of all open jobs; a wait is said of the material in the room that is last."""
    jobs = jobs_by_name(contractor_id)
    bookings, spans = _bookings(contractor_id, start)
    works = {work.job: work for work in _works(contractor_id, jobs, bookings, spans, start)}
    names = names_of(jobs)

    def waits(link: Link, until: Sentence) -> Sentence:
        number, step = link.after.rsplit(" ", 1)
        if number not in works:
            return IDS.waits(link, until)
        where = jobs[number].street
        if step == "grout":
            return Sentence(
                "the tiles at {street} can be grouted only from {when}", street=where, when=until
            )
        walk, heat = slowest_of(works[number])
        slowest = walk if step == "tile" else heat
        assert slowest is not None  # the wait comes from it
        if slowest.room:
            where = f"{where} ({slowest.room})"
        figures = {"material": slowest.material, "where": where, "when": until}
        if step == "tile":
            return Sentence("{material} at {where} can be walked on only from {when}", **figures)
        return Sentence("{material} at {where} takes heat only from {when}", **figures)

    return replace(names, waits=waits)


def _crews(
    contractor_id: UUID,
    rows: Sequence[Crew],
    spans: Mapping[UUID, Sequence[Booking]],
    planned: Mapping[UUID, str],
    start: date,
) -> list[PlanCrew]:
    """Crews, away on the public holidays that they keep, and where they do something that is not
    planned here."""
    away: dict[UUID, set[int]] = defaultdict(set)
    contractor = Contractor.objects.get(pk=contractor_id)
    last = start + timedelta(days=HALF_DAYS // 2)
    for day in holidays_of(contractor, first=start, last=last):
        for row in rows:
            if row.keeps_holidays:
                away[row.pk] |= {slot_of(start, day, "am"), slot_of(start, day, "pm")}
    for absence in CrewAbsence.objects.filter(contractor_id=contractor_id, day__gte=start):
        away[absence.crew_id].add(slot_of(start, absence.day, absence.half))
    for span, bookings in spans.items():
        if span not in planned:
            for booking in bookings:
                away[booking.crew_id].add(slot_of(start, booking.day, booking.half))
    return [
        PlanCrew(
            id=row.name,
            skills=frozenset([*row.skills, ANY_CREW]),
            works=tuple((bool(am), bool(pm)) for am, pm in row.works),
            away=frozenset(away[row.pk]),
        )
        for row in rows
    ]


def _planned_spans(
    jobs: Mapping[str, Job], spans: Mapping[UUID, Sequence[Booking]], known: set[str]
) -> dict[UUID, str]:
    """Which bookings are those of a task that is planned: the first ones, if it has several."""
    names = {job.pk: name for name, job in jobs.items()}
    planned: dict[str, UUID] = {}
    for span, bookings in spans.items():
        name = task_id(names.get(bookings[0].job_id, ""), bookings[0].task)
        if name in known:
            planned.setdefault(name, span)
    return {span: name for name, span in planned.items()}


def _places(
    spans: Mapping[UUID, Sequence[Booking]], planned: Mapping[UUID, str], start: date
) -> list[Place]:
    places = []
    for span, name in planned.items():
        slots = sorted(slot_of(start, each.day, each.half) for each in spans[span])
        crew = spans[span][0].crew.name
        places.append(Place(task=name, crew=crew, start=slots[0], slots=tuple(slots)))
    return places


def _works(
    contractor_id: UUID,
    jobs: Mapping[str, Job],
    bookings: Sequence[Booking],
    spans: Mapping[UUID, Sequence[Booking]],
    start: date,
) -> list[Work]:
    done: dict[UUID, set[str]] = defaultdict(set)
    covered: dict[UUID, int] = {}
    for booking in bookings:
        if booking.day < start and booking.task in STEPS:
            done[booking.job_id].add(booking.task)
        if booking.task == "embed":
            covered[booking.job_id] = slot_of(start, booking.day, booking.half)
    pinned: dict[UUID, dict[str, Fixed]] = defaultdict(dict)
    lengths: dict[UUID, dict[str, int]] = defaultdict(dict)
    for together in spans.values():
        first = together[0]
        if any(each.pinned for each in together) and first.task in STEPS:
            pinned[first.job_id][first.task] = Fixed(
                crew=first.crew.name, start=slot_of(start, first.day, first.half)
            )
            lengths[first.job_id][first.task] = len(together)
    layers: dict[UUID, list[Layer]] = defaultdict(list)
    for layer in (
        Layer.objects.filter(
            contractor_id=contractor_id, room__job__in=jobs.values(), removed_at=None
        )
        .select_related("material", "room")
        .order_by("position", "pk")
    ):
        layers[layer.room.job_id].append(layer)
    covering = {job_id for job_id, of_job in layers.items() if _covering(of_job)}
    needed = any(job.pk not in covering for job in jobs.values())
    mortar = _usual_mortar(contractor_id) if needed else None
    usual = (_cure(mortar, None, None),) if mortar else ()
    return [
        _work(
            name,
            job,
            frozenset(done[job.pk]),
            covered.get(job.pk),
            pinned[job.pk],
            lengths[job.pk],
            layers[job.pk],
            usual,
            start,
        )
        for name, job in jobs.items()
    ]


def _covering(layers: Sequence[Layer]) -> list[Layer]:
    return [layer for layer in layers if layer.embeds or layer.material.kind in COVERING]


def _work(
    name: str,
    job: Job,
    done: frozenset[str],
    covered: int | None,
    pinned: dict[str, Fixed],
    lengths: dict[str, int],
    layers: Sequence[Layer],
    usual: tuple[Cure, ...],
    start: date,
) -> Work:
    rooms: list[Any] = list(job.rooms.all())
    covering = _covering(layers)
    embedded = {layer.room_id for layer in layers if layer.embeds and layer.placed_at}
    made = steps_made(
        [
            RoomMade(
                laid=room.laid,
                covered=room.pk in embedded,
                heated=room.heated,
                placed=frozenset(
                    layer.material.kind
                    for layer in layers
                    if layer.room_id == room.pk and layer.placed_at and not layer.embeds
                ),
            )
            for room in rooms
        ]
    )
    # Until somebody says when the floor was covered, the last half-day booked for it counts.
    ago = -covered - 1 if "embed" in done and covered is not None else None
    if "embed" in made:
        at = half_day(
            max(layer.placed_at for layer in covering if layer.placed_at), zone_named(job.time_zone)
        )
        ago = -slot_of(start, at.day, at.half) - 1
    cures = (
        tuple(
            _cure(layer.material, layer.curing, layer.thickness_mm, room=layer.room.name)
            for layer in covering
        )
        or usual
    )
    return Work(
        job=name,
        release_slot=slot_of(start, job.release_on, "am") if job.release_on else 0,
        due_slot=slot_of(start, job.due_on, "am") + 2 if job.due_on else NO_DUE_DATE_SLOT,
        weight=job.weight,
        area_m2=sum(Polygon(room.outline).area for room in rooms) / 1e6,
        rooms=len(rooms),
        cures=cures,
        done=done | made,
        embedded_slots_ago=ago,
        pinned=pinned,
        booked_half_days=lengths,
    )


def _usual_mortar(contractor_id: UUID) -> Material | None:
    """The slowest mortar of the catalogue, where it is not said yet which one will be taken."""
    mortars = Material.objects.filter(
        contractor_id=contractor_id, kind="mortar", retired_at=None
    ).order_by("pk")
    return max(mortars, key=lambda mortar: _cure(mortar, None, None).heat_after_hours, default=None)


def _cure(
    material: Material,
    curing: Mapping[str, Any] | None,
    thickness_mm: float | None,
    *,
    room: str = "",
) -> Cure:
    facts = material_facts(material, curing, thickness_mm=thickness_mm)
    return Cure(
        law=facts.law,
        lowest_c=facts.lowest_c,
        walk_after_hours=facts.walk_after_hours or facts.heat_after_hours,
        heat_after_hours=max(facts.heat_after_hours, facts.drying.hours if facts.drying else 0.0),
        assumed=facts.assumed,
        material=material.name,
        room=room,
    )
