"""Erasing who the customer is, while what was built stays provable."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import IntegrityError

from config.models import Answer
from config.tenancy import TenantModel, violated
from jobs.actions.links import make_link, open_link
from jobs.models import Customer, Erasure, Job, JobImport, Link
from readings.actions.verify import verify
from scheduling.actions import certificates
from scheduling.actions.erasing import erase_personal_data
from scheduling.models import Certificate, Notice
from tests import everything
from tests.factories import ExportFactory, JobFactory, NoticeFactory, VisitFactory
from tests.scheduling.finished import Finished

YEAR = timedelta(days=365)
NAME, PHONE, EMAIL = "Ada Lindqvist", "+47 55 12 34 56", "ada@lindqvist.example"
STREET, POSTCODE, CITY, NOTE = "7 Heron Quay", "5003", "Fjellvik", "The key is with Ada"


@pytest.fixture(autouse=True)
def files(tmp_path):
    with everything.files_in(tmp_path):
        yield


@pytest.fixture
def site(olive, real_now):
    site = Finished(olive, real_now)
    Customer.objects.filter(pk=site.job.customer_id).update(
        name=NAME, phone=PHONE, email=EMAIL, note=NOTE
    )
    Job.objects.filter(pk=site.job.pk).update(
        street=STREET, postcode=POSTCODE, city=CITY, note=NOTE, closed_at=real_now
    )
    site.job.refresh_from_db()
    visit = VisitFactory(contractor=olive.contractor, job=site.job)
    NoticeFactory(
        contractor=olive.contractor, visit=visit, content={"address": f"{STREET}, {CITY}"}
    )
    return site


@pytest.fixture
def office(api, olive):
    return api(olive)


def erase(office, site, name=NAME):
    return office.post(f"/api/v1/customers/{site.job.customer_id}/erasure/", {"name": name})


def everywhere(words):
    """Tables in which a row says one of these."""
    found = set()
    for model in apps.get_models():
        if issubclass(model, TenantModel):
            for row in model.objects.values():
                if any(word in str(value) for value in row.values() for word in words):
                    found.add(model.__name__)
    return found


@pytest.mark.django_db
def test_who_and_where_are_nowhere_but_in_the_frozen_record(office, site, olive, real_now):
    certificates.issue_certificate(by=olive, job=site.job, at=real_now)
    told = (NAME, PHONE, EMAIL, STREET, POSTCODE, CITY, NOTE)
    assert everywhere(told) == {"Customer", "Job", "Notice", "Certificate"}
    assert erase(office, site).status_code == 201
    assert everywhere(told) == {"Certificate"}
    job = office.get(f"/api/v1/jobs/{site.job.pk}/").json()
    assert job["street"] == f"Job {job['number']}, address erased"
    assert office.get("/api/v1/customers/", {"search": "Lindqvist"}).json()["results"] == []


@pytest.mark.django_db
def test_the_technical_record_is_whole_and_the_certificate_as_it_was(office, site, olive, real_now):
    before = [(state.room, state.head) for state in verify()]
    issued = certificates.issue_certificate(by=olive, job=site.job, at=real_now)
    erase(office, site)
    states = list(verify())
    assert [(state.room, state.head) for state in states] == before
    assert all(state.whole for state in states)
    kept = Certificate.objects.get()
    assert (kept.data, kept.data_digest) == (issued.data, issued.data_digest)


@pytest.mark.django_db
def test_private_links_end_but_those_that_name_nobody(office, site, real_now):
    secrets = {
        purpose: make_link(job=site.job, purpose=purpose, at=real_now, lasts=YEAR)[1]
        for purpose in ("owner", "certificate", "notice", "trade", "feed", "label", "verify")
    }
    erase(office, site)
    opening = {
        purpose
        for purpose, secret in secrets.items()
        if open_link(purpose=purpose, secret=secret, at=real_now)
    }
    assert opening == {"label", "verify"}


@pytest.mark.django_db
def test_other_customers_and_their_links_are_not_touched(office, site, alder, real_now, bo):
    kept = [
        make_link(job=JobFactory(contractor=each), purpose="owner", at=real_now, lasts=YEAR)[0].pk
        for each in (alder, bo.contractor)
    ]
    erase(office, site)
    assert Link.objects.filter(pk__in=kept, revoked_at=None).count() == 2
    assert Job.objects.filter(street="14 Mill Lane").count() == 2


@pytest.mark.django_db
def test_files_for_leaving_remembered_answers_and_lists_go(office, site, olive, real_now):
    own = {"contractor": olive.contractor}
    export = ExportFactory(
        asked_by=olive, made_at=real_now, expires_at=real_now + YEAR, file="exports/x.zip", **own
    )
    for body in ({"id": str(site.job.pk)}, {"id": str(uuid4())}):
        Answer.objects.create(
            member=olive, key=uuid4().hex, fingerprint="0", answered_at=real_now, body=body, **own
        )
    for name in (NAME, "Somebody Else"):
        JobImport.objects.create(
            rows=[{"customer": name}], bad=[], looked_at=real_now, looked_by=olive, **own
        )
    erase(office, site)
    assert JobImport.objects.get().rows == [{"customer": "Somebody Else"}]
    export.refresh_from_db()
    assert export.expires_at < real_now + timedelta(minutes=5)
    assert Answer.objects.count() == 1


@pytest.mark.django_db
def test_who_and_when_is_kept_and_cannot_be_changed(office, site, olive):
    told = erase(office, site).json()
    row = Erasure.objects.get()
    assert (told["erased_by"], row.erased_by) == (str(olive.pk), olive)
    assert office.get(f"/api/v1/customers/{site.job.customer_id}/erasure/").json() == told
    with pytest.raises(IntegrityError) as refused:
        Erasure.objects.update(erased_at=row.erased_at - YEAR)
    assert violated(refused.value) == "erasure_never_edited"


@pytest.mark.django_db
def test_while_a_job_is_open_nothing_is_erased(office, site, problem):
    Job.objects.update(closed_at=None)
    refused = problem(erase(office, site))
    assert (refused["status"], refused["type"]) == (409, "/problems/customer-has-open-jobs/")
    assert f"job {site.job.number}" in refused["detail"]
    assert Customer.objects.filter(name=NAME).exists()


@pytest.mark.django_db
def test_a_second_time_is_told(office, site, problem):
    erase(office, site)
    again = problem(erase(office, site, name="Personal data erased"))
    assert again["type"] == "/problems/erased-already/"


@pytest.mark.django_db
def test_the_name_has_to_be_said(office, site, problem):
    refused = problem(erase(office, site, name="Ada"))
    assert refused["errors"][0]["pointer"] == "#/name"
    assert Customer.objects.filter(name=NAME).exists()


@pytest.mark.django_db
def test_a_stale_page_cannot_bring_it_back(office, site):
    version = Customer.objects.get(name=NAME).version
    erase(office, site)
    answer = office.patch(
        f"/api/v1/customers/{site.job.customer_id}/",
        {"phone": PHONE},
        headers={"If-Match": f'"{version}"'},
    )
    assert answer.status_code == 412


@pytest.mark.django_db
def test_the_page_says_what_goes_and_what_stays_and_does_it(office, site, olive, real_now):
    certificates.issue_certificate(by=olive, job=site.job, at=real_now)
    make_link(job=site.job, purpose="owner", at=real_now, lasts=YEAR)
    url = f"/customers/{site.job.customer_id}/erase/"
    page = office.get(url).content.decode()
    assert "1 private link:" in page
    assert "1 certificate, as it was issued" in page
    assert "C. Owner" in page  # whose signature stays
    assert Customer.objects.filter(name=NAME).exists()
    assert office.post(url).status_code == 302
    after = office.get(url).content.decode()
    assert "What stayed" in after
    assert "Olive" in after
    assert "<button" not in after.split("<main")[1]


@pytest.mark.django_db
def test_the_page_of_an_open_job_says_what_to_close(office, site):
    Job.objects.update(closed_at=None)
    url = f"/customers/{site.job.customer_id}/erase/"
    assert f"/jobs/{site.job.pk}/close/" in office.get(url).content.decode()
    assert office.post(url).status_code == 422
    assert office.post(f"/jobs/{site.job.pk}/close/").status_code == 302
    assert office.post(url).status_code == 302


@pytest.mark.django_db
def test_it_is_said_in_the_contractors_language(site, olive, real_now):
    olive.contractor.language = "es"
    olive.contractor.save()
    customer = site.job.customer
    erase_personal_data(by=olive, customer=customer, at=real_now)
    customer.refresh_from_db()
    assert customer.name == "Datos personales borrados"
    assert Notice.objects.get().content["address"].endswith("dirección borrada")
