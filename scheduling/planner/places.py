"""Where a task can stand while all else stays where it is, and what is against another place."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from config.sentence import Sentence
from scheduling.planner.names import IDS, Names
from scheduling.planner.objective import moved
from scheduling.planner.problem import (
    Booking,
    Plan,
    Problem,
    Task,
    said_with_weekday,
    working_slots,
)

NEVER = 1 << 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A crew (None for a task that takes none) and the half-days that a task would hold."""

    crew: str | None
    start: int
    slots: tuple[int, ...]


class Standing:
    """A plan as what its bookings hold; each question is about one task, and leaves that out."""

    def __init__(self, problem: Problem, plan: Plan, *, names: Names = IDS) -> None:
        self.problem, self.names = problem, names
        self.tasks = {task.id: task for task in problem.tasks}
        self.crews = {crew.id: crew for crew in problem.crews}
        self.works = {crew.id: working_slots(problem, crew) for crew in problem.crews}
        self.rank = {
            name: {slot: rank for rank, slot in enumerate(slots)}
            for name, slots in self.works.items()
        }
        self.booked = plan.by_task()
        self.held: dict[str, dict[int, str]] = defaultdict(dict)
        self.out: dict[str, list[Booking]] = defaultdict(list)
        for booking in plan.bookings:
            if not booking.slots or booking.task not in self.tasks:
                continue
            if booking.crew is not None:
                for slot in range(booking.start, booking.end):
                    self.held[booking.crew][slot] = booking.task
            for pool, _ in self.tasks[booking.task].uses:
                self.out[pool].append(booking)
        self.before: dict[str, list[tuple[str, int]]] = defaultdict(list)
        self.after: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for link in problem.links:
            self.before[link.after].append((link.before, link.lag_slots))
            self.after[link.before].append((link.after, link.lag_slots))

    def against(self, task: str, crew: str | None, start: int) -> tuple[str, ...]:
        """What forbids the task to start there; empty if it can."""
        asked = self.tasks[task]
        if wrong := self._against_crew(asked, crew, start):
            return (wrong,)
        place = self._place(asked, crew, start)
        if place is None:
            return (ends_after(self.problem),)
        return tuple(dict.fromkeys(self._against_place(asked, place)))

    def nearest(self, task: str, crew: str | None, start: int) -> tuple[Place, ...]:
        """The last possible place before slot `start` and the first from it on, of each crew.

        The crew that was asked for comes first, then whoever is nearest.
        """
        asked = self.tasks[task]
        able: list[str | None] = [None]
        if asked.skill is not None:
            able = [each.id for each in self.problem.crews if asked.skill in each.skills]
        found: list[Place] = []
        earliest, latest = self.earliest(asked), self._latest(asked)
        for name in able:
            every = range(self.problem.half_days + 1) if name is None else self.works[name]
            starts = [slot for slot in every if earliest <= slot <= latest]
            earlier = [slot for slot in reversed(starts) if slot < start]
            later = [slot for slot in starts if slot >= start]
            found += [
                place for way in (earlier, later) if (place := self._first_free(asked, name, way))
            ]
        return tuple(
            sorted(found, key=lambda place: (place.crew != crew, abs(place.start - start)))
        )

    def _first_free(self, task: Task, crew: str | None, starts: list[int]) -> Place | None:
        for start in starts:
            place = self._place(task, crew, start)
            if place and not any(self._against_place(task, place)):
                return place
        return None

    def _place(self, task: Task, crew: str | None, start: int) -> Place | None:
        """The place from that slot on, None if it leaves the plan; the crew works in the slot."""
        if crew is None or not task.half_days:
            slots = tuple(range(start, start + task.half_days))
        else:
            first = self.rank[crew][start]
            slots = self.works[crew][first : first + task.half_days]
        inside = len(slots) == task.half_days and start + task.half_days <= self.problem.half_days
        return Place(crew=crew, start=start, slots=slots) if inside else None

    def _against_crew(self, task: Task, crew: str | None, start: int) -> str:
        if task.skill is None:
            if crew is None:
                return ""
            return Sentence("{task} needs no crew", task=self.names.task(task.id))
        if crew is None:
            return Sentence("{task} needs a crew", task=self.names.task(task.id))
        if crew not in self.crews:
            return Sentence("there is no crew {crew}", crew=crew)
        if task.skill not in self.crews[crew].skills:
            return Sentence("{crew} cannot {skill}", crew=crew, skill=self.names.can(task.skill))
        if task.half_days and start not in self.rank[crew]:
            return Sentence("{crew} does not work on {when}", crew=crew, when=self._at(start))
        return ""

    def _against_place(self, task: Task, place: Place) -> Iterator[str]:
        start, end = place.start, place.slots[-1] + 1 if place.slots else place.start
        if start < task.not_before:
            yield Sentence(
                "{task} may not start before {when}",
                task=self.names.task(task.id),
                when=self._at(task.not_before),
            )
        for before, lag in self.before[task.id]:
            booking = self.booked.get(before)
            if booking and start < booking.end + lag:
                yield Sentence(
                    "{task} comes first, and lets it start on {when}",
                    task=self.names.task(before),
                    when=self._at(booking.end + lag),
                )
        for after, lag in self.after[task.id]:
            booking = self.booked.get(after)
            if booking and booking.start < end + lag:
                yield Sentence(
                    "{task} is booked on {when}, and this has to end before {before}",
                    task=self.names.task(after),
                    when=self._at(booking.start),
                    before=self._at(booking.start - lag),
                )
        for slot in range(start, end):
            holder = self.held[place.crew].get(slot) if place.crew is not None else None
            if holder and holder != task.id:
                yield Sentence(
                    "{crew} has {task} on {when}",
                    crew=place.crew,
                    task=self.names.task(holder),
                    when=self._at(slot),
                )
        yield from self._tools_out(task, start, end)

    def _tools_out(self, task: Task, start: int, end: int) -> Iterator[str]:
        for pool, amount in task.uses:
            most = next(each.capacity for each in self.problem.pools if each.id == pool) - amount
            for slot in range(start, end):
                out = sum(
                    dict(self.tasks[booking.task].uses)[pool]
                    for booking in self.out[pool]
                    if booking.task != task.id and booking.start <= slot < booking.end
                )
                if out > most:
                    yield Sentence("every {pool} is out on {when}", pool=pool, when=self._at(slot))
                    break

    def earliest(self, task: Task) -> int:
        """The slot from which on it can start, as far as release and links go."""
        waits = [
            booking.end + lag
            for before, lag in self.before[task.id]
            if (booking := self.booked.get(before))
        ]
        return max([task.not_before, 0, *waits])

    def _latest(self, task: Task) -> int:
        """The last slot in which it can start, as far as links go."""
        latest = NEVER
        for after, lag in self.after[task.id]:
            if booking := self.booked.get(after):
                latest = min(latest, booking.start - lag - task.half_days)
        return latest

    def _at(self, slot: int) -> Sentence:
        return said_with_weekday(self.problem.start, slot)


def ends_after(problem: Problem) -> Sentence:
    return Sentence("the plan ends after {half_days} half-days", half_days=problem.half_days)


def why_moved(problem: Problem, plan: Plan, *, names: Names = IDS) -> dict[str, tuple[str, ...]]:
    """By task that is not where it was in the previous plan: what was against that."""
    standing = Standing(problem, plan, names=names)
    before = (problem.previous or Plan(bookings=())).by_task()
    return {
        task: standing.against(task, before[task].crew, before[task].start)
        or (Sentence("its old place is free, but this one makes less late"),)
        for task in moved(problem.previous, plan)
        if task in standing.tasks
    }
