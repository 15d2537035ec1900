"""Whatever the schema allows (and some that it does not) gets an answer that the schema names.

Requests are made up by schemathesis from our own OpenAPI document; none may end in a 500.
"""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase, settings
from schemathesis import GenerationMode

from config.models import DeviceToken
from config.secrets import digest_of_secret
from tests.factories import (
    NOW,
    BookingFactory,
    CrewFactory,
    CustomerFactory,
    ElementFactory,
    JobFactory,
    MaterialFactory,
    MemberFactory,
    RoomFactory,
)

SECRET = "a-secret-of-these-tests-only"

schema = schemathesis.openapi.from_wsgi("/api/v1/schema/?format=json", get_wsgi_application())
schema.config.generation.update(modes=[GenerationMode.POSITIVE, GenerationMode.NEGATIVE])


@pytest.fixture
def _one_connection() -> Iterator[None]:
    """Requests end without closing the connection that the test's transaction lives on."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def ids(_one_connection: None, db: None) -> dict[str, str]:
    """Ids of Olive's rows by the name that addresses give them."""
    olive = MemberFactory()
    DeviceToken.objects.create(
        contractor=olive.contractor,
        member=olive,
        name="fuzz",
        digest=digest_of_secret(SECRET),
        issued_at=NOW,
        last_used_at=NOW + timedelta(days=365_000),  # no write on each request
    )
    alder = olive.contractor
    job = JobFactory(contractor=alder)
    room = RoomFactory(contractor=alder, job=job)
    crew = CrewFactory(contractor=alder)
    return {
        "customer_id": str(CustomerFactory(contractor=alder).pk),
        "job_id": str(job.pk),
        "room_id": str(room.pk),
        "material_id": str(MaterialFactory(contractor=alder).pk),
        "row_id": str(ElementFactory(contractor=alder, room=room).pk),
        "crew_id": str(crew.pk),
        "booking_id": str(BookingFactory(contractor=alder, crew=crew, job=job, booked_by=olive).pk),
    }


@schema.parametrize()
@settings(
    max_examples=5,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_no_made_up_request_ends_in_a_500(case: Any, ids: dict[str, str]) -> None:
    case.path_parameters = {
        name: ids.get(name, value) for name, value in (case.path_parameters or {}).items()
    }
    case.headers["Authorization"] = f"Bearer {SECRET}"
    if case.method in ("PATCH", "DELETE", "PUT"):
        case.headers["If-Match"] = '"1"'
    response = case.call()
    assert response.status_code < 500, response.text
    case.validate_response(
        response,
        checks=[
            schemathesis.checks.not_a_server_error,
            schemathesis.specs.openapi.checks.content_type_conformance,
            schemathesis.specs.openapi.checks.response_schema_conformance,
            schemathesis.specs.openapi.checks.status_code_conformance,
        ],
    )
