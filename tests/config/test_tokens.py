"""Devices log in with a password once and show a token from then on."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from config.models import DeviceToken
from tests.factories import ContractorFactory

ISSUE = "/api/v1/tokens/issue/"
PASSWORD = "a-long-enough-phrase"


@pytest.fixture
def olive(olive):
    olive.set_password(PASSWORD)
    olive.save()
    return olive


def issue(password=PASSWORD, email="olive@alder.example", name="phone"):
    body = {"email": email, "password": password, "name": name}
    return APIClient().post(ISSUE, body, format="json")


def ask(secret):
    return APIClient().get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"})


def test_a_token_is_shown_once_and_kept_as_a_digest(olive):
    issued = issue()
    assert issued.status_code == 201
    secret = issued.json()["secret"]
    assert len(secret) == 43
    kept = DeviceToken.objects.get()
    assert secret not in str(vars(kept))
    assert ask(secret).json()["name"] == "Olive"


def test_an_e_mail_is_written_in_any_case(olive):
    assert issue(email="Olive@Alder.example").status_code == 201


def test_a_wrong_password_and_an_unknown_name_are_told_the_same(olive):
    wrong, unknown = issue(password="no-no-no-no"), issue(email="x@alder.example")
    assert wrong.status_code == unknown.status_code == 401
    assert wrong.json() == unknown.json()


def test_five_wrong_passwords_lock_the_name_for_a_while(olive, problem):
    for _ in range(5):
        last = issue(password="no-no-no-no")
    assert last.status_code == 429
    refused = issue()
    assert refused.status_code == 429
    assert "Wait 15 minutes" in problem(refused)["detail"]


def test_a_revoked_token_opens_nothing(olive):
    issued = issue().json()
    client = APIClient(headers={"Authorization": f"Bearer {issued['secret']}"})
    assert client.delete(f"/api/v1/tokens/{issued['id']}/").status_code == 204
    assert ask(issued["secret"]).status_code == 401


def test_a_member_who_left_opens_nothing(olive):
    secret = issue().json()["secret"]
    olive.is_active = False
    olive.save()
    assert ask(secret).status_code == 401
    assert issue().status_code == 401


@pytest.mark.parametrize("secret", ["", "x", "\xff", "a b", "é" * 43])
def test_nonsense_is_no_token(db, secret, problem):
    header = f"Bearer {secret}".encode("latin-1", "replace").decode("latin-1")
    refused = Client().get("/api/v1/me/", headers={"Authorization": header})
    assert refused.status_code == 401
    assert refused["WWW-Authenticate"].startswith("Bearer")


def test_last_use_is_written_now_and_then_not_each_time(olive, django_assert_num_queries):
    secret = issue().json()["secret"]
    ask(secret)
    assert DeviceToken.objects.get().last_used_at is not None
    with django_assert_num_queries(2):  # the token with its member, and the contractor to show
        ask(secret)


def test_everybody_sees_only_their_own_devices(api, olive, finn):
    issue()
    assert len(api(olive).get("/api/v1/tokens/").json()["results"]) == 1
    assert api(finn).get("/api/v1/tokens/").json()["results"] == []


def test_a_password_with_blanks_is_taken_as_it_is(olive):
    olive.set_password("  blanks around it  ")
    olive.save()
    assert issue(password="  blanks around it  ").status_code == 201
    assert ContractorFactory._meta.model.objects.count() == 1
