"""The pages of the office: what they say, to whom, and at what price."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse

from scheduling.actions.standing import bring_up_to_date
from scheduling.models import Decision, Notice
from tests.factories import (
    BookingFactory,
    CertificateFactory,
    CrewFactory,
    CustomerFactory,
    ElementFactory,
    JobFactory,
    MaterialFactory,
    NoticeFactory,
    RoomFactory,
    VisitFactory,
    VisitingTradeFactory,
)
from tests.pages.world import build

MOST_QUERIES = 12


@pytest.fixture
def world(olive, finn, real_now):
    return build(olive, finn, real_now)


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


def words(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_what_needs_a_person_comes_worst_first(office, world):
    said = words(office.get(reverse("home")))
    order = [
        "2 of 5 jobs need you",
        "Somebody or a cable could be hurt",
        "Plumber (Tap &amp; Sons) is due here and has not confirmed the warning.",
        "Last chance to measure",
        "A date that moves",
        "The due date has passed.",
    ]
    assert [said.index(each) for each in order] == sorted(said.index(each) for each in order)


def test_a_confirmed_warning_leaves_the_list(office, world, real_now):
    Notice.objects.update(acknowledged_at=real_now, acknowledged_by="Tam")
    assert "Somebody or a cable could be hurt" not in words(office.get(reverse("home")))


def test_nobody_waits(office, alder):
    JobFactory(contractor=alder)
    assert "Nobody is waiting for you." in words(office.get(reverse("home")))


def test_the_first_job_is_asked_for(office, alder):
    said = words(office.get(reverse("home")))
    assert "Open the first job." in said


def test_a_job_shows_its_rooms_over_time_and_says_the_same_in_words(office, world):
    address = reverse("job-lanes", args=[world.job.pk])
    whole = office.get(address)
    assert "<h1>14 Mill Lane</h1>" in whole.content.decode()
    part = office.get(address, headers={"HX-Request": "true"})
    assert part["Vary"].startswith("HX-Request") or "HX-Request" in part["Vary"]
    assert "<h1>" not in part.content.decode()
    said = words(part)
    assert "Bathroom · now" in said
    assert "Bare cable. Keep off this floor." in said
    assert part.content.decode().count('class="edge"') >= 3
    assert address in office.get(reverse("job", args=[world.job.pk])).content.decode()


@pytest.mark.parametrize("name", ["job", "job-lanes"])
def test_a_job_takes_as_many_queries_for_many_rows(
    office, olive, world, django_assert_max_num_queries, name
):
    own = {"contractor": world.job.contractor, "job": world.job}
    counts = []
    for n in range(2):
        with django_assert_max_num_queries(MOST_QUERIES) as asked:
            assert office.get(reverse(name, args=[world.job.pk])).status_code == 200
        counts.append(len(asked))
        room = RoomFactory(**own)
        BookingFactory(room=room, day=f"20{30 + n}-01-02", **own)
        NoticeFactory(visit=VisitFactory(room=room, **own), contractor=world.job.contractor)
        VisitingTradeFactory(company=f"Trade {n}", **own)
    assert counts[0] == counts[1]


@pytest.mark.parametrize("made", [False, True])
def test_a_certificate_opens_from_its_job_once_it_is_made(office, olive, world, made, real_now):
    certificate = CertificateFactory(
        job=world.job,
        contractor=world.job.contractor,
        issued_by=olive,
        made_at=real_now if made else None,
    )
    page = office.get(reverse("job", args=[world.job.pk])).content.decode()
    assert f"Certificate {certificate.number}" in page
    assert (reverse("certificate-pdf-page", args=[certificate.pk]) in page) is made


def test_the_board_has_every_open_job_once(office, world):
    page = office.get(reverse("jobs")).content.decode()
    for street in (
        "14 Mill Lane",
        "31 Harbour View",
        "2 Church Row",
        "70 Long Lane",
        "9 Elm Court",
    ):
        assert page.count(f">{street}</a>") == 1


def test_a_band_shows_fifty_then_all(office, alder):
    customer = CustomerFactory(contractor=alder)
    for n in range(52):
        JobFactory(contractor=alder, customer=customer, street=f"{n} Row")
    page = office.get(reverse("jobs")).content.decode()
    assert page.count(" Row</a>") == 50
    assert "All 52" in page
    assert office.get(reverse("jobs") + "?all=crews").content.decode().count(" Row</a>") == 52


def test_mortar_is_wet_in_lists_until_a_decision_says_that_it_bears(office, world):
    job = reverse("job", args=[world.job.pk])
    assert "Embedded" in words(office.get(job))
    kept = Decision.objects.get()
    kept.result["layers"][0]["equivalent_hours"] = 23.9
    Decision.objects.bulk_create(
        [
            Decision(
                **{
                    name: getattr(kept, name)
                    for name in (
                        "contractor_id", "room_id", "decided_at", "facts", "facts_digest",
                        "result", "may_energize", "earliest", "likely", "latest",
                    )
                }
            )
        ]
    )  # fmt: skip
    assert "Wet" in words(office.get(job))
    assert "Embedded" not in words(office.get(job))


def test_holds_say_who_clears_them(office, world):
    said = words(office.get(reverse("job", args=[world.job.pk])))
    assert "Kitchen: The electrician has not signed." in said
    assert "The licensed electrician signs." in said


def test_the_room_shows_its_plan_in_numbers_too(office, world):
    said = words(office.get(reverse("room", args=[world.bathroom.pk])))
    assert "Splice, start of heat" in said
    assert "0 – 1 700" in said.replace("\N{NO-BREAK SPACE}", " ")


def test_search_finds_by_anything(office, world):
    element = ElementFactory(
        contractor=world.job.contractor, room=world.kitchen, serial="0041 7702", label="M2"
    )
    for asked in ("mill", "Ada", "7702", "00 01 00", "(55) 0001-00", "#1"):
        said = words(office.get(reverse("search"), {"q": asked}))
        assert "14 Mill Lane" in said or "Ada Customer" in said, asked
    assert element.serial in words(office.get(reverse("search"), {"q": "7702"}))
    assert "Nothing has that in it." in words(office.get(reverse("search"), {"q": "zzz"}))


@pytest.mark.parametrize(
    ("table", "asked"),
    [
        ("jobs_customer", "UPPER(name::text) LIKE '%EXAMPLE%'"),
        ("jobs_customer", "regexp_replace(phone, '[^0-9]', '', 'g')::text LIKE '%550001%'"),
        ("jobs_job", "UPPER(street::text) LIKE '%MILL LANE%'"),
        ("jobs_element", "UPPER(serial::text) LIKE '%7702%'"),
    ],
)
def test_a_part_of_a_text_is_found_by_an_index(db, table, asked):
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute(f"EXPLAIN SELECT id FROM {table} WHERE {asked}")
        assert "by_part_of" in str(cursor.fetchall())


@pytest.mark.parametrize("q", ["'; DROP TABLE jobs_job; --", "%", "\\", "a" * 500, "<b>"])
def test_search_takes_whatever_is_typed(office, world, q):
    assert office.get(reverse("search"), {"q": q}).status_code == 200


def test_a_customer_is_taken_in_and_changed(office, alder):
    page = office.post(reverse("customer-add"), {"name": "Ada", "language": "es"})
    address = page["Location"]
    assert "Ada" in words(office.get(address))
    sent = {"name": "Ada B", "language": "en", "version": "1"}
    assert office.post(f"{address}change/", sent)["Location"] == address
    stale = office.post(f"{address}change/", sent)
    assert stale.status_code == 422
    assert "Read it again" in words(stale)
    assert "Ada B" in stale.content.decode()


def test_a_job_and_its_room_are_typed_in(office, alder):
    customer = CustomerFactory(contractor=alder)
    job = {
        "title": "Warm bath", "street": "5 North Parade", "city": "Nordby", "country": "NO",
        "units": "metric", "supply_volts": "230", "code_profile": "iec",
    }  # fmt: skip
    address = office.post(f"{reverse('job-add')}?customer={customer.pk}", job)["Location"]
    form = {
        "name": "Bath", "way": "walls", "walls": "3000 left\n2400 left\n3000 left\n2400 left",
        "keep-TOTAL_FORMS": "1", "keep-INITIAL_FORMS": "0", "keep-0-kind": "toilet",
        "keep-0-right": "2400", "keep-0-up": "1700", "keep-0-width": "600", "keep-0-depth": "400",
    }  # fmt: skip
    shown = office.post(f"{address}rooms/new/", form | {"show": "1"})
    assert b"<svg" in shown.content
    room = office.post(f"{address}rooms/new/", form)
    said = words(office.get(room["Location"]))
    assert "3.00" in said
    assert "Toilet, no heat" in said


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (
            {"way": "walls", "walls": "3000 left\n2400 left\n3000 left\n2000 left"},
            "misses the start by 400 mm",
        ),
        ({"way": "walls", "walls": "x"}, "Line 1 is no wall"),
        ({"way": "corners", "corners": "0,0\n3000,0\n0,2400\n3000,2400"}, "cross"),
        ({"way": "corners", "corners": "0,0,1"}, "Line 1 is no corner"),
        ({}, "thing to mend"),
        ({"width": "3000"}, "This side is missing"),
        ({"width": "3000", "depth": "2400", "door_wall": "1"}, "A door has a width"),
        ({"width": "3000", "depth": "2400", "control_wall": "5"}, "There is no wall 5"),
        (
            {"width": "3000", "depth": "2400", "control_wall": "2", "control_from": "2500"},
            "Wall 2 is 2400 mm long",
        ),
        ({"width": "3000", "depth": "2400", "doorways": "2 900"}, "Line 1 is no doorway"),
        ({"width": "three", "depth": "2400"}, "thing to mend"),
    ],
)
def test_a_room_that_cannot_be_is_told_why(office, world, wrong, says):
    form = {
        "name": "Bath", "way": "sides", "keep-TOTAL_FORMS": "0", "keep-INITIAL_FORMS": "0", **wrong,
    }  # fmt: skip
    page = office.post(reverse("room-add", args=[world.job.pk]), form)
    assert page.status_code == 422
    assert says in words(page)


def fill(alder, olive, count):
    material = MaterialFactory(contractor=alder, kind="element")
    crew = CrewFactory(contractor=alder)
    for n in range(count):
        customer = CustomerFactory(contractor=alder)
        job = JobFactory(contractor=alder, customer=customer, street=f"{n} Mill Street")
        room = RoomFactory(contractor=alder, job=job)
        ElementFactory(contractor=alder, room=room, material=material)
        MaterialFactory(contractor=alder)
        BookingFactory(
            contractor=alder, crew=crew, job=job, booked_by=olive,
            day=f"20{30 + n}-01-02",
        )  # fmt: skip


LISTS = ("home", "jobs", "customers", "catalogue", "people", "plan", "search")


@pytest.mark.parametrize("name", LISTS)
def test_a_list_asks_as_often_for_many_rows_as_for_one(
    office, alder, olive, real_now, django_assert_max_num_queries, name
):
    address = reverse(name) + ("?q=Mill" if name == "search" else "")
    counts = []
    for count in (1, 9):
        fill(alder, olive, count)
        bring_up_to_date(olive, at=real_now)  # what was written since is worked out once
        with django_assert_max_num_queries(MOST_QUERIES) as asked:
            assert office.get(address).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_pages_are_kept_by_nobody_but_their_reader(office, world):
    page = office.get(reverse("home"))
    assert "private" in page["Cache-Control"]


def test_pages_speak_the_language_of_the_member(office, olive, world):
    olive.language = "es"
    olive.save()
    assert office.get(reverse("home"))["Content-Language"] == "es"


def test_dates_far_off_are_written_with_their_year(office, world, real_now):
    world.job.due_on = (real_now + timedelta(days=800)).date()
    world.job.save()
    said = words(office.get(reverse("job", args=[world.job.pk])))
    assert str(world.job.due_on.year) in said
