"""Sample jobs: invented, put in by one click to look around, and taken out by another."""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _

from config.errors import DomainError
from config.sentence import Sentence
from config.tenancy import TenantQuerySet
from jobs.actions.customers import add_customer
from jobs.actions.jobs import USUAL_SUPPLY, add_job, add_room
from jobs.actions.materials import add_generic_materials
from jobs.models import Customer, Job, Member, Room
from scheduling.actions.crews import add_crew, book_crew
from scheduling.actions.layers import add_layer
from scheduling.actions.visits import plan_visit
from scheduling.halfday import starts_at
from scheduling.models import Booking, Crew, Layer, Notice, Visit
from scheduling.workload import ANY_CREW, SKILLS

WEEK = [[1, 1]] * 5 + [[0, 0]] * 2


class SampleInUse(DomainError):
    """Records that are never deleted hang on a sample job."""

    slug = "sample-in-use"


def has_sample(by: Member) -> bool:
    return _customers(by).exists()


@transaction.atomic
def add_sample(*, by: Member, at: datetime) -> None:
    """Put in two customers with three jobs, a crew with two days of work, and a plumber's visit.

    A second time changes nothing.
    """
    if has_sample(by):
        return
    contractor = by.contractor
    profile, volts = USUAL_SUPPLY[contractor.units]
    zone = ZoneInfo(contractor.time_zone)
    today = at.astimezone(zone).date()
    (mortar,) = add_generic_materials(by=by, keys=["polymer-mortar"])
    customers = [
        add_customer(by=by, client_id=_named(by, number), name=name, phone="", email="")
        for number, name in enumerate((_("Sample: Ada Example"), _("Sample: Ben Example")))
    ]

    def job(customer: Customer, street: str, due_in_days: int, **fields: Any) -> Job:
        return add_job(
            by=by,
            customer=customer,
            title=_("Sample job"),
            street=street,
            city=_("Sampleton"),
            country="US" if profile == "us" else "NO",
            supply_volts=volts,
            code_profile=profile,
            due_on=today + timedelta(days=due_in_days),
            **fields,
        )

    first = job(customers[0], _("1 Sample Street"), 30)
    job(customers[0], _("2 Sample Street"), -1)
    third = job(customers[1], _("3 Sample Street"), 60)
    bathroom = _bathroom(by, first)
    _bathroom(by, third)
    add_layer(
        by=by, room=bathroom, material=mortar, position=None, embeds=True, thickness_mm=10.0, at=at
    )
    crew = add_crew(
        by=by,
        members=[],
        fields={
            "name": _crew_name(),
            "skills": sorted(set(SKILLS.values()) - {ANY_CREW}),
            "works": WEEK,
        },
    )
    days = _working_days(today, 2)
    for day, task in zip(days, ("lay", "embed"), strict=True):
        book_crew(
            by=by, crew=crew, job=first, room=bathroom, task=task, half_days=[(day, "am")], at=at
        )
    comes_at = starts_at(days[1], time(13), zone)
    plan_visit(
        by=by,
        job=first,
        room=bathroom,
        fields={
            "trade": _("plumber"),
            "company": _("Sample Pipes"),
            "activities": ["walking", "drilling"],
            "starts_at": comes_at,
            "ends_at": comes_at + timedelta(hours=3),
        },
        at=at,
    )


@transaction.atomic
def remove_sample(*, by: Member) -> None:
    """Take the sample jobs out again; raises SampleInUse where something kept for good is in one.

    Generic materials stay in the catalogue.
    """
    jobs = Job.objects.visible_to(by).filter(customer__in=_customers(by))
    try:
        with transaction.atomic():
            crews = Crew.objects.visible_to(by).filter(name=_crew_name())
            Booking.objects.visible_to(by).filter(job__in=jobs).delete()
            Notice.objects.visible_to(by).filter(visit__job__in=jobs, sent_at=None).delete()
            Visit.objects.visible_to(by).filter(job__in=jobs).delete()
            Layer.objects.visible_to(by).filter(room__job__in=jobs).delete()
            jobs.delete()
            _customers(by).delete()
            crews.filter(bookings=None).delete()
    except (ProtectedError, IntegrityError) as error:
        raise SampleInUse(
            Sentence(
                "A sample job has readings, warnings or dates now, and those are never deleted. "
                "Close the sample jobs instead."
            )
        ) from error


def _bathroom(by: Member, job: Job) -> Room:
    fixture: Mapping[str, Any] = {
        "kind": "fixture",
        "name": _("bathtub"),
        "outline": [[0, 1650], [1700, 1650], [1700, 2400], [0, 2400]],
        "margin_mm": None,
    }
    room, _notes = add_room(
        by=by,
        job=job,
        name=_("Bathroom"),
        outline=[[0, 0], [3000, 0], [3000, 2400], [0, 2400]],
        door_mm=[[1950, 0], [2750, 0]],
        control_mm=[3000, 600],
        keep_outs=[fixture],
    )
    return room


def _customers(by: Member) -> TenantQuerySet[Customer]:
    return Customer.objects.visible_to(by).filter(client_id__in=[_named(by, 0), _named(by, 1)])


def _named(by: Member, number: int) -> UUID:
    """The client id by which a sample customer is known again."""
    return uuid5(by.contractor_id, f"sample {number}")


def _crew_name() -> str:
    return _("Sample crew")


def _working_days(after: date, count: int) -> list[date]:
    days = (after + timedelta(days=n) for n in range(1, 10))
    return [day for day in days if day.weekday() < 5][:count]
