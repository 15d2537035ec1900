"""Warnings by e-mail against a real mail server: taken once, refused, stalled, gone for a day."""

import re
import socket
import subprocess
import sys
from datetime import timedelta
from email.utils import parseaddr
from html.parser import HTMLParser
from uuid import uuid4

import pytest

from config.serving import CHECKOUT
from jobs.models import Contractor
from scheduling import bounce
from scheduling.actions import notices
from scheduling.models import Notice, Visit
from tests import mailserver
from tests.database import database_url
from tests.factories import NoticeFactory, VisitFactory

HOUR = timedelta(hours=1)
EVIL = "Brook <img src=x onerror=alert(1)>\r\nBcc: all@brook.example\r\n\r\n<svg onload=alert(1)>"
CONTENT = {
    "address": "14 Mill Lane, Nordby",
    "contact": {"name": "Alder Floors", "phone": "+47 55 00 00 01"},
    "visit": {
        "trade": "plumber",
        "company": "Brook & Weir",
        "starts_at": "2027-03-12T08:00:00Z",
        "ends_at": "2027-03-12T10:00:00Z",
        "zone": "Europe/Oslo",
    },
    "conflicts": [
        {
            "room": "1",
            "room_name": "Bathroom",
            "state": "bare",
            "until": None,
            "forbidden": ["walking"],
        }
    ],
    "nearest_start_at": None,
}


@pytest.fixture
def server(settings):
    with mailserver.serving() as (handler, port):
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        yield handler


@pytest.fixture
def notice(alder, now):
    Contractor.objects.filter(pk=alder.pk).update(email="office@alder.example")
    visit = VisitFactory(
        contractor=alder,
        email="brook@weir.example",
        starts_at=now + 72 * HOUR,
        ends_at=now + 74 * HOUR,
    )
    return NoticeFactory(
        contractor=alder, visit=visit, content=CONTENT, made_at=now, send_after=now
    )


def send(notice, at):
    sent = notices.send_notice(notice_id=notice.pk, at=at)
    notice.refresh_from_db()
    return sent


@pytest.mark.django_db
def test_it_goes_out_in_both_forms_with_what_machines_look_for(server, notice, now):
    assert send(notice, now)
    (mail,) = server.mails
    assert mail.get_content_type() == "multipart/alternative"
    text, html = mail.iter_parts()
    assert (text.get_content_type(), html.get_content_type()) == ("text/plain", "text/html")
    for part in (text.get_content(), html.get_content()):
        assert "Keep off this floor" in part
        assert len(re.findall(r"http://testserver/notice/[\w-]{43}/", part)) == 1
    assert mail["Message-ID"] == f"<notice-{notice.pk}@testserver>"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["Content-Language"] == "en"
    assert mail["Reply-To"] == "office@alder.example"
    assert parseaddr(mail["From"]) == ("Alder Floors", "firstwarm@localhost")
    assert mail["Date"]
    assert [name for name in mail.keys() if name.startswith("List-")] == []  # noqa: SIM118
    assert server.envelopes[0].rcpt_tos == ["brook@weir.example"]


@pytest.mark.django_db
def test_spanish_is_spoken_to_those_who_speak_it(server, notice, now):
    Visit.objects.update(language="es")
    send(notice, now)
    (mail,) = server.mails
    text, html = mail.iter_parts()
    assert "No pise este piso" in text.get_content()
    assert 'lang="es"' in html.get_content()
    assert mail["Subject"].startswith("Cable calefactor en el piso")
    assert mail["Content-Language"] == "es"


@pytest.mark.django_db
def test_each_goes_out_once(server, notice, now):
    assert send(notice, now)
    assert not send(notice, now + 24 * HOUR)
    assert len(server.mails) == 1


@pytest.mark.django_db
def test_a_reminder_is_a_mail_of_its_own_that_belongs_to_the_first(server, notice, now):
    send(notice, now)
    notices.remind(at=now + 25 * HOUR)
    assert send(notice, now + 25 * HOUR)
    first, again = server.mails
    assert again["Message-ID"] == f"<notice-{notice.pk}.1@testserver>"
    assert again["In-Reply-To"] == again["References"] == first["Message-ID"]


class Markup(HTMLParser):
    def __init__(self, page):
        super().__init__()
        self.found = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.found += [tag, *(name for name, _ in attrs)]


@pytest.mark.django_db
def test_names_become_neither_headers_nor_markup(server, notice, now):
    Contractor.objects.update(name=EVIL[:120])
    room = {**CONTENT["conflicts"][0], "room_name": EVIL}
    notice.content = {
        "address": EVIL,
        "contact": {"name": EVIL, "phone": EVIL},
        "visit": {**CONTENT["visit"], "company": EVIL},
        "conflicts": [room],
        "nearest_start_at": None,
    }
    notice.save()
    assert send(notice, now)
    (mail,) = server.mails
    assert mail["Bcc"] is None
    assert server.envelopes[0].rcpt_tos == ["brook@weir.example"]
    assert not {"img", "svg", "onload", "onerror"} & set(
        Markup(mail.get_body(("html",)).get_content()).found
    )
    assert mail["Message-ID"] == f"<notice-{notice.pk}@testserver>"


@pytest.mark.django_db
@pytest.mark.parametrize("at_data", [False, True])
def test_a_refusal_for_now_is_tried_again_later(server, notice, now, at_data):
    server.to_data = "452 4.3.1 Mail queue full" if at_data else mailserver.TAKEN
    server.to_recipient = mailserver.TAKEN if at_data else "450 4.2.0 Greylisted"
    assert not send(notice, now)
    assert notice.last_error == ("452 4.3.1 Mail queue full" if at_data else "450 4.2.0 Greylisted")
    assert notice.raised_at is None
    assert notice.send_after == now + timedelta(minutes=1)
    assert not send(notice, now + timedelta(seconds=59))
    server.to_data = server.to_recipient = mailserver.TAKEN
    assert send(notice, now + timedelta(minutes=1))
    assert notice.last_error == ""
    assert len(server.mails) == 1


@pytest.mark.django_db
@pytest.mark.parametrize("at_data", [False, True])
def test_a_refusal_for_good_is_the_offices_at_once(server, notice, now, at_data, api, olive):
    said = "554 5.7.1 Not wanted" if at_data else "550 5.1.1 No such user"
    if at_data:
        server.to_data = said
    else:
        server.to_recipient = said
    assert not send(notice, now)
    told = api(olive).get("/api/v1/notices/").json()["results"][0]
    assert (told["last_error"], told["attempts"]) == (said, 1)
    assert told["raised_at"] is not None
    assert notice.send_after == now + 6 * HOUR
    server.to_data = server.to_recipient = mailserver.TAKEN  # the address was mended
    assert send(notice, now + 6 * HOUR)
    assert len(server.mails) == 1


@pytest.mark.django_db
def test_a_server_that_takes_the_connection_and_says_nothing_holds_nobody(settings, notice, now):
    with socket.create_server(("127.0.0.1", 0)) as silent:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = silent.getsockname()
        settings.EMAIL_TIMEOUT = 0.3
        assert not send(notice, now)
    assert "timed out" in notice.last_error


def test_the_settings_wait_for_a_server_less_than_a_claim_lasts(settings):
    from scheduling.models import CLAIM_LASTS

    assert timedelta(seconds=settings.EMAIL_TIMEOUT) < CLAIM_LASTS


@pytest.mark.django_db
def test_a_server_that_is_down_for_a_day_costs_nothing_but_time(settings, notice, now):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    with socket.create_server(("127.0.0.1", 0)) as closed:
        settings.EMAIL_HOST, settings.EMAIL_PORT = closed.getsockname()
    at, tries = now, 0
    while at < now + 24 * HOUR:
        assert not send(notice, at)
        tries += 1
        at = notice.send_after
    assert 9 <= tries <= 14  # 1, 2, 4 ... minutes, then every six hours
    assert "Connection refused" in notice.last_error
    send(notice, at)
    assert notice.raised_at == at  # after a day somebody calls
    with mailserver.serving() as (handler, port):
        settings.EMAIL_PORT = port
        assert send(notice, notice.send_after)
        assert len(handler.mails) == 1
    assert not send(notice, at + 48 * HOUR)


@pytest.mark.django_db
def test_what_does_not_get_through_before_a_near_visit_is_the_offices(server, notice, now):
    Visit.objects.update(starts_at=now + 20 * HOUR, ends_at=now + 21 * HOUR)
    server.to_recipient = "450 4.2.0 Greylisted"
    send(notice, now)
    assert notice.raised_at == now


# Workers that die on the way


class Killed(BaseException):
    """What no `except` of ours catches, as a kill."""


def killed(*_, **__):
    raise Killed


def alike(mails):
    """What is the same in the mails, but for the address of the private link."""
    links = re.compile(r"/notice/[\w-]{43}/")
    return {
        (
            each["Message-ID"],
            each["Subject"],
            links.sub("", each.get_body(("plain",)).get_content()),
        )
        for each in mails
    }


@pytest.mark.django_db
@pytest.mark.parametrize(("step", "mails"), [("link_to", 1), ("_message", 1), ("_mark_sent", 2)])
def test_a_worker_killed_at_a_step_leaves_it_to_the_next(
    server, notice, now, monkeypatch, step, mails
):
    with monkeypatch.context() as once:
        once.setattr(notices, step, killed)
        with pytest.raises(Killed):
            send(notice, now)
    assert not send(notice, now + timedelta(seconds=59))  # the claim stands
    assert send(notice, now + timedelta(seconds=61))
    assert not send(notice, now + timedelta(seconds=200))
    # Killed after the server took it: a second copy, recognisable as the same.
    assert len(server.mails) == mails
    assert len(alike(server.mails)) == 1


SEND_ONE = """
import sys, django; django.setup()
from django.utils import timezone
from scheduling.actions.notices import send_notice
send_notice(notice_id=sys.argv[1], at=timezone.now())
"""


@pytest.mark.django_db(transaction=True)
def test_a_process_killed_while_the_server_takes_the_mail(server, notice, real_now, settings):
    """A real kill, at the worst moment: the server has the mail, nobody has marked it."""
    Visit.objects.update(starts_at=real_now + 72 * HOUR, ends_at=real_now + 74 * HOUR)
    Notice.objects.update(made_at=real_now, send_after=real_now)
    process = subprocess.Popen(
        [sys.executable, "-c", SEND_ONE, str(notice.pk)],
        cwd=CHECKOUT,
        env={
            "PATH": "/usr/bin:/bin",
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "DATABASE_URL": database_url(),
            "EMAIL_URL": f"smtp://127.0.0.1:{settings.EMAIL_PORT}",
        },
    )

    def dies():
        process.kill()
        return mailserver.TAKEN

    server.to_data = dies
    assert process.wait(timeout=60) == -9
    notice.refresh_from_db()
    assert (notice.sent_at, notice.claimed_at is None) == (None, False)
    server.to_data = mailserver.TAKEN
    assert send(notice, real_now + 2 * HOUR)
    assert len(alike(server.mails)) == 1
    assert len(server.mails) == 2


# Mail that comes back

BOUNCE = """\
From: MAILER-DAEMON@weir.example
To: firstwarm@localhost
Subject: Undelivered Mail Returned to Sender
Auto-Submitted: auto-replied
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="x"

--x
Content-Type: text/plain

It could not be delivered.

--x
Content-Type: message/delivery-status

Reporting-MTA: dns; mx.weir.example

Final-Recipient: rfc822; brook@weir.example
Action: {action}
Status: 5.1.1
Diagnostic-Code: smtp; 550 5.1.1 No such user

--x
Content-Type: {kind}

Message-ID: <notice-{notice}{again}@testserver>
Subject: Heating cable in the floor

--x--
"""


def bounced(notice, *, action="failed", kind="text/rfc822-headers", again=""):
    return BOUNCE.format(action=action, kind=kind, notice=notice, again=again).encode()


@pytest.mark.parametrize("kind", ["text/rfc822-headers", "message/rfc822"])
@pytest.mark.parametrize("again", ["", ".2"])
def test_a_bounce_tells_which_notice_and_why(kind, again):
    row_id = uuid4()
    found = bounce.read(bounced(row_id, kind=kind, again=again))
    assert found == bounce.Bounce(notice=row_id, because="smtp; 550 5.1.1 No such user")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"Subject: hello\n\nIt is only a mail. <notice-0@x>",
        bounced(uuid4(), action="delayed"),
        bounced("no-id"),
        bounced(uuid4()).replace(b"notice-", b"another-"),
        bytes(range(256)) * 10,
    ],
)
def test_any_other_mail_is_no_bounce(content):
    assert bounce.read(content) is None


@pytest.mark.django_db
def test_mail_that_came_back_is_the_offices(server, notice, now):
    send(notice, now)
    assert notices.not_delivered(notice_id=notice.pk, because="550 No such user", at=now + HOUR)
    notice.refresh_from_db()
    assert (notice.last_error, notice.sent_at) == ("550 No such user", None)
    assert notice.raised_at == now + HOUR
    assert notice.send_after == now + 7 * HOUR


@pytest.mark.django_db
def test_a_bounce_of_what_was_answered_or_withdrawn_changes_nothing(notice, now):
    notices.acknowledge(row=notice, name="Una Weir", at=now)
    assert not notices.not_delivered(notice_id=notice.pk, because="550", at=now)
    assert not notices.not_delivered(notice_id=uuid4(), because="550", at=now)
    assert Notice.objects.get().last_error == ""


@pytest.mark.django_db(transaction=True)
def test_a_mail_server_pipes_it_in(notice):
    done = subprocess.run(
        [sys.executable, "manage.py", "bounce"],
        cwd=CHECKOUT,
        env={"PATH": "/usr/bin:/bin", "DATABASE_URL": database_url(), "SECRET_KEY": "x"},
        input=bounced(notice.pk),
        capture_output=True,
        check=True,
    )
    assert b"did not arrive: smtp; 550 5.1.1 No such user" in done.stdout
    assert Notice.objects.get().raised_at is not None
