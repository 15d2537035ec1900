"""Stored decisions derived again by command: the same, or told apart."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection

from scheduling.actions.decisions import refresh
from scheduling.models import Decision
from tests.factories import NOW, LayerFactory, RoomFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept(finn):
    room = RoomFactory(contractor=finn.contractor, required=[])
    LayerFactory(
        contractor=finn.contractor, room=room, position=1,
        placed_at=NOW - timedelta(days=3), placed_by=finn,
    )  # fmt: skip
    (decision,) = refresh([room], at=NOW)
    return decision


def rederive(*args, **options):
    said = StringIO()
    call_command("rederive", *map(str, args), stdout=said, **options)
    return said.getvalue()


def test_what_was_decided_is_decided_again(kept):
    assert rederive() == "1 derived again, 0 different.\n"
    assert rederive(kept.pk) == "1 derived again, 0 different.\n"
    assert rederive(room=str(kept.room_id)) == "1 derived again, 0 different.\n"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("facts = jsonb_set(facts, '{assume_c}', '20')", "do not match their digest"),
        ("facts = jsonb_set(facts, '{assume_c}', '200')", "refused now: #/assume_c"),
        ("result = jsonb_set(result, '{may_energize}', 'true')", "different in may_energize"),
    ],
)
def test_a_changed_row_is_told(kept, change, said):
    with connection.cursor() as cursor:  # past the trigger that forbids it
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE scheduling_decision DISABLE TRIGGER USER")
        cursor.execute(f"UPDATE scheduling_decision SET {change}")
        cursor.execute("ALTER TABLE scheduling_decision ENABLE TRIGGER USER")
    with pytest.raises(CommandError, match="1 of 1"):
        rederive()
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("rederive", stdout=out)
    assert said in out.getvalue()
    assert str(kept.pk) in out.getvalue()


def test_a_stored_decision_is_never_edited(kept):
    with pytest.raises(IntegrityError):
        Decision.objects.filter(pk=kept.pk).update(may_energize=True)
