"""From the handover to a PDF in somebody's hands, through the API."""

import io
import json
import threading
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.db import DatabaseError, IntegrityError, connection
from django.test import Client
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from config.celery import app
from config.tenancy import violated
from jobs.models import Link
from scheduling.actions import certificates, papers
from scheduling.actions.record import SCHEMA
from scheduling.facts import derive, digest_of
from scheduling.models import CERTIFICATE_CLAIM_LASTS as CLAIM_LASTS
from scheduling.models import Certificate, SignOff
from scheduling.tasks import make_certificate, resend_due_certificates
from tests.factories import FaultFoundFactory
from tests.scheduling.finished import STAGES, Finished

NOW = datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
CERTIFICATES = "/api/v1/certificates/"


@pytest.fixture(autouse=True)
def files(settings, tmp_path):
    """Papers of a test lie in a folder of its own."""
    storages = {**settings.STORAGES}
    storages["default"] = {**storages["default"], "OPTIONS": {"location": tmp_path}}
    settings.STORAGES = storages
    settings.SIGNING_DIR = tmp_path / "signing"
    return tmp_path


@pytest.fixture
def sent(monkeypatch):
    """What was sent to workers, instead of sending it."""
    messages = []

    def send_task(name, args, **_):
        messages.append((name, *args))

    monkeypatch.setattr(app, "send_task", send_task)
    return messages


@pytest.fixture
def site(olive, sent):
    return Finished(olive, NOW)


@pytest.fixture
def office(api, olive):
    return api(olive)


def issue(office, site, **headers):
    return office.post(CERTIFICATES, {"job": str(site.job.pk)}, headers=headers)


@pytest.fixture
def issued(office, site):
    return Certificate.objects.get(pk=issue(office, site).json()["id"])


@pytest.fixture
def made(issued):
    assert make_certificate(str(issued.pk))
    issued.refresh_from_db()
    return issued


@pytest.mark.django_db
def test_a_complete_job_says_so(office, site):
    answer = office.get(f"/api/v1/jobs/{site.job.pk}/handover/").json()
    assert answer == {"complete": True, "missing": []}


@pytest.mark.django_db
def test_an_incomplete_job_says_what_is_missing_and_gets_no_certificate(office, olive, problem):
    site = Finished(olive, NOW, signed=("electrician",))
    answer = office.get(f"/api/v1/jobs/{site.job.pk}/handover/").json()
    assert answer["missing"] == [
        {"room": "", "what": "The customer has not signed.", "clears": "customer"}
    ]
    refused = problem(issue(office, site))
    assert refused["status"] == 409
    assert refused["type"] == "/problems/handover-incomplete/"
    assert "The customer has not signed. (customer)" in refused["detail"]
    assert Certificate.objects.count() == 0


@pytest.mark.django_db
def test_a_hold_that_came_up_since_stands_in_the_way(office, site, problem):
    site.decide(holds=({"code": "open-fault", "text": "A fault is open."},))
    assert "A fault is open." in problem(issue(office, site))["detail"]


@pytest.mark.django_db
def test_a_check_that_failed_since_stands_in_the_way(office, site, problem):
    site.ohms_200, kept = site.ohms_20k, site.ohms_200
    site.pass_check("handover", at=NOW)  # on a range that is too coarse to tell
    site.ohms_200 = kept
    assert "at handover is undecided" in problem(issue(office, site))["detail"]


@pytest.mark.django_db
def test_the_answer_is_accepted_and_a_worker_is_woken(
    office, site, sent, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        answer = issue(office, site)
    assert answer.status_code == 202
    body = answer.json()
    assert (body["state"], body["job"]) == ("waiting", str(site.job.pk))
    assert body["number"] == f"{body['issued_at'][:4]}-0001"
    assert sent == [("scheduling.tasks.make_certificate", body["id"])]


@pytest.mark.django_db
def test_the_same_key_again_issues_nothing_more(office, site):
    first = issue(office, site, **{"Idempotency-Key": "once"})
    again = issue(office, site, **{"Idempotency-Key": "once"})
    assert (again.status_code, again.json()) == (202, first.json())
    assert Certificate.objects.count() == 1


@pytest.mark.django_db
def test_a_second_one_is_refused_while_the_first_is_in_force(office, site, issued, problem):
    refused = problem(issue(office, site))
    assert (refused["status"], refused["type"]) == (409, "/problems/certificate-in-force/")


@pytest.mark.django_db(transaction=True)
def test_two_at_once_and_one_certificate(olive, site, sent):
    barrier, outcomes = threading.Barrier(2), []

    def ask():
        try:
            barrier.wait()
            certificates.issue_certificate(by=olive, job=site.job, at=NOW)
            outcomes.append("issued")
        except certificates.CertificateInForce:
            outcomes.append("told")
        finally:
            connection.close()

    threads = [threading.Thread(target=ask) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["issued", "told"]
    assert Certificate.objects.count() == 1


@pytest.mark.django_db
def test_the_record_is_frozen_with_all_that_a_claim_needs(office, issued, site):
    data = office.get(f"{CERTIFICATES}{issued.pk}/data/").json()
    assert digest_of(data) == issued.data_digest
    (room,) = data["rooms"]
    assert [check["stage"] for check in room["checks"]] == list(STAGES)
    assert room["elements"][0]["serial"] == site.element.serial
    assert room["plan"]["basis"] == "as_laid"
    assert room["decision"]["result"]["layers"][0]["unknown_hours"] == 48
    assert derive(room["decision"]["facts"])["likely"] == room["decision"]["result"]["likely"]
    assert [row["kind"] for row in data["sign_offs"]] == ["electrician", "customer"]
    assert data["contractor"]["name"] == "Alder Floors"


@pytest.mark.django_db
def test_the_worker_makes_a_pdf_with_the_record_inside(office, made, files):
    answer = office.get(f"{CERTIFICATES}{made.pk}/pdf/")
    content = b"".join(answer.streaming_content)
    assert answer["Content-Type"] == "application/pdf"
    assert f"certificate-{made.number}.pdf" in answer["Content-Disposition"]
    assert sha256(content).hexdigest() == made.pdf_digest
    reader = PdfReader(io.BytesIO(content))
    first = reader.pages[0].extract_text()
    assert "Bathroom, 14 Mill Lane" in first
    assert "All 19 readings pass." in first
    assert "prove dead" in first
    second = " ".join(reader.pages[1].extract_text().split())
    assert "Grey dry-set mortar" in second
    assert "48 h without a known temperature" in second
    assert "Curing, hours reached" in second  # the chart
    assert json.loads(reader.attachments["record.json"][0]) == made.data
    assert office.get(f"{CERTIFICATES}{made.pk}/").json()["state"] == "made"
    assert default_storage.exists(made.pdf.name)


@pytest.mark.django_db
def test_before_it_is_made_there_is_no_pdf(office, issued, problem):
    refused = problem(office.get(f"{CERTIFICATES}{issued.pk}/pdf/"))
    assert (refused["status"], refused["type"]) == (409, "/problems/certificate-not-made/")


@pytest.mark.django_db
def test_a_message_that_comes_twice_makes_one_pdf(made, files):
    assert not make_certificate(str(made.pk))
    assert len(list(files.rglob("*.pdf"))) == 1


@pytest.mark.django_db
def test_a_worker_whose_claim_ran_out_takes_its_file_back(issued, files, monkeypatch):
    at, making = issued.issued_at, papers.pdf_of

    def overtaken(certificate, key, **given):
        monkeypatch.setattr(papers, "pdf_of", making)
        assert papers.make_pdf(certificate_id=certificate.pk, at=at + 2 * CLAIM_LASTS)
        return b"late"

    monkeypatch.setattr(papers, "pdf_of", overtaken)
    assert not papers.make_pdf(certificate_id=issued.pk, at=at)
    issued.refresh_from_db()
    assert issued.made_at == at + 2 * CLAIM_LASTS
    assert len(list(files.rglob("*.pdf"))) == 1


@pytest.mark.django_db
def test_what_was_lost_is_sent_again(olive, site, sent):
    lost = certificates.issue_certificate(by=olive, job=site.job, at=NOW)
    assert resend_due_certificates() == 1
    assert sent == [("scheduling.tasks.make_certificate", str(lost.pk))]


@pytest.mark.django_db
def test_what_may_still_be_on_its_way_is_not_sent_again(issued, sent):
    assert resend_due_certificates() == 0
    assert sent == []


@pytest.mark.django_db
def test_a_dead_workers_claim_runs_out(issued):
    at = issued.issued_at
    assert Certificate.objects.claim(issued.pk, at=at)
    assert not Certificate.objects.claim(issued.pk, at=at + CLAIM_LASTS)
    assert Certificate.objects.claim(issued.pk, at=at + CLAIM_LASTS + timedelta(seconds=1))


@pytest.mark.django_db
def test_text_with_markup_stays_text(office, site):
    site.job.street = '<img src="file:///etc/hostname"> & Sons'
    site.job.save()
    row = Certificate.objects.get(pk=issue(office, site).json()["id"])
    assert make_certificate(str(row.pk))
    row.refresh_from_db()
    with row.pdf.open() as file:
        text = PdfReader(file).pages[0].extract_text()
    assert '<img src="file:///etc/hostname"> & Sons' in text


@pytest.mark.django_db
@pytest.mark.parametrize(
    "change",
    [
        {"number": "2026-9999"},
        {"data": {}},
        {"pdf_digest": "0" * 64},
        {"pdf": "certificates/other.pdf"},
        {"issued_at": NOW},
    ],
)
def test_nothing_of_a_made_certificate_changes_afterwards(made, change):
    with pytest.raises(IntegrityError) as refused:
        Certificate.objects.filter(pk=made.pk).update(**change)
    assert violated(refused.value) == "certificate_frozen"


@pytest.mark.django_db
def test_a_certificate_is_never_deleted(made):
    with pytest.raises(DatabaseError):
        made.delete()


@pytest.mark.django_db
def test_voiding_and_another_one_leave_both_in_the_record(office, site, made, problem):
    voided = office.post(f"{CERTIFICATES}{made.pk}/void/", {"reason": "Wrong serial."})
    assert voided.status_code == 200
    assert (voided.json()["state"], voided.json()["void_reason"]) == ("void", "Wrong serial.")
    again = problem(office.post(f"{CERTIFICATES}{made.pk}/void/", {"reason": "Again."}))
    assert again["type"] == "/problems/certificate-void/"
    second = issue(office, site).json()
    assert second["replaces"] == str(made.pk)
    assert second["number"].endswith("-0002")
    listed = office.get(f"{CERTIFICATES}?job={site.job.pk}").json()["results"]
    assert [row["state"] for row in listed] == ["waiting", "void"]


def link_to(office, made, **body):
    answer = office.post(f"{CERTIFICATES}{made.pk}/links/", body)
    assert answer.status_code == 201
    return answer.json()


@pytest.mark.django_db
def test_a_private_link_downloads_the_pdf_without_an_account(office, made):
    link = link_to(office, made)
    answer = Client().get(link["url"].removeprefix("http://testserver"))
    assert answer.status_code == 200
    assert sha256(b"".join(answer.streaming_content)).hexdigest() == made.pdf_digest
    assert answer["Cache-Control"] == "private, no-store"
    assert answer["X-Robots-Tag"] == "noindex"


@pytest.mark.django_db
def test_links_unknown_revoked_expired_and_of_another_purpose_answer_alike(office, made):
    revoked, expired = link_to(office, made), link_to(office, made, days=1)
    assert office.delete(f"/api/v1/links/{revoked['id']}/").status_code == 204
    Link.objects.filter(pk=expired["id"]).update(made_at=NOW - timedelta(days=1), expires_at=NOW)
    other = link_to(office, made)
    Link.objects.filter(pk=other["id"]).update(purpose="owner")
    urls = [each["url"].removeprefix("http://testserver") for each in (revoked, expired, other)]
    answers = [Client().get(url) for url in (*urls, "/certificate/unknown/")]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1


@pytest.mark.django_db
def test_a_link_is_kept_as_a_digest_only(office, made):
    secret = link_to(office, made)["url"].rstrip("/").rpartition("/")[2]
    row = Link.objects.get(purpose="certificate")
    assert len(secret) >= 22  # 128 bits and more
    assert secret not in str(row.__dict__)


# Signatures


def signature(site, **changed):
    return {
        "id": str(uuid4()),
        "job": str(site.job.pk),
        "kind": "customer",
        "name": "C. Owner",
        "scope": "Received.",
        "signed_at": "2026-11-20T09:00:00Z",
    } | changed


@pytest.mark.django_db
def test_a_signature_sent_twice_is_one(api, finn, site):
    body = signature(site)
    first = api(finn).post("/api/v1/sign-offs/", body)
    again = api(finn).post("/api/v1/sign-offs/", body)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert SignOff.objects.filter(client_id=body["id"]).count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "status", "pointer"),
    [
        ({"kind": "electrician"}, 422, "#/licence_number"),
        ({"signed_at": "2126-11-20T09:00:00Z"}, 422, "#/signed_at"),
        ({"signed_at": "2026-11-20T09:00:00"}, 422, "#/signed_at"),
        ({"job": str(uuid4())}, 422, "#/job"),
        ({"name": ""}, 422, "#/name"),
    ],
)
def test_a_signature_that_cannot_be_is_refused_at_its_field(
    api, finn, site, problem, changed, status, pointer
):
    refused = problem(api(finn).post("/api/v1/sign-offs/", signature(site, **changed)))
    assert refused["status"] == status
    assert [error["pointer"] for error in refused["errors"]] == [pointer]


@pytest.mark.django_db
def test_an_id_is_not_used_for_another_signature(api, finn, site, problem):
    body = signature(site)
    api(finn).post("/api/v1/sign-offs/", body)
    refused = problem(api(finn).post("/api/v1/sign-offs/", body | {"name": "Somebody else"}))
    assert (refused["status"], refused["errors"][0]["pointer"]) == (409, "#/id")


@pytest.mark.django_db
def test_what_is_issued_follows_the_published_schema(issued):
    schema = json.loads(SCHEMA.read_text())
    assert list(Draft202012Validator(schema).iter_errors(issued.data)) == []
    assert issued.data["rooms"][0]["doorways"]


@pytest.mark.django_db
def test_the_record_has_each_fault_and_what_became_of_it(office, site):
    own = {"contractor": site.room.contractor, "element": site.element, "found_by": site.by}
    FaultFoundFactory(**own, voided_at=site.now, voided_by=site.by, void_reason="Swapped.")
    data = Certificate.objects.get(pk=issue(office, site).json()["id"]).data
    schema = json.loads(SCHEMA.read_text())
    assert list(Draft202012Validator(schema).iter_errors(data)) == []
    (fault,) = data["rooms"][0]["faults"]
    assert (fault["fraction"], fault["void_reason"]) == (0.3, "Swapped.")
    assert fault["places"][0]["metres"] == pytest.approx(18.6)
    assert fault["places"][0]["spot_mm"]
