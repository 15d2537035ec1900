"""Moving a task by hand: what stands against it is named, and where it could be."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier
from uuid import uuid4

import pytest
from django.db import connection
from django.utils.translation import override

from config.errors import DomainError
from config.etags import Stale
from config.wording import in_language
from scheduling.actions.moving import MoveRefused, move_task
from scheduling.actions.planning_facts import problem_of
from scheduling.models import Booking
from tests.factories import (
    NOW,
    BookingFactory,
    CrewAbsenceFactory,
    CrewFactory,
    JobFactory,
    MaterialFactory,
    RoomFactory,
)

MONDAY = date(2027, 3, 15)
pytestmark = pytest.mark.django_db


@pytest.fixture
def north(alder):
    return CrewFactory(contractor=alder, name="North")


@pytest.fixture
def job(alder):
    MaterialFactory(contractor=alder, kind="mortar")
    return RoomFactory(contractor=alder).job


def booked(crew, job, task, *half_days):
    span = uuid4()
    return [
        BookingFactory(
            contractor=crew.contractor, crew=crew, job=job, task=task, day=day, half=half, span=span
        )
        for day, half in half_days
    ]


def on(days, half="am"):
    return MONDAY + timedelta(days=days), half


def move(row, crew, days, half="am", **given):
    day, half = on(days, half)
    kept = {"pinned": True, "at": NOW, **given}
    return move_task(booking=row, version=1, crew=crew, day=day, half=half, **kept)


def places(*rows):
    found = Booking.objects.filter(pk__in=[row.pk for row in rows]).order_by("day", "half")
    return [(row.crew.name, row.day, row.half) for row in found]


def test_the_half_day_that_is_moved_falls_where_asked_and_the_others_follow(north, job):
    rows = booked(north, job, "lay", on(0), on(0, "pm"), on(1))
    move(rows[1], north, 4, "pm")
    assert places(*rows) == [
        ("North", *on(4)),
        ("North", *on(4, "pm")),
        ("North", *on(7)),  # over the weekend
    ]
    assert all(Booking.objects.values_list("pinned", flat=True))


def test_a_task_moves_by_less_than_its_length_both_ways(north, job):
    rows = booked(north, job, "lay", on(1), on(1, "pm"), on(2))
    move(rows[0], north, 1, "pm")
    assert places(*rows)[0] == ("North", *on(1, "pm"))
    move_task(booking=rows[0], version=2, crew=north, day=MONDAY, half="pm", pinned=False, at=NOW)
    assert places(*rows)[0] == ("North", *on(0, "pm"))
    assert not any(Booking.objects.values_list("pinned", flat=True))


def refusal(row, crew, days, half="am", **given):
    with pytest.raises(MoveRefused) as refused:
        move(row, crew, days, half, **given)
    return refused.value


def test_mortar_that_still_hardens_is_in_the_way(north, job):
    (embed,) = booked(north, job, "embed", on(0))
    (tile,) = booked(north, job, "tile", on(8))
    said = refusal(tile, north, 0, "pm")
    assert "cover with mortar at 14 Mill Lane comes first, and lets it start on" in said.because[0]
    first = said.nearest[0]
    assert first.day > embed.day + timedelta(days=1)
    assert move(tile, north, (first.day - MONDAY).days, first.half)


def test_what_comes_after_is_in_the_way_too(north, job):
    (embed,) = booked(north, job, "embed", on(0))
    booked(north, job, "tile", on(8))
    said = refusal(embed, north, 7)
    assert "tile at 14 Mill Lane is booked on Tue 2027-03-23 am" in said.because[0]


def test_another_task_of_the_crew_is_named(north, job, alder):
    (lay,) = booked(north, job, "lay", on(0))
    other = RoomFactory(contractor=alder, job__street="9 Elm Court").job
    booked(north, other, "survey", on(2))
    assert refusal(lay, north, 2).because == (
        "North has survey at 9 Elm Court on Wed 2027-03-17 am",
    )


def test_work_that_is_not_planned_holds_its_crew_too(north, job, alder):
    (lay,) = booked(north, job, "lay", on(0))
    booked(north, JobFactory(contractor=alder), "other", on(2))
    assert "North does not work on Wed" in refusal(lay, north, 2).because[0]


def test_other_work_can_be_moved_and_does_not_stand_in_its_own_way(north, alder):
    rows = booked(north, JobFactory(contractor=alder), "other", on(0), on(0, "pm"))
    move(rows[0], north, 0, "pm")
    assert places(*rows) == [("North", *on(0, "pm")), ("North", *on(1))]


def test_the_same_step_in_a_second_room_is_a_task_of_its_own(north, job):
    booked(north, job, "lay", on(0))
    (second,) = booked(north, job, "lay", on(1))
    assert refusal(second, north, 0).because[0].startswith("North has lay at 14 Mill Lane")
    move(second, north, 2)
    assert places(second) == [("North", *on(2))]


def test_who_cannot_or_is_away_is_named_and_others_are_offered(north, job, alder):
    (embed,) = booked(north, job, "embed", on(0))
    tilers = CrewFactory(contractor=alder, name="Tilers", skills=["tile"])
    said = refusal(embed, tilers, 0)
    assert said.because == ("Tilers cannot work with mortar",)
    assert {near.crew for near in said.nearest} == {"North"}
    CrewAbsenceFactory(contractor=alder, crew=north, day=on(1)[0], half="am")
    assert refusal(embed, north, 1).because == ("North does not work on Tue 2027-03-16 am",)


def test_nobody_is_sent_into_the_past(north, job):
    (lay,) = booked(north, job, "lay", on(0))
    said = refusal(lay, north, -6)
    assert said.because == ("that half-day is over",)
    assert all(near.day >= NOW.date() for near in said.nearest)


def test_a_move_from_an_old_page_is_stale(north, job):
    (lay,) = booked(north, job, "lay", on(0))
    with pytest.raises(Stale):
        move_task(booking=lay, version=2, crew=north, day=MONDAY, half="pm", pinned=True, at=NOW)


def test_planning_keeps_a_move_as_a_fact(north, job, alder):
    (lay,) = booked(north, job, "lay", on(0))
    move(lay, north, 3)
    asked = problem_of(alder.pk, start=NOW.date())
    (task,) = [each for each in asked.tasks if each.id.endswith(" lay")]
    assert (task.fixed.crew, task.fixed.start) == ("North", 16)


def test_a_floor_covered_by_a_booking_before_the_plan_still_hardens(north, job, alder):
    booked(north, job, "embed", on(0, "pm"))
    asked = problem_of(alder.pk, start=MONDAY + timedelta(days=1))
    ready = {each.id.split()[1]: each.not_before for each in asked.tasks}
    plain = problem_of(alder.pk, start=MONDAY)
    waits = {
        link.after.split()[1]: link.lag_slots for link in plain.links if "embed" in link.before
    }
    assert ready["tile"] == waits["tile"] > 0
    assert ready["energize"] == waits["energize"] > ready["tile"]


@pytest.mark.django_db(transaction=True)
def test_two_move_into_one_half_day_and_one_is_told():
    crew = CrewFactory()
    rows = [
        booked(crew, RoomFactory(contractor=crew.contractor).job, "survey", on(days))[0]
        for days in (0, 1)
    ]
    barrier = Barrier(2)

    def race(row):
        barrier.wait()
        try:
            move(row, crew, 3)
        except DomainError as refused:
            return refused.slug
        finally:
            connection.close()
        return "moved"

    with ThreadPoolExecutor(2) as pool:
        told = sorted(pool.map(race, rows))
    assert "moved" in told
    assert set(told) & {"half-day-taken", "move-refused"}


def test_a_refusal_is_said_in_the_language_of_who_reads_it(north, job):
    (row,) = booked(north, job, "tile", on(2))
    CrewAbsenceFactory(contractor=north.contractor, crew=north, day=on(3)[0], half="am")
    with pytest.raises(MoveRefused) as refused:
        move(row, north, 3)
    with override("es"):
        said = in_language(refused.value.detail)
        stored = in_language(str(refused.value.because[0]))
    assert stored == "North no trabaja el jue 2027-03-18 por la mañana"
    assert said.startswith(f"No puede estar ahí: {stored}. Lo más cercano posible: North, ")
    assert " am" not in said
    assert str(refused.value.detail).startswith("It cannot be there: North does not work on Thu ")
