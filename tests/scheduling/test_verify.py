"""A certificate compared with its record: by the address printed on it, and offline by command."""

import json
import os
import subprocess
import sys
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
import zxingcpp
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from PIL import Image

from config import signing
from config.serving import CHECKOUT
from jobs.models import Link
from scheduling.actions import certificates, papers
from scheduling.actions.record import SCHEMA
from scheduling.facts import digest_of
from scheduling.models import Certificate
from scheduling.pages.certificates import MOST_BYTES
from scheduling.tasks import make_certificate
from scheduling.verification import Signed, verify
from tests.scheduling.finished import Finished
from tests.scheduling.records import ISSUED_AT, record
from tests.scheduling.test_certificate_paper import pdf_of

SIGNED = {
    "by": "Firstwarm at testserver",
    "fingerprint": "ab" * 32,
    "at": ISSUED_AT,
    "whole": True,
    "in_time": True,
    "known": True,
}


@pytest.fixture(autouse=True)
def files(settings, tmp_path, monkeypatch):
    storages = {**settings.STORAGES}
    storages["default"] = {**storages["default"], "OPTIONS": {"location": tmp_path}}
    settings.STORAGES = storages
    settings.SIGNING_DIR = tmp_path / "signing"
    settings.SIGNING_KEYS = {}
    monkeypatch.setattr("config.celery.app.send_task", lambda *_a, **_k: None)
    return tmp_path


# The judgement


def judged(record_bytes=None, **changes):
    said = record()
    return verify(
        signed=Signed(**SIGNED | changes),
        record=record_bytes or json.dumps(said).encode(),
        record_digest=digest_of(said),
        schema=json.loads(SCHEMA.read_text()),
    )


def test_a_whole_paper_of_a_known_key_is_as_issued():
    found = judged()
    assert found.outcome == "as issued"
    assert all(finding.holds for finding in found.findings)


def test_a_key_that_is_not_known_is_neither_good_nor_bad():
    assert judged(known=False).outcome == "signer unknown"


@pytest.mark.parametrize("changes", [{"whole": False}, {"in_time": False}], ids=str)
def test_what_the_signature_lacks_is_told(changes):
    found = judged(**changes)
    assert found.outcome == "not as issued"
    assert sum(not finding.holds for finding in found.findings) == 1


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"{", "is not JSON"),
        (json.dumps({**record(), "number": "x"}).encode(), "does not follow its schema: $.number"),
        (json.dumps(record(rooms=2)).encode(), "another digest"),
    ],
    ids=["no JSON", "no record", "another record"],
)
def test_what_the_record_lacks_is_told(data, why):
    found = judged(data)
    assert found.outcome == "not as issued"
    assert any(why in finding.says for finding in found.findings if not finding.holds)


def test_a_paper_without_signature_and_record_is_not_as_issued():
    found = verify(signed=None, record=None, record_digest="", schema={})
    assert [finding.holds for finding in found.findings] == [False, False]


# The command


@pytest.fixture
def paper_file(files, real_now):
    key = signing.key_for(uuid4(), at=real_now)
    path = files / "certificate.pdf"
    path.write_bytes(signing.sign(pdf_of(record()), key, reason="Issued"))
    return path


def status(path, *options, capsys=None):
    with pytest.raises(SystemExit) as ended:
        call_command("verify_certificate", str(path), *options)
    return ended.value.code, (capsys.readouterr().out if capsys else "")


def test_the_command_says_what_holds(paper_file, capsys):
    code, said = status(paper_file, capsys=capsys)
    assert code == 0
    assert said.count("holds ") == 5
    assert "This is the record as issued." in said


def test_the_command_says_what_fails(paper_file, capsys):
    paper_file.write_bytes(
        paper_file.read_bytes().replace(b"Alder Floors</rdf", b"Elder Floors</rdf")
    )
    code, said = status(paper_file, capsys=capsys)
    assert code == 1
    assert "the file was changed after it" in said


def test_the_command_knows_signers_that_are_named(paper_file, settings, files):
    own = (settings.SIGNING_DIR / "installation.pem").rename(files / "theirs.pem")
    assert status(paper_file)[0] == 3
    assert status(paper_file, "--signer", str(own))[0] == 0


@pytest.mark.parametrize("content", [None, b"no paper"], ids=["no file", "no paper"])
def test_the_command_says_what_it_cannot_read(files, content):
    path = files / "other.pdf"
    if content:
        path.write_bytes(content)
    assert status(path)[0] == 2


OFFLINE = """
import sys
sys.addaudithook(lambda event, args: sys.exit("network!") if event == "socket.connect" else None)
sys.argv[0] = "manage.py"
from django.core.management import execute_from_command_line
execute_from_command_line(sys.argv)
"""


def test_the_command_needs_no_database_and_no_network(paper_file, settings):
    environment = {
        "PATH": os.environ["PATH"],
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/none",
        "REDIS_URL": "redis://127.0.0.1:1/0",
        "SIGNING_DIR": str(settings.SIGNING_DIR),
    }
    done = subprocess.run(
        [sys.executable, "-c", OFFLINE, "verify_certificate", str(paper_file)],
        cwd=CHECKOUT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "This is the record as issued." in done.stdout


# The page


@pytest.fixture
def row(olive, real_now):
    site = Finished(olive, real_now)
    issued = certificates.issue_certificate(by=olive, job=site.job, at=real_now)
    assert make_certificate(str(issued.pk))
    issued.refresh_from_db()
    return issued


@pytest.fixture
def printed_url(row, files):
    """The address in the code on the second page, read from a picture of it."""
    picture = files / "second"
    command = ["pdftoppm", "-r", "150", "-f", "2", "-l", "2", "-png", "-singlefile"]
    subprocess.run([*command, file_of(row, files), picture], check=True, timeout=60)
    with Image.open(f"{picture}.png") as seen:
        (code,) = zxingcpp.read_barcodes(seen)
    assert code.ec_level == "M"
    return code.text


def file_of(row, files):
    return files / row.pdf.name


def visit(url, **sent):
    client = Client(enforce_csrf_checks=True)
    path = urlsplit(url).path
    return client.post(path, sent) if sent else client.get(path)


@pytest.mark.django_db
def test_the_code_on_the_paper_opens_the_page_that_says_it_stands(row, printed_url):
    answer = visit(printed_url)
    assert answer.status_code == 200
    said = answer.content.decode()
    assert f"Certificate {row.number} stands" in said
    assert row.pdf_digest in said
    assert row.data_digest in said
    assert "Nobody else vouches for this key" in said
    assert answer["Cache-Control"] == "private, no-store"


@pytest.mark.django_db
def test_the_address_is_kept_as_a_digest_only(row, printed_url):
    secret = urlsplit(printed_url).path.split("/")[2]
    assert len(secret) >= 22  # 128 bits and more
    assert secret not in str(Certificate.objects.values().get(pk=row.pk))
    assert secret not in str(Link.objects.values().get(purpose="verify"))


@pytest.mark.django_db
def test_a_voided_one_says_since_when_and_what_replaces_it(olive, row, printed_url, real_now):
    certificates.void_certificate(by=olive, certificate=row, reason="Wrong room.", at=real_now)
    second = certificates.issue_certificate(by=olive, job=row.job, at=real_now)
    said = visit(printed_url).content.decode()
    assert "does not stand any more" in said
    assert "Wrong room." in said
    assert f"Replaced by {second.number}" in said
    assert second.data["replaces"]["number"] == row.number


@pytest.mark.django_db
def test_a_file_is_compared_by_its_bytes(row, printed_url, files):
    content = file_of(row, files).read_bytes()
    same = visit(printed_url, file=SimpleUploadedFile("any.pdf", content))
    assert "This file is the certificate as issued" in same.content.decode()
    other = visit(printed_url, file=SimpleUploadedFile("any.pdf", content + b"\n"))
    assert "This file is not the certificate as issued" in other.content.decode()
    assert len(list(files.rglob("*.pdf"))) == 1  # it is not kept


@pytest.mark.django_db
def test_without_a_file_it_asks_for_one(printed_url):
    answer = visit(printed_url, other="x")
    assert answer.status_code == 422
    assert "Choose the certificate’s PDF first." in answer.content.decode()


@pytest.mark.django_db
def test_a_file_that_is_too_large_is_not_even_read(printed_url):
    answer = Client().post(
        urlsplit(printed_url).path,
        data=b"",
        content_type="multipart/form-data; boundary=x",
        headers={"Content-Length": str(MOST_BYTES + 1)},
    )
    assert answer.status_code == 422
    assert "too large" in answer.content.decode()


@pytest.mark.django_db
def test_links_of_another_kind_and_revoked_ones_open_nothing(row, printed_url, real_now):
    answers = [visit(printed_url.replace("/verify/", "/certificate/")), visit("/verify/guessed/")]
    Link.objects.filter(purpose="verify").update(revoked_at=real_now)
    answers.append(visit(printed_url))
    assert {answer.status_code for answer in answers} == {404}


@pytest.mark.django_db
def test_who_signed_is_told_over_the_api(api, olive, row):
    told = api(olive).get(f"/api/v1/certificates/{row.pk}/").json()["signature"]
    assert (told["whose"], told["self_signed"]) == ("installation", True)
    assert told["fingerprint"] in signing.known_fingerprints()


@pytest.mark.django_db
def test_a_worker_that_dies_at_the_last_step_leaves_nothing_behind(
    olive, row, real_now, monkeypatch
):
    certificates.void_certificate(by=olive, certificate=row, reason="x", at=real_now)
    second = certificates.issue_certificate(by=olive, job=row.job, at=real_now)

    def dies(**_given):
        raise KeyboardInterrupt

    with monkeypatch.context() as dying:
        dying.setattr(papers, "make_link", dies)
        with pytest.raises(KeyboardInterrupt):
            papers.make_pdf(certificate_id=second.pk, at=real_now)
    second.refresh_from_db()
    assert second.state == "making"
    assert Link.objects.filter(subject_id=second.pk).count() == 0


@pytest.mark.django_db
def test_a_key_that_cannot_sign_fails_the_certificate_in_words(olive, row, real_now, settings):
    certificates.void_certificate(by=olive, certificate=row, reason="x", at=real_now)
    second = certificates.issue_certificate(by=olive, job=row.job, at=real_now)
    settings.SIGNING_KEYS = {"SIGNING_KEY": "no key"}
    assert not papers.make_pdf(certificate_id=second.pk, at=real_now)
    second.refresh_from_db()
    assert second.state == "failed"
    assert "cannot be read" in second.failure


@pytest.mark.django_db
def test_a_voided_one_is_shown_as_void_and_stays_as_issued(api, olive, row, real_now, files):
    before = file_of(row, files).read_bytes()
    certificates.void_certificate(by=olive, certificate=row, reason="Wrong room.", at=real_now)
    _link, secret = certificates.link_to_certificate(certificate=row, at=real_now)
    for answer in (
        Client().get(f"/certificate/{secret}/"),
        api(olive).get(f"/certificates/{row.pk}/pdf/"),
    ):
        assert "void.pdf" in answer["Content-Disposition"]
        said = subprocess.run(
            ["pdftotext", "-", "-"], input=answer.content, capture_output=True, check=True
        ).stdout.decode()
        assert "Wrong room." in said
        assert "Void since" in said.partition("readings pass")[0]
    issued = api(olive).get(f"/api/v1/certificates/{row.pk}/pdf/")
    assert b"".join(issued.streaming_content) == before
