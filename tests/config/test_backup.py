"""Backup and restore on the real server, into another database."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage
from django.db import connection

from config.archive import ArchiveNotUsable
from config.backup import KEPT, RestoreRefused, back_up, restore
from config.services import ServiceFailed
from config.serving import CHECKOUT
from jobs.models import Contractor, Customer
from tests.database import database_url
from tests.factories import JobFactory
from tests.scheduling.test_leaving import members, sealed

LATER = b'{"format": "firstwarm-backup/1", "schema": {"jobs": "9999_later"}}'
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def stored(tmp_path):
    storage = FileSystemStorage(tmp_path / "files")
    storage.save("certificates/2027/03/one.pdf", ContentFile(b"%PDF-1.7"))
    return storage


@pytest.fixture
def elsewhere():
    """An empty database on the same server."""
    name = f"restored_{os.getpid()}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    other = connection.copy()
    other.settings_dict = {**connection.settings_dict, "NAME": name}
    yield other
    other.close()
    with connection.cursor() as cursor:
        cursor.execute(f"DROP DATABASE {name}")


@pytest.fixture
def archive(stored):
    JobFactory(street="14 Mill Lane")
    file = io.BytesIO()
    back_up(connection, stored, file)
    return file.getvalue()


def asked(database, query):
    with database.cursor() as cursor:
        cursor.execute(query)
        return cursor.fetchall()


def test_both_ways_by_command(stored, elsewhere, tmp_path):
    JobFactory(street="14 Mill Lane")
    file = tmp_path / "backup.zip"

    def manage(*words, database, files):
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=CHECKOUT,
            env={**os.environ, "DATABASE_URL": database, "FILES_DIR": str(files)},
            capture_output=True,
            text=True,
            check=False,
        )

    here, there = (
        database_url(),
        database_url().replace(connection.settings_dict["NAME"], elsewhere.settings_dict["NAME"]),
    )
    made = manage("backup", str(file), database=here, files=stored.location)
    assert made.returncode == 0, made.stderr
    assert file.stat().st_mode & 0o777 == 0o600
    back = manage("restore", str(file), database=there, files=tmp_path / "new")
    assert back.returncode == 0, back.stderr
    assert made.stdout.splitlines()[-1] == back.stdout.splitlines()[1]  # the digest
    assert asked(elsewhere, "SELECT street FROM jobs_job") == [("14 Mill Lane",)]
    assert (tmp_path / "new/certificates/2027/03/one.pdf").read_bytes() == b"%PDF-1.7"
    again = manage("restore", str(file), database=there, files=tmp_path / "new")
    assert again.returncode == 1
    assert "Nothing was changed. The database has Contractor" in again.stderr


def test_what_comes_back_has_its_triggers_and_constraints(archive, elsewhere, tmp_path):
    restore(elsewhere, FileSystemStorage(tmp_path / "new"), io.BytesIO(archive))
    kept = "SELECT conname FROM pg_constraint UNION SELECT tgname FROM pg_trigger ORDER BY 1"
    named = [row for row in asked(connection, kept) if "RI_" not in row[0]]
    assert [row for row in asked(elsewhere, kept) if "RI_" not in row[0]] == named
    assert ("check_never_edited",) in named


def test_a_database_in_use_is_replaced_only_if_told(archive, stored):
    Contractor.objects.update(name="Written since")
    with pytest.raises(RestoreRefused, match="The database has Written since in it"):
        restore(connection, stored, io.BytesIO(archive))
    assert Contractor.objects.get().name == "Written since"
    restore(connection, stored, io.BytesIO(archive), replace=True)
    assert Contractor.objects.get().name != "Written since"


def test_files_that_lie_there_are_replaced_only_if_told(archive, elsewhere, stored):
    stored.delete("certificates/2027/03/one.pdf")
    stored.save("certificates/2027/03/one.pdf", ContentFile(b"another"))
    with pytest.raises(RestoreRefused, match=r"1 files lie there already, such as certificates"):
        restore(elsewhere, stored, io.BytesIO(archive))
    restore(elsewhere, stored, io.BytesIO(archive), replace=True)
    assert Path(stored.path("certificates/2027/03/one.pdf")).read_bytes() == b"%PDF-1.7"


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda whole: whole[: len(whole) // 2], "no whole zip"),
        (lambda whole: whole.replace(b"%PDF-1.7", b"%PDF-1.8"), "one.pdf was changed"),
        (lambda whole: sealed(members(whole) | {"backup.json": LATER}), "9999_later"),
        (lambda whole: sealed({"export.json": b"{}"}), "This is no backup"),
    ],
)
def test_a_spoiled_one_is_refused_with_what_is_wrong(archive, stored, spoil, said):
    with pytest.raises(ArchiveNotUsable, match=said):
        restore(connection, stored, io.BytesIO(spoil(archive)), replace=True)
    assert Contractor.objects.count() == 1


def broken_dump(archive):
    parts = members(archive)
    return sealed(parts | {"database.dump": parts["database.dump"][:-2000]})


def test_a_dump_that_does_not_load_leaves_what_was_there(archive, stored):
    Contractor.objects.update(name="Written since")
    with pytest.raises(ServiceFailed, match="pg_restore failed"):
        restore(connection, stored, io.BytesIO(broken_dump(archive)), replace=True)
    assert Contractor.objects.get().name == "Written since"
    assert Customer.objects.filter(name__icontains="custom").exists()  # its index is there
    assert asked(connection, f"SELECT 1 FROM pg_namespace WHERE nspname = '{KEPT}'") == []


def test_what_a_killed_restore_set_aside_is_what_counts(archive, stored):
    Contractor.objects.update(name="Written since")
    with connection.cursor() as cursor:  # as a killed one leaves it
        cursor.execute(f"ALTER SCHEMA public RENAME TO {KEPT}; CREATE SCHEMA public")
        cursor.execute("ALTER EXTENSION pg_trgm SET SCHEMA public")
    with pytest.raises(RestoreRefused, match="The database has Written since in it"):
        restore(connection, stored, io.BytesIO(archive))
    assert Contractor.objects.get().name == "Written since"


def test_a_storage_that_fails_leaves_the_database_as_it_was(archive, stored, monkeypatch):
    Contractor.objects.update(name="Written since")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(stored, "save", full)
    with pytest.raises(OSError, match="No space"):
        restore(connection, stored, io.BytesIO(archive), replace=True)
    assert Contractor.objects.get().name == "Written since"
