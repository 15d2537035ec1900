"""Leaving: all of a contractor goes into one archive, and comes out of it as it was."""

import io
import json
import re
from datetime import UTC, datetime
from hashlib import sha256
from zipfile import ZipFile

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import IntegrityError

from config.archive import LIST, ArchiveNotUsable, ArchiveWriter
from config.tables import tables
from config.tenancy import violated
from jobs.actions.leaving import write_archive
from jobs.models import Contractor, Customer, Member
from readings.actions.verify import verify
from readings.models import Check
from scheduling.actions.arriving import take_in
from scheduling.models import Certificate
from tests import everything

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)


def written(contractor: Contractor) -> tuple[bytes, object]:
    file = io.BytesIO()
    return file, write_archive(contractor, file, report=lambda _: None)


@pytest.fixture(scope="module")
def left(django_db_setup, django_db_blocker, tmp_path_factory):
    """The archive of a company that has since gone from here, and what was said of it."""
    with django_db_blocker.unblock(), everything.files_in(tmp_path_factory.mktemp("left")):
        alder = everything.build("Alder Floors", NOW)
        everything.build("Birch Tile", NOW)
        file, said = written(alder)
        call_command("flush", verbosity=0, interactive=False)
    return file.getvalue(), said


@pytest.fixture
def archive(left):
    return left[0]


@pytest.fixture(autouse=True)
def files(tmp_path):
    with everything.files_in(tmp_path):
        yield tmp_path


def arrive(content: bytes, **how):
    return take_in(io.BytesIO(content), **how)


def members(content: bytes) -> dict[str, bytes]:
    with ZipFile(io.BytesIO(content)) as whole:
        return {name: whole.read(name) for name in whole.namelist()}


def sealed(parts: dict[str, bytes]) -> bytes:
    """An archive of these members whose list of digests is right."""
    file = io.BytesIO()
    writer = ArchiveWriter(file)
    for name, content in parts.items():
        if name != LIST:
            writer.add(name, io.BytesIO(content))
    writer.close()
    return file.getvalue()


def rows(parts: dict[str, bytes], table: str) -> list[dict]:
    return [json.loads(line) for line in parts[f"tables/{table}.jsonl"].splitlines()]


def test_every_table_of_ours_goes_or_says_itself_that_it_stays():
    going = {table.model for table in tables()}
    ours = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label in ("config", "jobs", "readings", "scheduling")
    ]
    staying = {model for model in ours if vars(model).get("travels") is False}
    assert {model for model in ours if model not in going} == staying
    assert {"Link", "DeviceToken"} <= {model.__name__ for model in staying}


def test_every_table_is_tried_here_with_a_row(archive):
    parts = members(archive)
    assert [name for name in parts if name.startswith("tables/") and not parts[name]] == []


def test_each_table_comes_after_those_that_it_refers_to():
    before = set()
    for table in tables():
        before.add(table.model)
        for field in table.references:
            assert field.related_model in before, f"{table.name}.{field.name}"


def test_nothing_secret_goes():
    secret = re.compile(r"password|secret|token|private_key")
    found = {f"{table.name}.{name}" for table in tables() for name in table.columns}
    assert {name for name in found if secret.search(name)} == set()


def test_nothing_of_another_contractor_goes(archive):
    parts = members(archive)
    (alder,) = rows(parts, "jobs.contractor")
    for name, content in parts.items():
        assert b"Birch Tile" not in content
        if name.startswith("tables/"):
            for row in rows(parts, name.removeprefix("tables/").removesuffix(".jsonl")):
                assert row.get("contractor_id", alder["id"]) == alder["id"]


def test_the_list_is_what_sha256sum_reads(archive):
    parts = members(archive)
    listed = dict(reversed(line.split("  ")) for line in parts.pop(LIST).decode().splitlines())
    assert listed == {name: sha256(content).hexdigest() for name, content in parts.items()}


@pytest.mark.django_db(transaction=True)
def test_what_arrives_leaves_again_as_the_same_bytes(left):
    archive, said = left
    came, broken = arrive(archive)
    assert (came.rows, came.files, came.digest) == (said.rows, said.files, said.digest)
    assert broken == []
    again, told = written(came.contractor)
    assert told == said
    assert again.getvalue() == archive


@pytest.mark.django_db
def test_what_arrives_is_whole_and_held_as_before(archive):
    arrive(archive)
    states = list(verify())
    assert states
    assert all(state.whole for state in states)
    with pytest.raises(IntegrityError) as refused:
        Check.objects.update(note="changed")
    assert violated(refused.value) == "check_never_edited"


@pytest.mark.django_db
def test_papers_and_photographs_arrive(archive, files):
    came, _ = arrive(archive)
    assert came.files == 3
    for row in Certificate.objects.all():
        with row.pdf.open() as file:
            assert sha256(file.read()).hexdigest() == row.pdf_digest
    photo = apps.get_model("jobs", "RoomPhoto").objects.get()
    assert bytes(photo.jpeg) == bytes(range(256)) * 4


@pytest.mark.django_db
def test_members_arrive_without_a_password_and_set_one_by_a_link(archive, client, mailoutbox):
    arrive(archive)
    olive = Member.objects.get(name="Olive")
    assert not olive.has_usable_password()
    client.post("/password/", {"email": olive.email})
    (mail,) = mailoutbox
    assert mail.to == [olive.email]


def changed(archive: bytes, name: str, old: str, new: str) -> dict[str, bytes]:
    parts = members(archive)
    text = parts[name].decode()
    assert old in text
    return parts | {name: text.replace(old, new).encode()}


def zipped(parts: dict[str, bytes]) -> bytes:
    """An archive whose list is as it was."""
    file = io.BytesIO()
    with ZipFile(file, "w") as whole:
        for name, content in parts.items():
            whole.writestr(name, content)
    return file.getvalue()


CUSTOMERS = "tables/jobs.customer.jsonl"


def a_changed_row(archive):
    return zipped(changed(archive, CUSTOMERS, "Ada Customer", "Eve Customer"))


def a_changed_paper(archive):
    parts = members(archive)
    name = next(name for name in parts if name.endswith(".pdf"))
    return zipped(parts | {name: parts[name] + b" "})


def a_member_less(archive):
    parts = members(archive)
    del parts[CUSTOMERS]
    return zipped(parts)


def a_member_more(archive):
    return zipped(members(archive) | {"tables/jobs.extra.jsonl": b""})


def a_stray_file(archive):
    return sealed(members(archive) | {"files/exports/other.zip": b"of somebody else"})


def no_list(archive):
    parts = members(archive)
    del parts[LIST]
    return zipped(parts)


def a_spoiled_list(archive):
    return zipped(changed(archive, LIST, "  tables/", " tables/"))


def half_of_it(archive):
    return archive[: len(archive) // 2]


def another_version(archive):
    return sealed(changed(archive, "export.json", '"jobs": "', '"jobs": "9999_'))


def another_format(archive):
    return sealed(changed(archive, "export.json", "firstwarm-export/1", "firstwarm-export/2"))


def no_json(archive):
    return sealed(members(archive) | {"export.json": b"{"})


def anothers_row(archive):
    parts = members(archive)
    (alder,) = rows(parts, "jobs.contractor")
    own = f'"contractor_id":"{alder["id"]}"'
    lines = parts[CUSTOMERS].decode().splitlines()
    lines[0] = lines[0].replace(own, own.replace(alder["id"][-4:], "0000"))
    return sealed(parts | {CUSTOMERS: ("\n".join(lines) + "\n").encode()})


def a_row_less(archive):
    parts = members(archive)
    return sealed(parts | {CUSTOMERS: parts[CUSTOMERS].split(b"\n", 1)[1]})


def a_field_more(archive):
    return sealed(changed(archive, CUSTOMERS, '"name":', '"nickname":"Ad","name":'))


def no_row(archive):
    return sealed(members(archive) | {CUSTOMERS: b"not JSON\n"})


def a_changed_check(archive):
    return sealed(changed(archive, "tables/readings.reading.jsonl", '"value":71', '"value":72'))


def a_changed_record(archive):
    return sealed(
        changed(archive, "tables/scheduling.certificate.jsonl", "14 Mill Lane", "15 Mill Lane")
    )


def another_paper(archive):
    parts = members(archive)
    name = next(name for name in parts if name.endswith(".pdf"))
    return sealed(parts | {name: b"%PDF-1.7 of another job"})


def a_name_outside(archive):
    parts = members(archive)
    name = next(name for name in parts if name.endswith(".pdf")).removeprefix("files/")
    parts["files/../../outside.pdf"] = parts.pop(f"files/{name}")
    return sealed(
        changed(sealed(parts), "tables/scheduling.certificate.jsonl", name, "../../outside.pdf")
    )


WRONG = {
    a_changed_row: "tables/jobs.customer.jsonl was changed",
    a_changed_paper: ".pdf was changed",
    a_member_less: "tables/jobs.customer.jsonl is missing",
    a_member_more: "tables/jobs.extra.jsonl is not in the list",
    a_stray_file: "No row names files/exports/other.zip",
    no_list: "It has no list of digests",
    a_spoiled_list: f"Line 1 of {LIST} tells no digest.",
    half_of_it: "This is no whole zip",
    another_version: "this installation is at jobs 0",
    another_format: "read here is 'firstwarm-export/1'",
    no_json: "export.json does not say what it should",
    anothers_row: "jobs.customer has rows of another contractor",
    a_row_less: "The rows of jobs.job cannot be stored",
    a_field_more: "tables/jobs.customer.jsonl does not come out again as it came in",
    no_row: "The rows of jobs.customer cannot be stored",
    a_changed_check: "is shown otherwise than it was accepted",
    a_changed_record: "its data is not what was issued",
    another_paper: "its PDF is not what was made",
    a_name_outside: "which is no stored file",
}


@pytest.mark.django_db
@pytest.mark.parametrize("spoil", WRONG, ids=lambda spoil: spoil.__name__)
def test_what_is_wrong_is_said_and_nothing_stored(archive, files, spoil):
    with pytest.raises(ArchiveNotUsable, match=re.escape(WRONG[spoil])):
        arrive(spoil(archive))
    assert Contractor.objects.count() == 0
    assert [path for path in files.rglob("*") if path.is_file()] == []


@pytest.mark.django_db
def test_a_record_that_was_broken_before_arrives_if_that_is_accepted(archive):
    came, broken = arrive(a_changed_record(archive), accept_broken=True)
    assert came.contractor.name == "Alder Floors"
    assert len(broken) == 2
    assert "its data is not what was issued" in broken[0]


@pytest.mark.django_db
def test_whoever_is_here_already_is_not_touched(archive):
    arrive(archive)
    Customer.objects.filter(name="Ada Customer").update(phone="+47 55 99 99 99")
    with pytest.raises(ArchiveNotUsable, match="Alder Floors is here already"):
        arrive(archive)
    assert Customer.objects.get(name="Ada Customer").phone == "+47 55 99 99 99"


@pytest.mark.django_db
def test_a_file_that_lies_here_is_never_overwritten(archive, files):
    *_, name = (name for name in members(archive) if name.endswith(".pdf"))
    there = files / name.removeprefix("files/")
    there.parent.mkdir(parents=True)
    there.write_bytes(b"of somebody else")
    with pytest.raises(ArchiveNotUsable, match="Another file lies at"):
        arrive(archive)
    assert [path for path in files.rglob("*") if path.is_file()] == [there]
    assert there.read_bytes() == b"of somebody else"


@pytest.mark.django_db(transaction=True)
def test_a_file_that_is_lost_is_told_and_does_not_keep_anybody_here(archive, files):
    came, _ = arrive(archive)
    lost = Certificate.objects.order_by("pk").first().pdf.name
    default_storage.delete(lost)
    file, said = written(came.contractor)
    assert said.missing == (lost,)
    call_command("flush", verbosity=0, interactive=False)
    for path in files.rglob("*.pdf"):
        path.unlink()
    again, broken = arrive(file.getvalue())
    assert (again.files, broken) == (2, [])


@pytest.mark.django_db(transaction=True)
def test_it_is_the_company_of_one_instant(archive):
    came, _ = arrive(archive)
    late = []

    def meanwhile(_progress):
        if not late:
            late.append(Customer.objects.create(contractor=came.contractor, name="Late Comer"))

    file = io.BytesIO()
    write_archive(came.contractor, file, report=meanwhile)
    assert late
    assert b"Late Comer" not in members(file.getvalue())[CUSTOMERS]


@pytest.mark.django_db(transaction=True)
def test_both_ways_by_command(archive, tmp_path, capsys):
    first, second = tmp_path / "first.zip", tmp_path / "second.zip"
    first.write_bytes(archive)
    call_command("import_contractor", first)
    call_command("export_contractor", "Alder Floors", second)
    said = capsys.readouterr().out
    assert len(set(re.findall(r"Digest (\w{64})", said))) == 1
    assert second.read_bytes() == archive
    assert second.stat().st_mode & 0o777 == 0o600
