"""Who depends on a date learns that it moved, and why: once, and only of what is news."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from config.tenancy import violated
from jobs.actions.links import make_link
from readings.models import SiteTemperature
from scheduling import moves
from scheduling.actions import moved
from scheduling.actions.decisions import refresh
from scheduling.actions.standing import bring_up_to_date
from scheduling.models import DateMove, Decision, Energizing, JobNeed, MoveMessage, StaleJob
from tests.factories import (
    NOW,
    BookingFactory,
    CrewFactory,
    CustomerFactory,
    FloorSensorFactory,
    JobFactory,
    LayerFactory,
    MemberFactory,
    RoomFactory,
)

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LATER = NOW + moved.WAIT


def decision(*, likely="2027-03-12T07:00:00Z", holds=(), **more):
    return {
        "may_energize": False,
        "earliest": likely,
        "likely": likely,
        "latest": likely,
        "governed_by": "bed",
        "holds": [{"code": code, "subject": code, "text": f"{code}."} for code in holds],
        **more,
    }


class TestWhatIsNews:
    @pytest.mark.parametrize(
        ("now", "news"),
        [
            ({}, None),
            ({"likely": "2027-03-12T18:59:59Z"}, None),
            ({"likely": "2027-03-12T19:00:00Z"}, "date"),
            ({"likely": "2027-03-11T19:00:00Z"}, "date"),
            ({"likely": None}, "date"),
            ({"holds": ["frost"]}, "held"),
            ({"holds": []}, None),
            ({"holds": ["open-notice"]}, None),
        ],
    )
    def test_half_a_day_or_a_hold(self, now, news):
        assert moves.worth_telling(decision(), decision(**now)) == news

    def test_a_hold_that_clears_and_a_date_that_comes_back(self):
        assert moves.worth_telling(decision(holds=["frost"]), decision()) == "cleared"
        assert moves.worth_telling(decision(likely=None), decision()) == "date"


pytestmark = pytest.mark.django_db


@pytest.fixture
def room(alder, finn):
    customer = CustomerFactory(contractor=alder, email="ada@home.example", language="es")
    job = JobFactory(contractor=alder, customer=customer, assume_c=8)
    room = RoomFactory(contractor=alder, job=job, name="Bath", required=["sensor"])
    LayerFactory(contractor=alder, room=room, position=1, placed_at=NOW - 3 * DAY, placed_by=finn)
    refresh([room], at=NOW)
    return room


@pytest.fixture
def crew(alder, room, finn):
    crew = CrewFactory(contractor=alder)
    crew.members.add(finn)
    BookingFactory(contractor=alder, crew=crew, job=room.job, room=room, day=NOW.date() + DAY)
    return crew


@pytest.fixture
def owner(room):
    make_link(job=room.job, purpose="owner", at=NOW, lasts=365 * DAY)
    return room.job.customer


def read(room, finn, celsius, *, at=NOW):
    """Three days of readings up to `at`."""
    SiteTemperature.objects.bulk_create(
        SiteTemperature(
            contractor_id=room.contractor_id, job=room.job, room=room, client_id=uuid4(),
            at=at - hours * HOUR, celsius=celsius, source="logger", received_at=at, taken_by=finn,
        )
        for hours in range(0, 70, 2)
    )  # fmt: skip


def warm(room, finn, celsius=20.0, *, at=NOW):
    read(room, finn, celsius, at=at)
    refresh([room], at=at)


def messages():
    return list(MoveMessage.objects.filter(withdrawn_at=None).order_by("pk"))


def test_the_first_date_is_no_news(room, crew, owner):
    assert Decision.objects.count() == 1
    assert not DateMove.objects.exists()


def test_a_date_that_moves_is_noted_with_its_reasons(room, finn):
    warm(room, finn)
    move = DateMove.objects.get()
    assert move.kind == "date"
    assert move.was - move.likely >= 12 * HOUR
    assert move.why == [
        ["New temperatures: {n}, from {low} to {high} °C.", {"n": "35", "low": "20", "high": "20"}]
    ]
    assert move.decision.reasons == move.why


@pytest.mark.parametrize(("celsius", "said"), [(20.426, "20.4"), (-4.26, "−4.3"), (-0.04, "0")])
def test_temperatures_are_told_to_a_tenth(celsius, said):
    before = {
        "layers": [],
        "holds": [],
        "promises": [],
        "assume_c": None,
        "may_energize": False,
        "temperatures": [],
    }
    reading = {"at": "2027-03-10T07:00:00Z", "celsius": celsius, "source": "logger"}
    after = before | {"temperatures": [reading]}
    (told,) = moves.reasons(before, after, before, after)
    assert (told.figures["low"], told.figures["high"]) == (said, said)


def test_small_steps_add_up_against_what_was_told(room, finn):
    """Each step is too small to tell, not so all of them together."""
    told = Decision.objects.get()
    for kelvin in range(1, 9):
        read(room, finn, 8.0 + kelvin, at=NOW - kelvin * timedelta(minutes=1))
        refresh([room], at=NOW)
    steps = list(DateMove.objects.order_by("pk"))
    before = told.likely
    for step in steps:
        assert abs(step.likely - before) >= 12 * HOUR
        before = step.likely
    assert len(steps) < Decision.objects.count()


def test_crews_booked_from_today_on_and_the_owner_get_a_message(
    room, crew, owner, finn, mailoutbox
):
    warm(room, finn)
    assert {(each.audience, each.email) for each in messages()} == {
        ("crew", finn.email),
        ("owner", "ada@home.example"),
    }
    assert not any(moved.send_message(message_id=each.pk, at=NOW) for each in messages())
    assert all(moved.send_message(message_id=each.pk, at=LATER) for each in messages())
    assert not any(moved.send_message(message_id=each.pk, at=LATER) for each in messages())
    to_crew, to_owner = sorted(mailoutbox, key=lambda mail: mail.to != [finn.email])
    assert "Bath" in to_crew.subject
    assert "You were told:" in to_crew.body
    assert "New temperatures: 35, from 20 to 20 °C." in to_crew.body
    assert reverse("field-room", args=[room.pk]) in to_crew.body
    assert "Se puede encender" in to_owner.body
    assert "Temperaturas nuevas: 35" in to_owner.body
    assert "/owner/" in to_owner.body
    assert to_owner.extra_headers["Message-ID"].startswith("<moved-")


def test_a_crew_that_was_here_is_not_told(room, alder, finn):
    gone = CrewFactory(contractor=alder)
    gone.members.add(finn)
    BookingFactory(contractor=alder, crew=gone, job=room.job, day=NOW.date() - DAY)
    other = CrewFactory(contractor=alder)
    other.members.add(MemberFactory(contractor=alder))
    BookingFactory(contractor=alder, crew=other, job=JobFactory(contractor=alder), day=NOW.date())
    warm(room, finn)
    assert messages() == []


def test_an_owner_who_was_given_no_link_is_not_written_to(room, finn):
    warm(room, finn)
    assert messages() == []


def test_a_hold_is_the_crews_not_the_owners(room, crew, owner):
    FloorSensorFactory(contractor=room.contractor, room=room)
    refresh([room], at=NOW)
    assert DateMove.objects.get().kind == "cleared"
    assert [each.audience for each in messages()] == ["crew"]


def test_news_that_comes_in_together_is_one_message(room, crew, finn, mailoutbox):
    warm(room, finn, 12.0)
    warm(room, finn, 9.0, at=NOW + timedelta(minutes=5))
    first = Decision.objects.order_by("pk").first()
    (only,) = messages()
    assert only.since == first
    assert MoveMessage.objects.exclude(withdrawn_at=None).count() == 1
    assert moved.send_message(message_id=only.pk, at=NOW + DAY)
    assert len(mailoutbox) == 1


def test_what_is_taken_back_before_it_was_sent_is_never_sent(room, crew):
    sensor = FloorSensorFactory(contractor=room.contractor, room=room)
    refresh([room], at=NOW)
    sensor.removed_at = NOW
    sensor.save()
    refresh([room], at=NOW + timedelta(minutes=1))
    assert [move.kind for move in DateMove.objects.order_by("pk")] == ["cleared", "held"]
    assert messages() == []


def test_a_mail_server_that_is_down_is_tried_again_later(room, crew, finn, settings):
    warm(room, finn)
    (only,) = messages()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    assert not moved.send_message(message_id=only.pk, at=LATER)
    only.refresh_from_db()
    assert (only.sent_at, only.claimed_at, only.attempts) == (None, None, 1)
    assert "ConnectionRefusedError" in only.last_error
    assert only.send_after > LATER


def test_once_heat_is_on_nobody_is_told(room, crew, finn):
    warm(room, finn)
    Energizing.objects.create(
        contractor_id=room.contractor_id, room=room, client_id=uuid4(), at=NOW,
        decision=Decision.objects.first(), recorded_by=finn,
    )  # fmt: skip
    (only,) = messages()
    assert not moved.send_message(message_id=only.pk, at=LATER)
    only.refresh_from_db()
    assert only.withdrawn_at == LATER
    warm(room, finn, 6.0, at=NOW + HOUR)
    assert DateMove.objects.count() == 1


class TestTheOffice:
    def needs(self, olive, at=NOW):
        bring_up_to_date(olive, at=at)
        return list(JobNeed.objects.visible_to(olive).filter(group="dates").order_by("pk"))

    def test_finds_it_among_what_needs_it_until_it_has_read_it(self, api, olive, room, finn):
        warm(room, finn)
        (need,) = self.needs(olive)
        assert (need.says, need.mark, need.room) == ("moved", "moved", room)
        page = api(olive).get(reverse("home")).content.decode()
        assert "Heat may come on likely on" in page
        shown = api(olive).get(reverse("room", args=[room.pk])).content.decode()
        assert "New temperatures: 35, from 20 to 20 °C." in shown
        assert "The first date of this floor." in shown
        assert "I have read why it moved" in shown
        answer = api(olive).post(reverse("moves-read", args=[room.pk]))
        assert answer.status_code == 302
        assert DateMove.objects.get().read_by == olive
        assert StaleJob.objects.exists()
        assert self.needs(olive) == []
        assert "I have read" not in api(olive).get(reverse("room", args=[room.pk])).content.decode()

    def test_a_hold_that_cleared_asks_nothing_of_it(self, olive, room):
        FloorSensorFactory(contractor=room.contractor, room=room)
        refresh([room], at=NOW)
        assert self.needs(olive) == []

    def test_a_new_hold_does(self, olive, room):
        sensor = FloorSensorFactory(contractor=room.contractor, room=room)
        refresh([room], at=NOW)
        moved.read_moves(by=olive, room=room, at=NOW)
        sensor.removed_at = NOW
        sensor.save()
        refresh([room], at=NOW)
        (need,) = self.needs(olive)
        assert (need.says, need.figures) == ("held", {"what": "No floor sensor is recorded."})


def test_the_owner_reads_it_behind_the_link(client, room, finn):
    _, secret = make_link(job=room.job, purpose="owner", at=NOW, lasts=3650 * DAY)
    warm(room, finn)
    page = client.get(reverse("owner", args=[secret]), {"lang": "en"}).content.decode()
    assert "The day moved from" in page
    assert "New temperatures: 35" in page
    page = client.get(reverse("owner", args=[secret])).content.decode()
    assert "El día cambió del" in page


def test_the_database_keeps_who_read_it_with_when(room, finn):
    warm(room, finn)
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        DateMove.objects.update(read_at=NOW)
    assert violated(refused.value) == "datemove_read_at_and_by"


def test_the_database_writes_to_a_person_once(room, crew, finn):
    warm(room, finn)
    (only,) = messages()
    only.pk = uuid4()
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        only.save(force_insert=True)
    assert violated(refused.value) == "movemessage_once_per_person"
