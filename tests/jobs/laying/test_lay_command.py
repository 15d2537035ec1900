"""`manage.py lay`: a file in, a plan out, or one sentence and nothing written."""

import json

import pytest
from django.core.management import CommandError, call_command

from jobs.laying.check import violations
from jobs.laying.problem import parse_room
from tests.jobs.laying.test_problem import bare_room


def written(tmp_path, data):
    path = tmp_path / "room.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data))
    return path


def test_it_writes_a_plan_that_the_check_accepts(tmp_path):
    room, out = written(tmp_path, bare_room()), tmp_path / "plan.json"
    call_command("lay", room, out)
    assert violations(parse_room(bare_room()), json.loads(out.read_text())) == []


@pytest.mark.parametrize(
    "data",
    [
        bare_room(outline=[[0, 0], [700, 0], [700, 700], [0, 700]], control=[350, 0]),
        bare_room(outline=[[0, 0], [1, 1]]),
        "no json",
    ],
    ids=["too small", "no outline", "no json"],
)
def test_without_a_plan_it_says_one_sentence_and_writes_nothing(tmp_path, data):
    room, out = written(tmp_path, data), tmp_path / "plan.json"
    with pytest.raises(CommandError) as refused:
        call_command("lay", room, out)
    assert str(refused.value).count("\n") == 0
    assert str(refused.value).endswith(".")
    assert not out.exists()
