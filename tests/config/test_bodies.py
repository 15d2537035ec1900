"""What a body may be: every refusal is a problem document, none a 500."""

import pytest
from django.test import override_settings

URL = "/api/v1/customers/"


def send(api, olive, raw, content_type="application/json"):
    return api(olive).generic("POST", URL, raw, content_type=content_type)


@pytest.mark.parametrize(
    "raw",
    [
        b"{",
        b"\xff\xfe",
        b'{"name": NaN}',
        b'{"name": Infinity}',
        b'{"name": 1e400}',
        b'{"name": 99999999999999999999}',
        b'{"name": "a\\u0000b"}',
        b'{"name": "\\ud800"}',
        b'{"\\ud800": 1}',
        b"[" * 100_000,
    ],
    ids=lambda raw: repr(raw[:24]),
)
def test_what_is_not_json_is_told(api, olive, problem, raw):
    refused = send(api, olive, raw)
    assert refused.status_code == 400, refused.content
    assert problem(refused)["detail"].startswith("The body is not JSON")


def test_an_empty_body_lacks_its_fields(api, olive, problem):
    assert problem(send(api, olive, b""))["errors"][0]["pointer"] == "#/name"


@pytest.mark.parametrize("raw", [b"null", b"[]", b'"text"', b"7", b"[1]"])
def test_json_that_is_no_object_is_told(api, olive, problem, raw):
    refused = send(api, olive, raw)
    assert refused.status_code == 422
    assert problem(refused)["errors"][0]["pointer"] == "#"


def test_a_backslash_and_digits_are_no_nul(api, olive):
    assert send(api, olive, rb'{"name": "C:\\u0000"}').status_code == 201


def test_another_content_type_is_refused(api, olive, problem):
    refused = send(api, olive, b"name=Ada", "application/x-www-form-urlencoded")
    assert refused.status_code == 415
    assert "application/json" in problem(refused)["detail"]


@override_settings(DATA_UPLOAD_MAX_MEMORY_SIZE=20)
def test_a_body_over_the_limit_is_refused_unread(api, olive, problem):
    refused = send(api, olive, b'{"name": "A long name of somebody"}')
    assert refused.status_code == 413
    assert "at most 20" in problem(refused)["detail"]


def test_an_unknown_address_of_the_api_is_a_problem_document(api, olive, problem):
    assert problem(api(olive).get("/api/v1/nothing/"))["type"] == "/problems/not-found/"


def test_a_method_that_is_not_taken(api, olive, problem):
    assert problem(api(olive).put(URL, {}))["status"] == 405
