"""The file format of problems and plans: JSON-ready values in, dataclasses out, and back."""

from collections.abc import Callable
from datetime import date
from typing import Any, TypeVar

from scheduling.planner.problem import (
    TASK_LIMIT,
    Booking,
    Crew,
    Fixed,
    Job,
    Link,
    Plan,
    Pool,
    Problem,
    ProblemRefused,
    Task,
    Unplanned,
    half_day_of,
    slot_of,
)

T = TypeVar("T")


def problem_from(data: object) -> Problem:
    """The problem in `data` as parsed from JSON; raises ProblemRefused, pointing at the field."""
    root = _Field(data, "#")
    start = root["start"].day()
    tasks = root["tasks"].items()
    if len(tasks) > TASK_LIMIT:  # told before all of them are read
        raise ProblemRefused(
            f"{len(tasks):,} tasks are more than one plan can hold; the limit is {TASK_LIMIT:,}. "
            "Plan a shorter time, or one region after the other.",
            pointer="#/tasks",
        )
    return Problem(
        start=start,
        half_days=root["half_days"].whole(least=1),
        crews=tuple(_crew(field, start) for field in root["crews"].items()),
        pools=tuple(
            Pool(id=field["id"].text(), capacity=field["capacity"].whole())
            for field in root["pools"].items()
        ),
        tasks=tuple(_task(field, start) for field in tasks),
        links=tuple(_link(field) for field in root["links"].items()),
        jobs=tuple(
            Job(
                id=field["id"].text(),
                due_slot=slot_of(start, field["due"].day(), "am") + 2,
                weight=field["weight"].whole(),
            )
            for field in root["jobs"].items()
        ),
        previous=root["previous"].optional(lambda field: _plan(field, start)),
    )


def plan_from(data: object, *, start: date) -> Plan:
    """The plan in `data`, its dates counted from `start`; raises ProblemRefused."""
    return _plan(_Field(data, "#"), start)


def problem_to(problem: Problem) -> dict[str, Any]:
    """The problem as JSON-ready values."""

    def half_day(slot: int) -> list[str]:
        day, half = half_day_of(problem.start, slot)
        return [day.isoformat(), half]

    return {
        "start": problem.start.isoformat(),
        "half_days": problem.half_days,
        "crews": [
            {
                "id": crew.id,
                "skills": sorted(crew.skills),
                "works": [[int(am), int(pm)] for am, pm in crew.works],
                "away": [half_day(slot) for slot in sorted(crew.away)],
            }
            for crew in problem.crews
        ],
        "pools": [{"id": pool.id, "capacity": pool.capacity} for pool in problem.pools],
        "tasks": [
            {
                "id": task.id,
                "job": task.job,
                "skill": task.skill,
                "half_days": task.half_days,
                "uses": dict(task.uses),
                "not_before": half_day(task.not_before) if task.not_before else None,
                "fixed": task.fixed
                and {"crew": task.fixed.crew, "start": half_day(task.fixed.start)},
            }
            for task in problem.tasks
        ],
        "links": [
            {"before": link.before, "after": link.after, "lag_hours": link.lag_hours}
            for link in problem.links
        ],
        "jobs": [
            {
                "id": job.id,
                "due": half_day(job.due_slot - 2)[0],
                "weight": job.weight,
            }
            for job in problem.jobs
        ],
        "previous": problem.previous and plan_to(problem.previous, start=problem.start),
    }


def plan_to(plan: Plan, *, start: date) -> dict[str, Any]:
    """The plan as JSON-ready values."""

    def half_day(slot: int) -> list[str]:
        day, half = half_day_of(start, slot)
        return [day.isoformat(), half]

    return {
        "bookings": [
            {
                "task": booking.task,
                "crew": booking.crew,
                "start": half_day(booking.start),
                "slots": [half_day(slot) for slot in booking.slots],
            }
            for booking in plan.bookings
        ],
        "unplanned": [
            {"task": unplanned.task, "because": list(unplanned.because)}
            for unplanned in plan.unplanned
        ],
    }


class _Field:
    """A value in the file and where it stands, so that a refusal can point at it."""

    def __init__(self, value: object, pointer: str) -> None:
        self.value = value
        self.pointer = pointer

    def refuse(self, wanted: str) -> ProblemRefused:
        shown = repr(self.value)
        shown = shown if len(shown) <= 40 else shown[:37] + "..."
        return ProblemRefused(
            f"{self.pointer[1:] or 'The file'} must be {wanted}, not {shown}.",
            pointer=self.pointer,
        )

    def __getitem__(self, name: str) -> "_Field":
        if not isinstance(self.value, dict):
            raise self.refuse("an object")
        if name not in self.value:
            raise ProblemRefused(
                f"{self.pointer[1:] or 'The file'} lacks “{name}”.", pointer=self.pointer
            )
        return _Field(self.value[name], f"{self.pointer}/{name}")

    def items(self) -> list["_Field"]:
        if not isinstance(self.value, list):
            raise self.refuse("a list")
        return [_Field(value, f"{self.pointer}/{index}") for index, value in enumerate(self.value)]

    def named(self) -> list[tuple[str, "_Field"]]:
        if not isinstance(self.value, dict):
            raise self.refuse("an object")
        return [
            (name, _Field(value, f"{self.pointer}/{name}")) for name, value in self.value.items()
        ]

    def text(self) -> str:
        if not isinstance(self.value, str) or not self.value:
            raise self.refuse("a text")
        return self.value

    def whole(self, *, least: int = 0) -> int:
        if type(self.value) is not int or self.value < least:
            raise self.refuse(f"a whole number of {least} or more")
        return self.value

    def hours(self) -> float:
        if type(self.value) not in (int, float) or not 0 <= self.value <= 1e6:  # type: ignore[operator]
            raise self.refuse("hours, 0 or more")
        return self.value  # type: ignore[return-value]

    def flag(self) -> bool:
        if self.value not in (0, 1):
            raise self.refuse("0 or 1")
        return bool(self.value)

    def day(self) -> date:
        try:
            return date.fromisoformat(self.value)  # type: ignore[arg-type]
        except (TypeError, ValueError):
            raise self.refuse("a day such as 2027-03-01") from None

    def slot(self, start: date) -> int:
        pair = self.items()
        if len(pair) != 2 or pair[1].value not in ("am", "pm"):
            raise self.refuse('a half-day such as ["2027-03-01", "am"]')
        return slot_of(start, pair[0].day(), pair[1].text())

    def optional(self, read: Callable[["_Field"], T]) -> T | None:
        return None if self.value is None else read(self)


def _crew(field: _Field, start: date) -> Crew:
    week = field["works"].items()
    if len(week) != 7 or any(len(day.items()) != 2 for day in week):
        raise field["works"].refuse("seven pairs [am, pm] from Monday")
    return Crew(
        id=field["id"].text(),
        skills=frozenset(skill.text() for skill in field["skills"].items()),
        works=tuple((day.items()[0].flag(), day.items()[1].flag()) for day in week),
        away=frozenset(slot.slot(start) for slot in field["away"].items()),
    )


def _task(field: _Field, start: date) -> Task:
    return Task(
        id=field["id"].text(),
        job=field["job"].text(),
        skill=field["skill"].optional(_Field.text),
        half_days=field["half_days"].whole(),
        uses=tuple((pool, amount.whole()) for pool, amount in field["uses"].named()),
        not_before=field["not_before"].optional(lambda slot: slot.slot(start)) or 0,
        fixed=field["fixed"].optional(
            lambda fixed: Fixed(
                crew=fixed["crew"].optional(_Field.text), start=fixed["start"].slot(start)
            )
        ),
    )


def _link(field: _Field) -> Link:
    return Link(
        before=field["before"].text(),
        after=field["after"].text(),
        lag_hours=field["lag_hours"].hours(),
    )


def _plan(field: _Field, start: date) -> Plan:
    return Plan(
        bookings=tuple(
            Booking(
                task=booking["task"].text(),
                crew=booking["crew"].optional(_Field.text),
                start=booking["start"].slot(start),
                slots=tuple(slot.slot(start) for slot in booking["slots"].items()),
            )
            for booking in field["bookings"].items()
        ),
        unplanned=tuple(
            Unplanned(
                task=unplanned["task"].text(),
                because=tuple(reason.text() for reason in unplanned["because"].items()),
            )
            for unplanned in field["unplanned"].items()
        ),
    )
