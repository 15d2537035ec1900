"""What the records of a job leave to be planned."""

from uuid import uuid4

import pytest

from scheduling.actions.planning_facts import problem_of
from scheduling.models import Decision, Energizing
from tests.factories import NOW, CheckFactory, LayerFactory, MaterialFactory, RoomFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def room(alder):
    return RoomFactory(contractor=alder)


@pytest.fixture
def steps(room):
    def left():
        problem = problem_of(room.contractor_id, start=NOW.date())
        return [task.id.split()[1] for task in problem.tasks]

    return left


def check(room, outcome, sequence):
    CheckFactory(
        contractor=room.contractor, room=room, stage="laid", outcome=outcome, sequence=sequence
    )


def placed(room, finn, kind, position, *, embeds=False):
    LayerFactory(
        contractor=room.contractor,
        room=room,
        material=MaterialFactory(contractor=room.contractor, kind=kind),
        position=position,
        embeds=embeds,
        placed_at=NOW,
        placed_by=finn,
    )


def test_a_laid_cable_that_passed_is_not_laid_again(room, steps):
    check(room, "fail", 1)
    assert steps()[0] == "survey"
    check(room, "pass", 2)
    assert steps()[0] == "embed"


def test_a_leveller_below_the_cable_covers_nothing(room, finn, steps):
    placed(room, finn, "leveller", 1)
    assert "embed" in steps()
    placed(room, finn, "mortar", 2, embeds=True)
    assert steps() == ["tile", "grout", "connect", "energize"]


def test_heat_for_good_leaves_nothing_to_plan(room, finn, steps):
    decision = Decision.objects.create(
        contractor=room.contractor,
        room=room,
        decided_at=NOW,
        may_energize=True,
        facts={},
        result={},
    )
    heat = {
        "contractor": room.contractor,
        "room": room,
        "at": NOW,
        "decision": decision,
        "recorded_by": finn,
    }
    Energizing.objects.create(client_id=uuid4(), test_minutes=10, **heat)
    assert "energize" in steps()
    Energizing.objects.create(client_id=uuid4(), **heat)
    assert steps() == []
