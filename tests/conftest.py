"""The cast: Olive office, Finn field, Vera viewer of Alder Floors; Bo is of Birch Tile."""

import os
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from hypothesis import settings as hypothesis_settings
from rest_framework.test import APIClient

from config import services
from jobs.models import Contractor, Member
from tests.factories import ZONE, ContractorFactory, MemberFactory

# The same examples every time: a red run can be looked at again.
hypothesis_settings.register_profile("repeatable", derandomize=True, deadline=None)
hypothesis_settings.load_profile("repeatable")


@pytest.fixture(scope="session", autouse=True)
def _services() -> Iterator[None]:
    """PostgreSQL and Redis, stopped by the last of those who use them."""
    with services.held():
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings() -> None:
    """A test database of this process alone: runs side by side don't meet."""
    connection.settings_dict["TEST"]["NAME"] = f"test_{os.getpid()}"


@pytest.fixture
def alder(db: None) -> Contractor:
    return ContractorFactory(name="Alder Floors")


@pytest.fixture
def olive(alder: Contractor) -> Member:
    return MemberFactory(contractor=alder, name="Olive", email="olive@alder.example", role="office")


@pytest.fixture
def finn(alder: Contractor) -> Member:
    return MemberFactory(contractor=alder, name="Finn", email="finn@alder.example", role="field")


@pytest.fixture
def vera(alder: Contractor) -> Member:
    return MemberFactory(contractor=alder, name="Vera", email="vera@alder.example", role="viewer")


@pytest.fixture
def bo(db: None) -> Member:
    birch = ContractorFactory(name="Birch Tile")
    return MemberFactory(contractor=birch, name="Bo", email="bo@birch.example", role="office")


@pytest.fixture
def api() -> Callable[[Member | None], APIClient]:
    """`api(olive)` is a client that asks as Olive; `api(None)` asks as nobody."""

    def client_of(member: Member | None) -> APIClient:
        client = APIClient(raise_request_exception=True)
        client.default_format = "json"
        if member is not None:
            client.force_authenticate(member)
            client.force_login(member, "config.authentication.MemberBackend")  # for pages
        return client

    return client_of


@pytest.fixture
def now() -> datetime:
    return datetime(2027, 3, 10, 7, 0, tzinfo=UTC)


@pytest.fixture
def real_now() -> datetime:
    """For tests of edges, which read the clock themselves."""
    return datetime.fromtimestamp(time.time(), UTC)


@pytest.fixture
def real_today(real_now: datetime) -> date:
    """The day it is where the factories' contractors are: late at night not that of UTC."""
    return real_now.astimezone(ZoneInfo(ZONE)).date()


@pytest.fixture
def problem() -> Callable[[Any], dict[str, Any]]:
    """The problem document of a response, seen to be one."""

    def of(response: Any) -> dict[str, Any]:
        assert response["Content-Type"] == "application/problem+json", response.content
        body = response.json()
        assert body["status"] == response.status_code
        assert body["type"].startswith("/problems/")
        return dict(body)

    return of
