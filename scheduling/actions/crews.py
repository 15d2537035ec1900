"""Crews, their absences, shared tools, and the half-days that crews are booked for."""

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from uuid_utils.compat import uuid7

from config.errors import DomainError
from config.etags import change_row
from config.sentence import Sentence
from config.tenancy import told
from jobs.models import Contractor, Job, Member, Room
from jobs.publicholidays import public_holidays
from scheduling.models import Booking, Crew, CrewAbsence, Tool
from scheduling.workload import ANY_CREW, SKILLS


class HalfDayTaken(DomainError):
    slug = "half-day-taken"


class CrewIsAway(DomainError):
    slug = "crew-is-away"


class NameTaken(DomainError):
    slug = "already-there"


class RoomOfAnotherJob(DomainError):
    slug = "not-acceptable"


class LacksSkill(DomainError):
    slug = "crew-lacks-skill"


@transaction.atomic
def add_crew(*, by: Member, members: Sequence[Member], fields: Mapping[str, Any]) -> Crew:
    """Put a crew together; raises NameTaken."""
    with _crew_named(fields["name"]):
        crew = Crew.objects.create(contractor_id=by.contractor_id, **fields)
    crew.members.set(members)
    return crew


@transaction.atomic
def change_crew(
    *, crew: Crew, version: int, members: Sequence[Member] | None, fields: Mapping[str, Any]
) -> Crew:
    """Change what is given; raises Stale or NameTaken."""
    with _crew_named(fields.get("name", crew.name)):
        changed = change_row(crew, version=version, fields=dict(fields))
    if members is not None:
        changed.members.set(members)
    return changed


@transaction.atomic
def be_away(*, crew: Crew, half_days: Sequence[tuple[date, str]], note: str) -> list[CrewAbsence]:
    """Note half-days in which a crew does not work; those known already stay as they are.

    Bookings in them stay too: planning or the office moves them.
    """
    CrewAbsence.objects.bulk_create(
        [
            CrewAbsence(contractor_id=crew.contractor_id, crew=crew, day=day, half=half, note=note)
            for day, half in half_days
        ],
        ignore_conflicts=True,
    )
    days = [day for day, _ in half_days]
    rows = CrewAbsence.objects.filter(crew=crew, day__in=days).order_by("day", "half")
    wanted = set(half_days)
    return [row for row in rows if (row.day, row.half) in wanted]


def add_tool(*, by: Member, fields: Mapping[str, Any]) -> Tool:
    """Add a shared tool; raises NameTaken."""
    taken = NameTaken(f"There is a tool called {fields['name']} already.", pointer="#/name")
    with told({"tool_name_once_per_contractor": taken}):
        return Tool.objects.create(contractor_id=by.contractor_id, **fields)


@transaction.atomic
def book_crew(
    *,
    by: Member,
    crew: Crew,
    job: Job,
    room: Room | None,
    task: str,
    half_days: Sequence[tuple[date, str]],
    at: datetime,
    span: UUID | None = None,
) -> list[Booking]:
    """Book a crew for half-days of one task, all or none.

    The database decides who is first. Raises HalfDayTaken, CrewIsAway, LacksSkill or
    RoomOfAnotherJob.
    """
    if room is not None and room.job_id != job.pk:
        raise RoomOfAnotherJob(f"{room.name} is a room of another job.", pointer="#/room")
    _require_skill(crew, task)
    for day, half in half_days:
        _require_present(crew, day, half)
    span = span or uuid7()
    return [
        _take(
            Booking(
                contractor_id=by.contractor_id,
                crew=crew,
                day=day,
                half=half,
                job=job,
                room=room,
                task=task,
                span=span,
                booked_at=at,
                booked_by=by,
            )
        )
        for day, half in half_days
    ]


def cancel_booking(*, booking: Booking, version: int, at: datetime) -> Booking:
    """Cancel one half-day; raises Stale."""
    return change_row(booking, version=version, fields={"cancelled_at": at})


def _take(booking: Booking) -> Booking:
    taken = HalfDayTaken(
        f"{booking.crew.name} is booked on {booking.day} {booking.half} already. Choose another "
        "half-day or another crew.",
        pointer="#/half_days",
    )
    with told({"booking_crew_once_per_half_day": taken}):
        booking.save()
    return booking


def _require_skill(crew: Crew, task: str) -> None:
    skill = SKILLS.get(task, ANY_CREW)
    if skill != ANY_CREW and skill not in crew.skills:
        raise LacksSkill(
            f"{crew.name} cannot {task}: that takes the skill {skill}. Choose another crew.",
            pointer="#/crew",
        )


def holidays_of(contractor: Contractor, *, first: date, last: date) -> Mapping[date, str]:
    """The public holidays that a contractor's crews keep in some days, with their names."""
    return public_holidays(contractor.country, contractor.subdivision, first=first, last=last)


def _require_present(crew: Crew, day: date, half: str) -> None:
    holiday = holidays_of(crew.contractor, first=day, last=day).get(day)
    if holiday and crew.keeps_holidays:
        raise CrewIsAway(
            Sentence(
                "{crew} does not work on {day}: {holiday} is a public holiday. Choose another "
                "half-day.",
                crew=crew.name,
                day=str(day),
                holiday=holiday,
            ),
            pointer="#/half_days",
        )
    works = crew.works[day.weekday()][("am", "pm").index(half)]
    if not works or CrewAbsence.objects.filter(crew=crew, day=day, half=half).exists():
        raise CrewIsAway(
            f"{crew.name} does not work on {day:%A}, {day} {half}. Choose another half-day.",
            pointer="#/half_days",
        )


def _crew_named(name: str) -> AbstractContextManager[None]:
    return told(
        {
            "crew_name_once_per_contractor": NameTaken(
                f"There is a crew called {name} already. Choose another name.", pointer="#/name"
            )
        }
    )
