"""Lists of jobs: read or refused row by row, looked at first, taken in once whatever dies."""

import csv
import io
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from jobs.actions import imports
from jobs.job_list import COLUMNS, MOST_ROWS, UnreadableList, from_tree, read
from jobs.models import Customer, Job, JobImport
from tests.factories import NOW

HEAD = "customer,title,street,city,due\n"
GOOD = "Ada Example,Warm bathroom,14 Mill Lane,Nordby,2027-05-01\n"


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


def test_a_row_is_read_with_its_line_and_the_country_that_it_leaves_open():
    found = read(HEAD + "\n" + GOOD, country="NO")
    (job,) = found.jobs
    assert (job.line, job.customer, job.country) == (3, "Ada Example", "NO")
    assert job.due_on == date(2027, 5, 1)
    assert found.bad == ()


@pytest.mark.parametrize("parted_by", [",", ";", "\t"])
def test_columns_come_in_any_order_parted_as_spreadsheets_do(parted_by):
    head = parted_by.join(["City", "street", "customer", "TITLE"])
    row = parted_by.join(["Nordby", "14 Mill Lane", "Ada", "Warm bath"])
    (job,) = read(f"\ufeff{head}\r\n{row}\r\n", country="NO").jobs
    assert (job.city, job.title) == ("Nordby", "Warm bath")


def test_a_cell_may_hold_commas_and_lines_and_lines_are_counted_in_the_file():
    text = HEAD + '"Ada, and Ben","Warm\nbath",14 Mill Lane,Nordby,\n' + ",,1 Row,Nordby,\n"
    found = read(text, country="NO")
    assert found.jobs[0].customer == "Ada, and Ben"
    assert found.bad[0].line == 4


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("Ada,Bath,,Nordby,", "street is empty."),
        ("Ada,Bath,1 Row,Nordby,1/5/2027", "“1/5/2027” is no day. Write it as 2026-12-01."),
        ("Ada,Bath,1 Row,Nordby,2027-02-30", "“2027-02-30” is no day. Write it as 2026-12-01."),
        ("Ada,Bath,1 Row", "It has 3 cells, the head has 5."),
        ("Ada," + "x" * 121 + ",1 Row,Nordby,", "title is longer than 120 characters."),
        (GOOD.strip(), "It is the same as line 2."),
    ],
)
def test_a_bad_row_is_named_with_its_reason(row, why):
    found = read(HEAD + GOOD + row + "\n", country="NO")
    assert [(bad.line, bad.why) for bad in found.bad] == [(3, why)]
    assert len(found.jobs) == 1


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Missing: customer"),
        ("name,street\nAda,1 Row\n", "Missing: customer, title, city"),
        ("customer,title,street,city,size\n", "unknown or named twice: size"),
        ("customer,title,street,city,city\n", "unknown or named twice: city"),
        (HEAD, "no rows"),
        (HEAD + "\n".join(f"A,B,{n} Row,C," for n in range(MOST_ROWS + 1)), "At most 10000 rows"),
    ],
)
def test_what_is_no_list_is_refused_whole(text, says):
    with pytest.raises(UnreadableList, match=says):
        read(text, country="NO")


cells = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30)


@given(rows=st.lists(st.tuples(cells, cells, cells, cells), min_size=1, max_size=8))
def test_every_row_is_taken_or_named(rows):
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["customer", "title", "street", "city"])
    writer.writerows(rows)
    try:
        found = read(text.getvalue(), country="NO")
    except UnreadableList:
        assert not any(cell.strip() for row in rows for cell in row)
        return
    blank = sum(1 for row in rows if not any(cell.strip() for cell in row))
    assert len(found.jobs) + len(found.bad) == len(rows) - blank
    for job in found.jobs:
        assert from_tree(job.as_tree()) == job
        assert all(len(getattr(job, name)) <= COLUMNS[name] for name in ("customer", "street"))


def looked(office, text, **more):
    answer = office.post(reverse("job-lists"), {"text": text, "country": "NO", **more})
    assert answer.status_code == 302
    return answer["Location"]


def test_the_office_sees_first_what_becomes_of_a_list(office):
    address = looked(office, HEAD + GOOD + "Ben,Bath,,Nordby,\n")
    page = office.get(address).content.decode()
    assert "1 row can be taken in" in page
    assert "street is empty." in page
    assert not Job.objects.exists()


def test_a_list_that_cannot_be_read_keeps_what_was_typed(office):
    answer = office.post(reverse("job-lists"), {"text": "name\nAda", "country": "NO"})
    assert answer.status_code == 422
    assert "Missing: customer" in answer.content.decode()
    assert "name\nAda" in answer.content.decode()


@pytest.mark.parametrize(
    ("content", "says"),
    [("Ren\xe9".encode("latin-1"), "CSV UTF-8"), (b"", "Choose a file, or paste the list.")],
)
def test_a_file_that_cannot_be_read_is_told(office, content, says):
    file = SimpleUploadedFile("jobs.csv", content)
    answer = office.post(reverse("job-lists"), {"file": file, "country": "NO"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert says in text or "empty" in text


def test_good_rows_are_taken_in_once_and_customers_found_again(office, olive, real_now):
    text = HEAD + GOOD + "Ada Example,Warm hall,14 Mill Lane,Nordby,\n" + "Ben,Bath,1 Row,Nordby,\n"
    address = looked(office, text)
    office.post(address)
    assert "The list is being taken in" in office.get(address).content.decode()
    assert office.post(address).status_code == 409
    listed = JobImport.objects.get()
    assert imports.take_in(import_id=listed.pk, clock=lambda: real_now) == 3
    assert imports.take_in(import_id=listed.pk, clock=lambda: real_now) == 0
    assert (Customer.objects.count(), Job.objects.count()) == (2, 3)
    assert sorted(Job.objects.values_list("number", flat=True)) == [1, 2, 3]
    assert "3 jobs were opened" in office.get(address).content.decode()


def test_the_same_list_again_opens_nothing_twice(office, real_now):
    for opened in (1, 0):
        address = looked(office, HEAD + GOOD)
        office.post(address)
        newest = JobImport.objects.latest("pk")
        assert imports.take_in(import_id=newest.pk, clock=lambda: real_now) == opened
    assert "1 row was there already" in office.get(address).content.decode()


def test_a_worker_that_dies_leaves_whole_rows_and_the_next_goes_on(office, olive, monkeypatch):
    monkeypatch.setattr(imports, "AT_ONCE", 2)
    address = looked(office, HEAD + "".join(f"A,B,{n} Row,C,\n" for n in range(5)))
    office.post(address)
    listed = JobImport.objects.get()
    opened = []
    real = imports.add_job

    def dying(**given):
        if len(opened) == 3:
            raise KeyboardInterrupt
        opened.append(given["street"])
        return real(**given)

    monkeypatch.setattr(imports, "add_job", dying)
    with pytest.raises(KeyboardInterrupt):
        imports.take_in(import_id=listed.pk, clock=lambda: NOW)
    listed.refresh_from_db()
    assert (listed.worked, Job.objects.count()) == (2, 2)
    monkeypatch.setattr(imports, "add_job", real)
    assert imports.take_in(import_id=listed.pk, clock=lambda: NOW) == 0  # still claimed
    later = NOW + JobImport.CLAIM_LASTS + timedelta(seconds=1)
    assert imports.take_in(import_id=listed.pk, clock=lambda: later) == 3
    assert Job.objects.count() == 5
