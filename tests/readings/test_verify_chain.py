"""The chain finds what a trigger should have prevented: here the trigger is put aside first."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.urls import reverse

from readings.models import Check
from tests.readings.conftest import Site


@pytest.fixture
def four(site, api, finn):
    stages = ("arrival", "laid", "covered", "service")
    batch = {"checks": [site.check(stage) for stage in stages]}
    assert api(finn).post("/api/v1/checks/batch/", batch).json()["accepted"] == 4
    return site


def tamper(sql, *arguments):
    with connection.cursor() as cursor:
        # As a database administrator could: triggers and foreign keys do not fire for a replica.
        cursor.execute("SET session_replication_role = replica")
        cursor.execute(sql, arguments)
        changed = cursor.rowcount
        cursor.execute("SET session_replication_role = origin")
    assert changed == 1


def chain(api, who, site):
    return api(who).get(reverse("api-chain", kwargs={"room_id": site.room.pk})).json()


def test_a_whole_chain_is_whole_and_names_its_head(four, api, vera):
    told = chain(api, vera, four)
    assert (told["checks"], told["whole"], told["broken"]) == (4, True, None)
    assert told["head"] == Check.objects.get(sequence=4).digest


def test_a_room_without_checks_is_whole(site, api, vera):
    assert chain(api, vera, site) == {"checks": 0, "whole": True, "broken": None, "head": ""}


CHANGES = {
    "content": "UPDATE readings_check SET content = replace(content, '71.0', '70.9') "
    "WHERE sequence = 2",
    "content that is no JSON any more": "UPDATE readings_check SET content = 'gone' "
    "WHERE sequence = 2",
    "digest": "UPDATE readings_check SET digest = repeat('0', 64) WHERE sequence = 2",
    "previous digest": "UPDATE readings_check SET previous_digest = repeat('0', 64) "
    "WHERE sequence = 2",
    "outcome": "UPDATE readings_check SET outcome = 'fail' WHERE sequence = 2",
    "stage": "UPDATE readings_check SET stage = 'service' WHERE sequence = 2",
    "note": "UPDATE readings_check SET note = 'x' WHERE sequence = 2",
    "flags": "UPDATE readings_check SET flags = '{x}' WHERE sequence = 2",
    "taken_at": "UPDATE readings_check SET taken_at = taken_at - interval '1 s' WHERE sequence = 2",
    "received_at": "UPDATE readings_check SET received_at = received_at - interval '1 s' "
    "WHERE sequence = 2",
    "client_id": "UPDATE readings_check SET client_id = gen_random_uuid() WHERE sequence = 2",
    "taken_by": "UPDATE readings_check SET taken_by_id = gen_random_uuid() WHERE sequence = 2",
    "supersedes": "UPDATE readings_check SET supersedes_id = (SELECT id FROM readings_check "
    "WHERE sequence = 1) WHERE sequence = 2",
    **{
        f"a reading's {column}": f"UPDATE readings_reading SET {column} = {value} "
        "WHERE position = 0 AND check_id = (SELECT id FROM readings_check WHERE sequence = 2)"
        for column, value in {
            "value": "71.05",
            "kind": "'sensor'",
            "element_id": "NULL",
            "outcome": "'fail'",
            "because": "'x'",
            "at_c": "19",
            "lead": "'A'",
            "position": "9",
            "figures": "figures || '{\"low\": 1}'",
        }.items()
    },
    "a reading gone": "DELETE FROM readings_reading WHERE position = 3 AND check_id = "
    "(SELECT id FROM readings_check WHERE sequence = 2)",
}


GONE = (
    "WITH readings AS (DELETE FROM readings_reading WHERE check_id = "
    "(SELECT id FROM readings_check WHERE sequence = %s)) "
    "DELETE FROM readings_check WHERE sequence = %s"
)


@pytest.mark.parametrize("change", CHANGES)
def test_any_single_change_is_found_at_its_check(four, api, vera, change):
    tamper(CHANGES[change])
    told = chain(api, vera, four)
    assert told["whole"] is False
    assert told["broken"]["sequence"] == 2
    assert told["checks"] == 4


def test_a_check_that_is_gone_is_found(four, api, vera):
    tamper(GONE, 2, 2)
    told = chain(api, vera, four)
    assert told["broken"]["sequence"] == 2
    assert told["broken"]["fault"] == "missing"


def test_the_last_check_gone_shows_only_in_the_head(four, api, vera):
    head = chain(api, vera, four)["head"]
    tamper(GONE, 4, 4)
    told = chain(api, vera, four)
    assert told["whole"] is True
    assert told["head"] != head


def test_the_command_names_the_room_and_the_check(four, api, finn, alder):
    other = Site(alder)
    api(finn).post("/api/v1/checks/", other.check())
    out = StringIO()
    call_command("verify_chain", stdout=out)
    assert out.getvalue() == "5 checks in 2 rooms, 0 chains broken.\n"
    tamper(CHANGES["a reading's value"])
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("verify_chain", stdout=out)
    assert f"Room {four.room.pk}: Check 2" in out.getvalue()
    call_command("verify_chain", str(other.room.pk), stdout=StringIO())
