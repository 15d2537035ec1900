from threading import Barrier, Thread
from uuid import uuid4

import pytest
from django.db import connection

from readings.models import Check, Reading
from tests.readings.conftest import Site

URL = "/api/v1/checks/batch/"


def test_the_good_ones_are_kept_and_each_bad_one_has_its_problem(site, api, finn):
    good, later = site.check("arrival"), site.check("laid")
    negative = site.check("laid")
    negative["readings"][0]["value"] = -3
    elsewhere = {**site.check("laid"), "room": str(uuid4())}
    told = api(finn).post(URL, {"checks": [good, negative, "no check", elsewhere, later]}).json()
    assert (told["accepted"], told["refused"]) == (2, 3)
    assert [row["index"] for row in told["results"]] == [0, 1, 2, 3, 4]
    assert [bool(row["check"]) for row in told["results"]] == [True, False, False, False, True]
    problems = [row["problem"] for row in told["results"]]
    assert problems[1]["errors"][0]["pointer"] == "#/readings/0/value"
    assert problems[2]["status"] == 422
    assert problems[3]["type"] == "/problems/unknown-id/"
    assert [row["client_id"] for row in told["results"]][1] == negative["client_id"]
    assert Check.objects.count() == 2


def test_the_same_batch_again_answers_the_same(site, api, finn):
    batch = {"checks": [site.check("arrival"), {"stage": 5}, site.check("laid")]}
    first, again = (api(finn).post(URL, batch).json() for _ in range(2))
    assert first == again
    assert (Check.objects.count(), Reading.objects.count()) == (2, 8)


def test_a_batch_makes_the_same_chain_as_one_by_one(site, api, finn):
    stages = ("arrival", "laid", "covered")
    told = api(finn).post(URL, {"checks": [site.check(stage) for stage in stages]}).json()
    checks = [row["check"] for row in told["results"]]
    assert [check["sequence"] for check in checks] == [1, 2, 3]
    assert [check["outcome"] for check in checks] == ["pass"] * 3
    assert [check["flags"] for check in checks] == [[], [], []]
    assert checks[2]["previous_digest"] == checks[1]["digest"]


def test_a_correction_may_come_in_the_same_batch_only_by_its_id(site, api, finn):
    first = api(finn).post(URL, {"checks": [site.check()]}).json()["results"][0]["check"]
    corrections = [site.check(supersedes=first["id"]) for _ in range(2)]
    told = api(finn).post(URL, {"checks": corrections}).json()
    assert told["results"][0]["check"]["supersedes"] == first["id"]
    assert told["results"][1]["problem"]["type"] == "/problems/superseded-already/"


def test_an_id_twice_in_a_batch_counts_once(site, api, finn):
    body = site.check()
    other = {**body, "stage": "covered"}
    told = api(finn).post(URL, {"checks": [body, body, other]}).json()
    assert told["results"][0]["check"] == told["results"][1]["check"]
    assert told["results"][2]["problem"]["type"] == "/problems/sent-otherwise/"
    assert Check.objects.count() == 1


def test_ten_thousand_checks_are_refused_and_the_limit_is_told(site, api, finn, problem):
    refused = problem(api(finn).post(URL, {"checks": [{}] * 10_000}))
    assert refused["status"] == 422
    assert "At most 500 checks" in refused["errors"][0]["detail"]


@pytest.mark.parametrize("body", [{}, {"checks": []}, {"checks": "all"}, [], {"cheques": []}])
def test_a_batch_that_is_none_is_refused(api, finn, problem, body):
    assert problem(api(finn).post(URL, body))["status"] == 422


def test_queries_do_not_grow_with_the_batch(site, api, finn, django_assert_max_num_queries):
    client = api(finn)
    with django_assert_max_num_queries(16):
        told = client.post(URL, {"checks": [site.check() for _ in range(50)]}).json()
    assert told["accepted"] == 50


@pytest.mark.django_db(transaction=True)
def test_two_batches_over_the_same_rooms_do_not_lock_each_other_out(site, api, finn, alder):
    other, told, barrier = Site(alder), [], Barrier(2)

    def post(checks):
        barrier.wait()
        told.append(api(finn).post(URL, {"checks": checks}).json())
        connection.close()

    there = [site.check(), other.check()]
    threads = [Thread(target=post, args=(c,)) for c in (there, there[::-1])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [one["accepted"] for one in told] == [2, 2]
    assert Check.objects.count() == 2
