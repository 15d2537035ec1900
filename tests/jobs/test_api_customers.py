"""Customers over the API, and with them the manners that every resource has."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from rest_framework.test import APIClient

from config.models import Answer
from jobs.models import Customer
from tests.factories import CustomerFactory, MemberFactory

URL = "/api/v1/customers/"
ADA = {"name": "Ada Quill", "email": "ada@home.example", "phone": "+47 55 00 11 22"}


def test_a_customer_is_taken_in(api, olive):
    response = api(olive).post(URL, ADA)
    assert response.status_code == 201
    assert response["ETag"] == '"1"'
    assert {**response.json(), **ADA} == response.json()
    assert Customer.objects.get().contractor == olive.contractor


def test_an_unknown_field_is_told_not_dropped(api, olive, problem):
    refused = api(olive).post(URL, {**ADA, "fax": "1"})
    assert refused.status_code == 422
    assert problem(refused)["errors"] == [
        {"detail": "There is no such field here.", "pointer": "#/fax"}
    ]


def test_a_number_is_no_name(api, olive, problem):
    refused = api(olive).post(URL, {"name": 7})
    assert problem(refused)["errors"][0]["pointer"] == "#/name"


def test_a_client_id_makes_one_customer(api, olive, problem):
    body = {**ADA, "client_id": "7b0c1d7e-5a6c-4d27-9f43-0d6c7c1e2a11"}
    assert api(olive).post(URL, body).status_code == 201
    again = api(olive).post(URL, body)
    assert again.status_code == 409
    assert problem(again)["errors"][0]["pointer"] == "#/client_id"
    assert Customer.objects.count() == 1


def test_search_looks_in_name_mail_and_phone(api, olive):
    CustomerFactory(contractor=olive.contractor, name="Ada Quill")
    CustomerFactory(contractor=olive.contractor, name="Ben Rook", phone="123 quill")
    CustomerFactory(contractor=olive.contractor, name="Cy Moth")
    found = api(olive).get(URL, {"search": "QUILL"}).json()["results"]
    assert [row["name"] for row in found] == ["Ben Rook", "Ada Quill"]


def test_an_unknown_filter_is_refused(api, olive, problem):
    refused = api(olive).get(URL, {"nmae": "Ada"})
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == "#/nmae"


# Pages


def test_pages_follow_one_another_without_gap_or_overlap(api, olive):
    made = [str(CustomerFactory(contractor=olive.contractor).pk) for _ in range(7)]
    seen, url = [], f"{URL}?limit=3"
    while url:
        page = api(olive).get(url).json()
        seen += [row["id"] for row in page["results"]]
        url = page["next"]
    assert seen == made[::-1]


@pytest.mark.parametrize("cursor", ["x", "cD1hYmM=", "%%%"])
def test_a_made_up_cursor_is_refused(api, olive, problem, cursor):
    refused = api(olive).get(URL, {"cursor": cursor})
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == "#/cursor"


def test_ten_rows_take_as_many_queries_as_one(api, olive, django_assert_num_queries):
    client = api(olive)
    for rows in (1, 9):
        for _ in range(rows):
            CustomerFactory(contractor=olive.contractor)
        with django_assert_num_queries(1):
            client.get(URL)


# Versions


def test_a_change_names_the_version_it_was_made_on(api, olive):
    customer = CustomerFactory(contractor=olive.contractor, name="Ada")
    changed = api(olive).patch(
        f"{URL}{customer.pk}/", {"name": "Ada Q."}, headers={"If-Match": '"1"'}
    )
    assert changed.status_code == 200
    assert changed["ETag"] == '"2"'
    assert Customer.objects.get().name == "Ada Q."


def test_a_stale_change_changes_nothing(api, olive, problem):
    customer = CustomerFactory(contractor=olive.contractor, name="Ada", version=2)
    refused = api(olive).patch(f"{URL}{customer.pk}/", {"name": "X"}, headers={"If-Match": '"1"'})
    assert refused.status_code == 412
    assert "Read it again" in problem(refused)["detail"]
    assert Customer.objects.get().name == "Ada"


def test_a_change_without_version_is_asked_for_one(api, olive, problem):
    customer = CustomerFactory(contractor=olive.contractor)
    refused = api(olive).patch(f"{URL}{customer.pk}/", {"name": "X"})
    assert refused.status_code == 428
    assert "If-Match" in problem(refused)["detail"]


@pytest.mark.parametrize("sent", ['W/"x"', "*", '"99999999999999999999"'])
def test_an_etag_that_is_none_of_ours_is_stale(api, olive, sent):
    customer = CustomerFactory(contractor=olive.contractor)
    refused = api(olive).patch(f"{URL}{customer.pk}/", {"name": "X"}, headers={"If-Match": sent})
    assert refused.status_code == 412


# Idempotency keys

KEY = {"Idempotency-Key": "van-7-0001"}


def test_a_repeated_key_answers_the_same_and_adds_nothing(api, olive):
    first = api(olive).post(URL, ADA, headers=KEY)
    again = api(olive).post(URL, ADA, headers=KEY)
    assert (again.status_code, again.json(), again["ETag"]) == (201, first.json(), '"1"')
    assert again["Idempotency-Replayed"] == "true"
    assert Customer.objects.count() == 1


def test_a_key_with_another_body_is_refused(api, olive, problem):
    api(olive).post(URL, ADA, headers=KEY)
    refused = api(olive).post(URL, {**ADA, "name": "Ben"}, headers=KEY)
    assert refused.status_code == 422
    assert problem(refused)["type"] == "/problems/key-reused/"
    assert Customer.objects.count() == 1


def test_a_refused_request_leaves_its_key_unused(api, olive):
    assert api(olive).post(URL, {"name": ""}, headers=KEY).status_code == 422
    assert Answer.objects.count() == 0
    assert api(olive).post(URL, ADA, headers=KEY).status_code == 201


def test_two_members_may_use_the_same_key(api, olive, alder):
    api(olive).post(URL, ADA, headers=KEY)
    other = MemberFactory(contractor=alder)
    assert api(other).post(URL, {"name": "Ben"}, headers=KEY).json()["name"] == "Ben"


@pytest.mark.parametrize("key", ["k" * 256, "a\tb"])
def test_a_key_has_a_shape(api, olive, key, problem):
    refused = api(olive).post(URL, ADA, headers={"Idempotency-Key": key})
    assert refused.status_code == 422
    problem(refused)


@pytest.mark.django_db(transaction=True)
def test_the_same_key_twice_at_once_adds_one_customer():
    olive = MemberFactory()
    barrier = Barrier(2)

    def post(_: int) -> tuple[int, str]:
        client = APIClient()
        client.force_authenticate(olive)
        barrier.wait()
        try:
            response = client.post(URL, ADA, format="json", headers=KEY)
            return response.status_code, response.json()["id"]
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        one, other = pool.map(post, range(2))
    assert one == other
    assert one[0] == 201
    assert Customer.objects.count() == 1
