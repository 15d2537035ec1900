"""Whoever makes a certificate is killed at each step: one certificate, one PDF that counts."""

from datetime import timedelta
from hashlib import sha256

import pytest
from django.core.files.storage import FileSystemStorage

from jobs.models import Link
from scheduling.actions import certificates, papers
from scheduling.models import CERTIFICATE_CLAIM_LASTS, Certificate
from tests import everything
from tests.scheduling.finished import Finished

pytestmark = pytest.mark.django_db(transaction=True)


class Killed(BaseException):
    """What no `except` of ours catches, as a kill."""


def killed(*_, **__):
    raise Killed


@pytest.fixture(autouse=True)
def files(tmp_path):
    with everything.files_in(tmp_path):
        yield tmp_path


@pytest.fixture
def site(olive, now):
    return Finished(olive, now)


@pytest.mark.parametrize("step", ["record_of", "announce", "wake"])
def test_killed_while_it_is_issued_there_is_none_and_the_next_try_issues_it(
    site, olive, now, monkeypatch, step
):
    with monkeypatch.context() as once:
        once.setattr(certificates, step, killed)
        with pytest.raises(Killed):
            certificates.issue_certificate(by=olive, job=site.job, at=now)
    assert Certificate.objects.count() == 0
    issued = certificates.issue_certificate(by=olive, job=site.job, at=now)
    assert issued.number == f"{now:%Y}-0001"


STEPS = {
    "before the paper is set": (papers, "pdf_of"),
    "before the file is stored": (FileSystemStorage, "_save"),
    "before the row says so": (papers.signing, "signer_of"),
    "before the link on it is kept": (papers, "make_link"),
}


@pytest.mark.parametrize("step", STEPS)
def test_killed_while_it_is_made_the_next_worker_makes_it_once(
    site, olive, now, monkeypatch, files, step
):
    row = certificates.issue_certificate(by=olive, job=site.job, at=now)
    with monkeypatch.context() as once:
        once.setattr(*STEPS[step], killed)
        with pytest.raises(Killed):
            papers.make_pdf(certificate_id=row.pk, at=now)
    row.refresh_from_db()
    assert row.state == "making"
    assert Link.objects.count() == 0
    later = now + CERTIFICATE_CLAIM_LASTS + timedelta(seconds=1)
    assert not papers.make_pdf(certificate_id=row.pk, at=later - timedelta(seconds=2))
    assert papers.make_pdf(certificate_id=row.pk, at=later)
    assert not papers.make_pdf(certificate_id=row.pk, at=later + timedelta(hours=1))
    row.refresh_from_db()
    assert sha256((files / row.pdf.name).read_bytes()).hexdigest() == row.pdf_digest
    assert Link.objects.filter(purpose="verify", subject_id=row.pk).count() == 1
