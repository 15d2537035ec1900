"""The office has everything of its company put into one file, and fetches it for a week."""

import io
from datetime import timedelta
from hashlib import sha256
from zipfile import ZipFile

import pytest
from django.db import connection

from config.celery import app
from jobs.actions import exports
from jobs.models import Customer, Export
from jobs.tasks import make_export, tend_exports
from tests import everything
from tests.factories import CustomerFactory, ExportFactory

EXPORTS = "/api/v1/exports/"
pytestmark = pytest.mark.django_db(transaction=True)  # rows are read through another connection


@pytest.fixture(autouse=True)
def files(tmp_path):
    with everything.files_in(tmp_path):
        yield tmp_path


@pytest.fixture
def customer(alder):
    return CustomerFactory(contractor=alder, name="Ada Customer")


@pytest.fixture
def made(api, olive, customer):
    asked = api(olive).post(EXPORTS)
    assert make_export(asked.json()["id"])
    return api(olive).get(asked["Location"]).json()


def test_it_is_asked_for_made_and_fetched(api, olive, customer, bo):
    asked = api(olive).post(EXPORTS)
    assert asked.status_code == 202
    assert asked.json()["state"] == "waiting"
    assert make_export(asked.json()["id"])
    told = api(olive).get(asked["Location"]).json()
    assert told["state"] == "made"
    assert told["progress"]["step"] == told["progress"]["of"] > 30
    assert told["missing_files"] == []
    answer = api(olive).get(f"{EXPORTS}{told['id']}/file/")
    content = b"".join(answer.streaming_content)
    assert len(content) == told["size_bytes"]
    assert answer["Content-Type"] == "application/zip"
    assert answer["Cache-Control"] == "private, no-store"
    with ZipFile(io.BytesIO(content)) as whole:
        assert sha256(whole.read("SHA256SUMS")).hexdigest() == told["digest"]
        assert b"Ada Customer" in whole.read("tables/jobs.customer.jsonl")
        assert b"Birch Tile" not in whole.read("tables/jobs.contractor.jsonl")


def test_before_it_is_made_there_is_no_file(api, olive, problem):
    asked = api(olive).post(EXPORTS).json()
    refused = problem(api(olive).get(f"{EXPORTS}{asked['id']}/file/"))
    assert (refused["status"], refused["type"]) == (409, "/problems/export-not-made/")


def test_one_at_a_time(api, olive, problem):
    api(olive).post(EXPORTS)
    assert problem(api(olive).post(EXPORTS))["type"] == "/problems/export-under-way/"
    assert Export.objects.count() == 1


def test_a_week_later_its_file_is_gone(api, olive, made, files, problem):
    later = Export.objects.get().expires_at
    assert exports.remove_expired(at=later - timedelta(seconds=1)) == 0
    assert exports.remove_expired(at=later) == 1
    assert [path for path in files.rglob("*") if path.is_file()] == []
    assert api(olive).get(f"{EXPORTS}{made['id']}/").json()["state"] == "expired"
    refused = problem(api(olive).get(f"{EXPORTS}{made['id']}/file/"))
    assert "Ask for another one." in refused["detail"]


class Killed(BaseException):
    """What no `except` of ours catches, as a kill."""


def test_a_killed_worker_leaves_it_to_the_next(api, olive, customer, files, monkeypatch):
    asked = api(olive).post(EXPORTS).json()

    def killed(*_, **__):
        raise Killed

    with monkeypatch.context() as once:
        once.setattr(exports, "write_archive", killed)
        with pytest.raises(Killed):
            make_export(asked["id"])
    assert not make_export(asked["id"])  # the claim stands for a while
    row = Export.objects.get()
    Export.objects.update(claimed_at=row.claimed_at - Export.CLAIM_LASTS)
    assert make_export(asked["id"])
    assert not make_export(asked["id"])
    assert len([path for path in files.rglob("*") if path.is_file()]) == 1


def test_one_that_works_on_keeps_its_claim(api, olive, customer, real_now):
    asked = api(olive).post(EXPORTS).json()
    ticks = iter(range(10_000))
    assert exports.make_export(
        export_id=asked["id"], clock=lambda: real_now + timedelta(minutes=next(ticks))
    )
    row = Export.objects.get()
    assert row.made_at - row.claimed_at == timedelta(minutes=1)
    assert row.claimed_at - row.asked_at > Export.CLAIM_LASTS


def test_a_slower_one_takes_its_file_back(api, olive, customer, files, monkeypatch):
    asked = api(olive).post(EXPORTS).json()
    write = exports.write_archive

    def overtaken(*args, **how):
        done = write(*args, **how)
        with monkeypatch.context() as other:
            other.setattr(exports, "write_archive", write)
            Export.objects.update(claimed_at=None)
            assert make_export(asked["id"])
        return done

    monkeypatch.setattr(exports, "write_archive", overtaken)
    assert not make_export(asked["id"])
    assert len([path for path in files.rglob("*") if path.is_file()]) == 1


def test_a_full_disk_is_told(api, olive, customer, monkeypatch, files):
    asked = api(olive).post(EXPORTS).json()

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(exports, "write_archive", full)
    assert not make_export(asked["id"])
    told = api(olive).get(f"{EXPORTS}{asked['id']}/").json()
    assert (told["state"], told["failure"]) == (
        "failed",
        "OSError: [Errno 28] No space left on device",
    )
    assert api(olive).post(EXPORTS).status_code == 202  # another one may be asked for


def test_what_was_lost_is_sent_again_once_it_is_old_enough(alder, olive, real_now, monkeypatch):
    sent = []
    monkeypatch.setattr(app, "send_task", lambda name, args, **_: sent.append((name, *args)))
    row = ExportFactory(contractor=alder, asked_by=olive, asked_at=real_now)
    assert tend_exports() == 0
    Export.objects.update(asked_at=real_now - timedelta(minutes=1))
    assert tend_exports() == 1
    assert sent == [("jobs.tasks.make_export", str(row.pk))]


def test_the_page_says_what_goes_and_what_stays(api, olive, made):
    page = api(olive).get("/leaving/").content.decode()
    assert "What stays here" in page
    assert f"/api/v1/exports/{made['id']}/file/" in page
    again = api(olive).post("/leaving/")
    assert again.status_code == 302
    assert api(olive).post("/leaving/").status_code == 422
    assert Export.objects.open().count() == 1


def connections():
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()")
        return cursor.fetchone()


@pytest.fixture
def before(db):
    return connections()


def test_its_connection_is_closed(api, olive, before, made):
    assert connections() == before
    assert Customer.objects.exists()
