"""Plans in the service: asked for, worked out, accepted whole or not at all."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from django.db import connection
from django.db.models import F

from jobs.models import Job
from scheduling import tasks
from scheduling.actions import plans
from scheduling.models import Booking, Crew, Plan
from tests.factories import (
    NOW,
    BookingFactory,
    CrewAbsenceFactory,
    CrewFactory,
    LayerFactory,
    MaterialFactory,
    RoomFactory,
)

PLANS = "/api/v1/plans/"
EVERY_DAY = [[1, 1]] * 7


@pytest.fixture
def job(alder):
    """A job with one room, a mortar in the catalogue, and a crew that can do everything."""
    MaterialFactory(contractor=alder, kind="mortar")
    CrewFactory(
        contractor=alder,
        name="Crew A",
        skills=["lay", "mortar", "tile", "electric"],
        works=EVERY_DAY,
    )
    return RoomFactory(contractor=alder).job


@pytest.fixture
def proposed(api, olive, job):
    plan_id = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert tasks.solve_plan(plan_id)
    return plan_id


def first_day(plan_id):
    return date.fromisoformat(Plan.objects.get(pk=plan_id).problem["start"])


def test_a_plan_is_asked_for_worked_out_and_accepted(api, olive, job):
    asked = api(olive).post(PLANS, {"seconds": 1})
    assert asked.status_code == 202
    assert asked.json()["state"] == "queued"
    plan_id = asked.json()["id"]
    assert tasks.solve_plan(plan_id)
    shown = api(olive).get(f"{PLANS}{plan_id}/").json()
    assert shown["state"] == "proposed"
    assert shown["objective"]["unplanned"] == 0
    assert [move["task"] for move in shown["moves"]][:3] == ["survey", "prepare", "lay"]
    assert shown["moves"][0]["from_crew"] is None
    assert shown["moves"][0]["to_crew"] == "Crew A"
    assert not Booking.objects.exists()
    assert api(olive).post(f"{PLANS}{plan_id}/accept/").json()["state"] == "accepted"
    booked = Booking.objects.order_by("day", "half")
    assert {row.task for row in booked} == {move["task"] for move in shown["moves"]}
    assert {str(row.plan_id) for row in booked} == {plan_id}


def test_heat_waits_for_the_mortar_in_the_bookings(api, olive, proposed):
    api(olive).post(f"{PLANS}{proposed}/accept/")
    embed = Booking.objects.filter(task="embed").latest("day").day
    energize = Booking.objects.get(task="energize").day
    assert energize - embed >= timedelta(hours=168)


def test_a_second_worker_leaves_it_alone(proposed):
    assert not tasks.solve_plan(proposed)


def test_one_at_a_time(api, olive, job, problem):
    api(olive).post(PLANS, {"seconds": 1})
    refused = api(olive).post(PLANS, {"seconds": 1})
    assert refused.status_code == 409
    assert problem(refused)["type"].endswith("/plan-under-way/")


def test_a_cancelled_plan_is_not_worked_out(api, olive, job):
    plan_id = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert api(olive).post(f"{PLANS}{plan_id}/cancel/").json()["state"] == "cancelled"
    assert not tasks.solve_plan(plan_id)
    assert api(olive).post(PLANS, {"seconds": 1}).status_code == 202


def test_cancelling_stops_the_search(api, olive, job, monkeypatch):
    plan_id = api(olive).post(PLANS, {"seconds": 120}).json()["id"]
    monkeypatch.setattr(plans, "SECONDS_BETWEEN_LOOKS", 0.0)

    def clock():
        Plan.objects.filter(pk=plan_id, state="solving").update(state="cancelled")
        return NOW

    assert not plans.solve_plan(Plan.objects.get().pk, clock=clock)
    assert Plan.objects.get().state == "cancelled"


def test_a_proposal_can_be_declined_and_then_not_accepted(api, olive, proposed, problem):
    assert api(olive).post(f"{PLANS}{proposed}/cancel/").json()["state"] == "declined"
    refused = api(olive).post(f"{PLANS}{proposed}/accept/")
    assert refused.status_code == 409
    assert problem(refused)["type"].endswith("/plan-not-open/")


def test_what_changed_since_is_told_and_nothing_is_booked(api, olive, proposed, problem, alder):
    CrewAbsenceFactory(
        contractor=alder,
        crew=Crew.objects.get(),
        day=first_day(proposed) + timedelta(days=3),
    )
    refused = api(olive).post(f"{PLANS}{proposed}/accept/")
    assert refused.status_code == 409
    assert "crew Crew A is not as it was" in problem(refused)["detail"]
    assert not Booking.objects.exists()


def test_accepting_a_new_plan_moves_only_what_it_moves(api, olive, proposed):
    api(olive).post(f"{PLANS}{proposed}/accept/")
    before = set(Booking.objects.values_list("pk", flat=True))
    again = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert tasks.solve_plan(again)
    assert api(olive).get(f"{PLANS}{again}/").json()["moves"] == []
    api(olive).post(f"{PLANS}{again}/accept/")
    assert set(Booking.objects.filter(cancelled_at=None).values_list("pk", flat=True)) == before


def test_what_a_crew_that_falls_ill_moves_says_why(api, olive, proposed, alder):
    api(olive).post(f"{PLANS}{proposed}/accept/")
    survey = Booking.objects.get(task="survey")
    CrewAbsenceFactory(contractor=alder, crew=survey.crew, day=survey.day, half=survey.half)
    again = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert tasks.solve_plan(again)
    moves = {move["task"]: move for move in api(olive).get(f"{PLANS}{again}/").json()["moves"]}
    said = f"Crew A does not work on {survey.day:%a} {survey.day} {survey.half}"
    assert moves["survey"]["because"] == [said]


def test_a_pinned_booking_stays_where_the_office_put_it(api, olive, alder, job):
    crew = Crew.objects.get()
    asked = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    api(olive).post(f"{PLANS}{asked}/cancel/")
    day = first_day(asked) + timedelta(days=9)
    pinned = BookingFactory(
        contractor=alder, crew=crew, job=job, task="lay", day=day, half="pm", pinned=True
    )
    plan_id = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert tasks.solve_plan(plan_id)
    assert api(olive).post(f"{PLANS}{plan_id}/accept/").status_code == 200
    kept = Booking.objects.get(task="lay", cancelled_at=None)
    assert (kept.pk, kept.day, kept.half) == (pinned.pk, day, "pm")
    assert Booking.objects.filter(task="prepare").latest("day").day <= day


def test_a_late_job_names_its_mortar_room_and_crew_in_words(api, olive, alder, real_today):
    """The mortar hardens for days, and the only crew that can tile is away around then."""
    mortar = MaterialFactory(contractor=alder, name="Quick mortar")
    room = RoomFactory(
        contractor=alder,
        name="Bathroom",
        job__due_on=real_today + timedelta(days=7),
        job__street="9 Elm Road",
    )
    LayerFactory(contractor=alder, room=room, material=mortar)
    works = {"works": EVERY_DAY}
    CrewFactory(contractor=alder, name="North", skills=["lay", "mortar", "electric"], **works)
    tilers = CrewFactory(contractor=alder, name="South", skills=["lay", "tile"], **works)
    for days in range(3, 13):
        for half in ("am", "pm"):
            CrewAbsenceFactory(
                contractor=alder, crew=tilers, day=real_today + timedelta(days=days), half=half
            )
    plan_id = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert tasks.solve_plan(plan_id)
    (late,) = api(olive).get(f"{PLANS}{plan_id}/").json()["because"]
    assert (late["job"], late["street"]) == (str(room.job_id), "9 Elm Road")
    assert late["rooms"] == ["Bathroom"]
    assert late["late_half_days"] > 0
    first, last = (real_today + timedelta(days=days) for days in (3, 12))
    said = f"from {first:%a} {first} am until {last:%a} {last} pm"
    assert f"South, the only one that can tile and grout, is away {said}" in late["because"]
    assert any(
        said.startswith("Quick mortar at 9 Elm Road (Bathroom) takes heat only from ")
        for said in late["because"]
    )


def test_a_task_without_a_place_says_so_in_words(api, olive, job, alder):
    """Without a due date a job is never late, but its tasks still have no place."""
    Crew.objects.update(skills=["lay", "mortar", "electric"])
    plan_id = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    assert tasks.solve_plan(plan_id)
    shown = api(olive).get(f"{PLANS}{plan_id}/").json()
    assert [each["task"] for each in shown["unplanned"]] == [
        *("tile", "grout", "connect", "energize")
    ]
    assert {each["street"] for each in shown["unplanned"]} == {"14 Mill Lane"}
    assert [each["because"] for each in shown["unplanned"]][:2] == [
        ["no crew can tile and grout"],
        ["it comes after tile at 14 Mill Lane, which has no place"],
    ]
    (why,) = shown["because"]
    assert why["job"] == str(job.pk)
    assert why["because"] == ["no crew can tile and grout"]


def test_a_plan_can_still_be_read_when_its_job_is_closed(api, olive, proposed, job, alder):
    api(olive).post(f"{PLANS}{proposed}/accept/")
    Job.objects.filter(pk=job.pk).update(closed_at=NOW)
    moves = api(olive).get(f"{PLANS}{proposed}/").json()["moves"]
    assert {move["job"] for move in moves} == {str(job.pk)}


def test_the_picture_names_crews_and_what_hardens(api, olive, proposed):
    shown = api(olive).get(f"{PLANS}{proposed}/picture/")
    assert shown["Content-Type"] == "image/svg+xml"
    text = shown.content.decode()
    assert "Crew Crew A" in text
    assert "hardens" in text


def test_a_lost_plan_is_sent_again(api, olive, job, monkeypatch):
    plan_id = api(olive).post(PLANS, {"seconds": 1}).json()["id"]
    Plan.objects.update(asked_at=F("asked_at") - timedelta(minutes=1))
    sent = []
    monkeypatch.setattr(tasks.app, "send_task", lambda name, args: sent.append((name, args)))
    assert tasks.resend_waiting_plans() == 1
    assert sent == [("scheduling.tasks.solve_plan", [plan_id])]


@pytest.mark.django_db(transaction=True)
def test_two_offices_accept_at_once_and_one_is_told(api, olive, proposed):
    start = Barrier(2)

    def accept():
        try:
            start.wait(10)
            return api(olive).post(f"{PLANS}{proposed}/accept/").status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        answers = [pool.submit(accept) for _ in range(2)]
    assert sorted(answer.result() for answer in answers) == [200, 409]
    spans = Booking.objects.values_list("crew", "day", "half")
    assert len(set(spans)) == len(spans)
