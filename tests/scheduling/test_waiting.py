"""What a job waits for, and when somebody of the office must act."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import combinations
from uuid import uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.waiting import (
    BANDS,
    NEEDS,
    SAYS,
    BookingNow,
    JobNow,
    RoomNow,
    VisitNow,
    changes_at,
    days_late,
    waiting,
)

NOW = datetime(2027, 3, 10, 7, 0, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def room(**facts):
    return RoomNow(id=uuid4(), name="Bathroom", **{"elements": 1, **facts})


def job(*rooms, **facts):
    named = {"id": uuid4(), "street": "14 Mill Lane", "time_zone": "Europe/Oslo", "due_on": None}
    return JobNow(rooms=rooms, **named | facts)


def booking(of, task="embed", after=DAY, **facts):
    return BookingNow(
        room=of.id,
        task=task,
        crew="North",
        day=NOW.date(),
        half="am",
        starts_at=NOW + after,
        ends_at=NOW + after + 4 * HOUR,
        **facts,
    )


def visit(of, after, **facts):
    return VisitNow(
        room=of.id,
        who="plumber",
        phone="+47",
        starts_at=NOW + after,
        ends_at=NOW + after + 3 * HOUR,
        warned=True,
        **facts,
    )


BARE = room(exposure="bare", stages={"arrival": "pass", "laid": "pass"})
CURING = room(
    exposure="wet",
    covered=True,
    stages={"laid": "pass", "covered": "pass"},
    likely=NOW + 3 * DAY,
    earliest=NOW + 2 * DAY,
)
WARM = room(
    exposure="embedded",
    covered=True,
    may_energize=True,
    stages={"laid": "pass", "covered": "pass", "handover": "pass"},
    heated_at=NOW - DAY,
)


def first(found):
    return found.needs[0].group, found.needs[0].mark, found.needs[0].says.key


def test_a_warned_trade_that_comes_today_unanswered_comes_first():
    found = waiting(job(BARE, visits=[visit(BARE, 5 * HOUR)]), NOW)
    assert found.band == "us"
    assert first(found) == ("people", "bare", "visit")
    assert found.needs[0].call == "+47"


@pytest.mark.parametrize(
    "coming",
    [
        visit(BARE, 5 * HOUR, confirmed=True),
        replace(visit(BARE, 5 * HOUR), warned=False),
        visit(BARE, 72 * HOUR),
        visit(BARE, -HOUR),
    ],
    ids=["confirmed", "not warned", "far off", "over"],
)
def test_a_visit_that_hurts_nobody_today_needs_nobody(coming):
    assert waiting(job(BARE, visits=[coming]), NOW).needs == ()


def test_a_trade_that_was_asked_again_and_is_silent_is_a_matter_of_dates():
    found = waiting(job(BARE, visits=[visit(BARE, 72 * HOUR, raised=True)]), NOW)
    assert first(found) == ("dates", "hold", "raised")


def test_a_failure_under_mortar_can_hurt_somebody():
    bad = replace(CURING, stages={"laid": "pass", "covered": "fail"})
    assert first(waiting(job(bad), NOW)) == ("people", "fail", "failed")


def test_a_failure_on_the_bare_cable_is_a_matter_of_proof():
    bad = replace(BARE, stages={"laid": "fail"})
    assert first(waiting(job(bad), NOW)) == ("proof", "fail", "failed")


@pytest.mark.parametrize("laid", [{}, {"laid": "undecided"}])
def test_mortar_that_is_booked_over_an_unproven_cable_is_the_last_chance(laid):
    unproven = replace(BARE, stages=laid)
    found = waiting(job(unproven, bookings=[booking(unproven)]), NOW)
    assert first(found)[::2] == ("proof", "cover-unproven")
    assert found.needs[0].until == NOW + DAY


def test_proven_or_later_mortar_is_no_last_chance():
    assert waiting(job(BARE, bookings=[booking(BARE)]), NOW).needs == ()
    unproven = replace(BARE, stages={})
    assert waiting(job(unproven, bookings=[booking(unproven, after=5 * DAY)]), NOW).needs == ()


def test_a_date_beyond_the_due_date_is_told_in_the_days_of_the_place():
    # 23:30 UTC on the 12th is the 13th in Oslo.
    late = replace(CURING, likely=datetime(2027, 3, 12, 23, 30, tzinfo=UTC))
    assert first(waiting(job(late, due_on=date(2027, 3, 12)), NOW))[2] == "late"
    assert waiting(job(late, due_on=date(2027, 3, 13)), NOW).needs == ()


@pytest.mark.parametrize(
    ("due_on", "last_booked_on", "late"),
    [
        (date(2028, 2, 27), date(2028, 3, 1), 3),  # over a leap day
        (date(2028, 2, 27), date(2028, 2, 28), 1),
        (date(2028, 2, 27), date(2028, 2, 27), None),
        (date(2028, 2, 27), None, None),
        (None, date(2028, 3, 1), None),
    ],
)
def test_a_job_is_late_by_the_days_of_its_last_booking_behind_the_due_date(
    due_on, last_booked_on, late
):
    assert days_late(job(due_on=due_on, last_booked_on=last_booked_on)) == late


def test_a_hold_that_time_does_not_clear_needs_somebody():
    held = replace(
        CURING, earliest=NOW - HOUR, holds=[("No control is recorded.", "The installer")]
    )
    assert first(waiting(job(held), NOW)) == ("dates", "hold", "hold")
    still_curing = replace(held, earliest=NOW + HOUR)
    assert waiting(job(still_curing), NOW).needs == ()


def test_a_proven_job_waits_for_names_then_for_its_certificate():
    assert first(waiting(job(WARM), NOW)) == ("papers", "hold", "sign")
    signed = waiting(job(WARM, signed=frozenset({"electrician"})), NOW)
    assert (signed.band, signed.says.key) == ("customers", "customer")
    both = waiting(job(WARM, signed=frozenset({"electrician", "customer"})), NOW)
    assert first(both)[2] == "issue"
    done = waiting(job(WARM, certified=True), NOW)
    assert (done.band, done.needs) == ("nobody", ())


def test_what_nobody_has_to_care_about_is_told_by_what_it_waits_for():
    assert waiting(job(CURING), NOW).band == "mortar"
    assert waiting(job(CURING), NOW).until == CURING.likely
    assert waiting(job(BARE, bookings=[booking(BARE, "tile")]), NOW).band == "crews"
    assert waiting(job(BARE, bookings=[booking(BARE, "tile", pinned=True)]), NOW).mark == "frozen"
    assert waiting(job(BARE, visits=[visit(BARE, 72 * HOUR)]), NOW).band == "trades"
    assert waiting(job(), NOW).says.key == "unbooked"


rooms = st.builds(
    RoomNow,
    id=st.uuids(),
    name=st.just("Room"),
    elements=st.integers(0, 2),
    stages=st.dictionaries(
        st.sampled_from(["arrival", "laid", "covered", "handover"]),
        st.sampled_from(["pass", "fail", "undecided"]),
    ),
    exposure=st.sampled_from(["none", "bare", "wet", "embedded"]),
    covered=st.booleans(),
    may_energize=st.booleans(),
    likely=st.none() | st.just(NOW + DAY),
    earliest=st.none() | st.just(NOW - DAY),
    holds=st.just(()) | st.just((("what", "who"),)),
    heated_at=st.none() | st.just(NOW - DAY),
)


@given(
    many=st.lists(rooms, max_size=3),
    due_on=st.none() | st.just(date(2027, 3, 9)),
    signed=st.frozensets(st.sampled_from(["electrician", "customer"])),
    certified=st.booleans(),
)
def test_every_job_waits_for_exactly_one_thing_and_says_why(many, due_on, signed, certified):
    found = waiting(job(*many, due_on=due_on, signed=signed, certified=certified), NOW)
    assert found.band in BANDS
    assert (found.band == "us") == bool(found.needs)
    assert found.says.key in SAYS
    SAYS[found.says.key].format(**found.says.figures)
    for sooner, later in combinations(found.needs, 2):
        assert NEEDS.index(sooner.group) <= NEEDS.index(later.group)


hours = st.integers(-60, 120).map(lambda n: n * HOUR)


@given(
    at=rooms,
    comes=hours,
    booked=hours,
    facts=st.fixed_dictionaries({"confirmed": st.booleans(), "raised": st.booleans()}),
    due_on=st.none() | st.just(NOW.date()),
    earliest=st.none() | hours.map(lambda after: NOW + after),
    part=st.floats(0, 1),
)
def test_time_alone_changes_nothing_before_its_turn(
    at, comes, booked, facts, due_on, earliest, part
):
    at = replace(at, earliest=earliest)
    known = job(
        at,
        due_on=due_on,
        visits=[visit(at, comes, **facts)] if comes + 3 * HOUR > timedelta() else [],
        bookings=[booking(at, after=booked)] if booked + 4 * HOUR > timedelta() else [],
    )
    turn = changes_at(known, NOW)
    later = NOW + part * ((turn or NOW + 400 * DAY) - NOW)
    if turn is None or later < turn:
        assert waiting(known, later) == waiting(known, NOW)


HELD = replace(CURING, earliest=NOW + HOUR, holds=[("No control is recorded.", "The installer")])
TURNS = {
    "a visit comes near": (job(BARE, visits=[visit(BARE, 60 * HOUR)]), NOW + 24 * HOUR),
    "mortar comes near": (
        job(replace(BARE, stages={}), bookings=[booking(BARE, after=5 * DAY)]),
        NOW + 3 * DAY,
    ),
    "only a hold is left": (job(HELD), NOW + HOUR),
    "the due date is over": (
        job(BARE, due_on=NOW.date()),
        datetime(2027, 3, 10, 23, 0, tzinfo=UTC),  # midnight in Oslo
    ),
}


@pytest.mark.parametrize("name", TURNS)
def test_a_turn_is_told_to_the_instant(name):
    known, turn = TURNS[name]
    assert changes_at(known, NOW) == turn
    assert waiting(known, turn - timedelta(microseconds=1)) == waiting(known, NOW)
    assert waiting(known, turn) != waiting(known, NOW)
