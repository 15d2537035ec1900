"""From an empty installation to a company with its people and their devices."""

import html
import json
import re
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from config.models import DeviceToken
from jobs.actions import members
from jobs.actions.links import first_secret
from jobs.actions.tokens import issue_token
from jobs.models import Contractor, Member
from tests.factories import MemberFactory

FIRST = {
    "name": "Alder Floors",
    "time_zone": "Europe/Oslo",
    "units": "metric",
    "language": "en",
    "person": "Olive Office",
    "email": "Olive@alder.example",
    "password": "a long floor to walk",
}
ASKED = {
    "name": "Nora New",
    "email": "nora@alder.example",
    "role": "field",
    "phone": "",
    "licence_number": "",
    "language": "es",
}


@pytest.fixture
def office(client, olive):
    client.force_login(olive, "config.authentication.MemberBackend")
    return client


@pytest.fixture
def first_address(db):
    return reverse("first", args=[first_secret()])


def test_the_first_link_sets_a_company_up_and_lets_its_office_in(client, first_address):
    assert "Set up your company" in client.get(first_address).content.decode()
    answer = client.post(first_address, FIRST)
    assert answer.status_code == 302
    member = Member.objects.get()
    assert (member.role, member.email) == ("office", "olive@alder.example")
    assert member.contractor.name == "Alder Floors"
    assert client.get(reverse("home")).status_code == 200


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("time_zone", "Oslo", "written like Europe/Oslo"),
        ("password", "12345", "too short"),
        ("email", "olive", "valid email"),
    ],
)
def test_what_is_wrong_is_told_and_what_was_typed_stays(client, first_address, field, value, told):
    answer = client.post(first_address, FIRST | {field: value})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert told in page
    assert 'value="Alder Floors"' in page
    assert not Contractor.objects.exists()


def test_the_first_link_opens_nothing_once_a_company_is_there(client, olive, first_address):
    assert client.get(first_address).status_code == 404
    assert client.post(first_address, FIRST).status_code == 404


def test_a_guessed_first_link_opens_nothing(client, db):
    assert client.get(reverse("first", args=["first:guessed"])).status_code == 404


@pytest.mark.django_db(transaction=True)
def test_two_who_found_at_once_and_one_is_told():
    both = threading.Barrier(2)

    def found(n):
        both.wait()
        given = {key: value for key, value in FIRST.items() if key != "email"}
        try:
            return members.found_contractor(email=f"{n}@alder.example", **given).email
        except members.SetUpAlready:
            return None
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(found, range(2)))
    assert done.count(None) == 1
    assert Contractor.objects.count() == 1


def test_whoever_runs_the_server_is_told_the_first_link(db, capsys):
    call_command("first_link", base="http://127.0.0.1:8000")
    assert "http://127.0.0.1:8000/first/" in capsys.readouterr().out


def test_a_set_up_server_tells_no_first_link(olive, capsys):
    call_command("first_link", if_empty=True)
    assert capsys.readouterr().out == ""
    with pytest.raises(CommandError, match="set up already"):
        call_command("first_link")


def test_who_is_asked_in_gets_a_mail_in_their_language_and_sets_a_password(
    office, client, mailoutbox
):
    answer = office.post(reverse("invite"), ASKED)
    assert answer.status_code == 201
    (mail,) = mailoutbox
    assert mail.to == ["nora@alder.example"]
    assert mail.subject.endswith("le invita")
    link = re.search(r"/password/\S+/", mail.body).group()
    assert link in answer.content.decode()
    client.logout()
    client.post(
        client.get(link, follow=True).request["PATH_INFO"],
        {"new_password1": FIRST["password"], "new_password2": FIRST["password"]},
    )
    typed = {"username": "nora@alder.example", "password": FIRST["password"]}
    assert client.post(reverse("login"), typed).status_code == 302


def test_a_mail_that_cannot_be_sent_is_told_and_the_link_shown(office, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1  # nothing listens there
    page = office.post(reverse("invite"), ASKED).content.decode()
    assert "The mail could not be sent." in page
    assert "/password/" in page


def test_nobody_is_asked_in_twice(office, olive):
    office.post(reverse("invite"), ASKED)
    again = office.post(reverse("invite"), ASKED)
    assert again.status_code == 422
    assert "Somebody logs in with this address already." in again.content.decode()
    assert olive.contractor.members.filter(email="nora@alder.example").count() == 1


def test_the_last_of_the_office_stays(office, olive):
    ended = office.post(reverse("member-end", args=[olive.pk]))
    assert ended.status_code == 422
    assert "is the last of the office" in html.unescape(ended.content.decode())
    changed = office.post(
        reverse("member-edit", args=[olive.pk]),
        {"name": "Olive", "role": "viewer", "language": "en"},
    )
    assert changed.status_code == 422
    MemberFactory(contractor=olive.contractor)
    assert office.post(reverse("member-end", args=[olive.pk])).status_code == 302


def test_who_left_is_let_in_nowhere(office, olive, finn, real_now):
    _token, secret = issue_token(member=finn, name="phone", at=real_now)
    phone, browser = Client(headers={"Authorization": f"Bearer {secret}"}), Client()
    browser.force_login(finn, "config.authentication.MemberBackend")
    assert phone.get("/api/v1/me/").status_code == 200
    assert browser.get(reverse("home")).status_code == 200
    office.post(reverse("member-end", args=[finn.pk]))
    assert phone.get("/api/v1/me/").status_code == 401
    assert browser.get(reverse("home")).status_code == 302
    office.get(reverse("people"))  # says once that Finn is let in no more
    assert finn.email not in office.get(reverse("people")).content.decode()


def test_a_device_shows_its_token_once_as_text_and_as_code(office, olive, client):
    page = office.post(reverse("devices"), {"name": "van logger"}).content.decode()
    secret = re.search(r'id="secret" value="([^"]+)"', page).group(1)
    assert '<svg xmlns="http://www.w3.org/2000/svg" class="qr"' in page
    client.logout()
    me = client.get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"})
    assert json.loads(me.content)["email"] == olive.email
    client.force_login(olive, "config.authentication.MemberBackend")
    assert secret not in client.get(reverse("devices")).content.decode()
    client.post(reverse("device-end", args=[DeviceToken.objects.get().pk]))
    client.logout()
    again = client.get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"})
    assert again.status_code == 401


def test_the_company_is_said_as_papers_name_it(office, olive):
    given = {
        "name": "Alder & Sons",
        "phone": "+47 1",
        "email": "",
        "licence_number": "L-1",
        "time_zone": "America/New_York",
        "units": "imperial",
        "language": "en",
    }
    assert office.post(reverse("company"), given).status_code == 302
    kept = Contractor.objects.get(pk=olive.contractor_id)
    assert (kept.name, kept.units) == ("Alder & Sons", "imperial")
