"""What a code on a paper or a label opens: on a phone, without script, in both languages."""

from concurrent.futures import ThreadPoolExecutor
from urllib.parse import urlsplit

import pytest
from django.db import connection

from jobs.actions.links import make_link
from scheduling.actions import certificates, labels, papers
from tests.scheduling.finished import Finished

PHONE = {"viewport": {"width": 390, "height": 844}, "java_script_enabled": False}


@pytest.fixture(autouse=True)
def files(settings, tmp_path, monkeypatch):
    storages = {**settings.STORAGES}
    storages["default"] = {**storages["default"], "OPTIONS": {"location": tmp_path}}
    settings.STORAGES = storages
    settings.SIGNING_DIR = tmp_path / "signing"
    monkeypatch.setattr("config.celery.app.send_task", lambda *_a, **_k: None)
    return tmp_path


@pytest.fixture
def site(olive, real_now):
    return Finished(olive, real_now)


def made(certificate_id, at):
    try:
        return papers.make_pdf(certificate_id=certificate_id, at=at)
    finally:
        connection.close()


def test_the_pages_of_labels_can_be_read(context_of, looker, olive, site, real_now):
    _link, secret = labels.link_for_labels(room=site.room, at=real_now)
    address = urlsplit(labels.address(secret)).path
    look = looker(context_of(olive).new_page())
    look.look(f"/rooms/{site.room.pk}/labels/", "labels")
    look.page.get_by_role("button", name="Make labels").click()
    look.check("labels-made")
    look.look(address, "label")
    look.look(f"{address}?lang=es&right=1200&into=900", "label-es-asked")
    assert look.complaints == []


def test_a_paper_is_compared_without_script(context_of, looker, olive, site, real_now, files):
    row = certificates.issue_certificate(by=olive, job=site.job, at=real_now)
    # In a thread of its own: the browser’s loop runs in this one, and signing wants one too.
    with ThreadPoolExecutor(1) as worker:
        assert worker.submit(made, row.pk, real_now).result()
    row.refresh_from_db()
    _link, secret = make_link(
        job=site.job,
        purpose="verify",
        subject_id=row.pk,
        at=real_now,
        lasts=certificates.VERIFY_LASTS,
    )
    look = looker(context_of().new_page())
    look.look(f"/verify/{secret}/", "verify")
    look.look(f"/verify/{secret}/?lang=es", "verify-es")
    assert look.complaints == []
    page = context_of(**PHONE).new_page()
    page.goto(f"/verify/{secret}/")
    page.get_by_label("The certificate as a PDF").set_input_files(files / row.pdf.name)
    page.get_by_role("button", name="Compare it").click()
    page.get_by_role("heading", name="This file is the certificate as issued").wait_for()
