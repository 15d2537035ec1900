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
        bare_room(elements=[]),
        bare_room(margins_mm={"wall": -5}),
        "no json",
    ],
    ids=["too small", "no outline", "no elements", "negative margin", "no json"],
)
def test_without_a_plan_it_says_one_sentence_and_writes_nothing(tmp_path, data):
    room, out = written(tmp_path, data), tmp_path / "plan.json"
    with pytest.raises(CommandError) as refused:
        call_command("lay", room, out)
    assert str(refused.value).count("\n") == 0
    assert str(refused.value).endswith(".")
    assert not out.exists()


def test_what_cannot_be_used_is_named_by_its_place(tmp_path):
    room = written(tmp_path, bare_room(cold_lead_mm="3000"))
    with pytest.raises(CommandError, match=r"^#/cold_lead_mm: A finite number is needed\.$"):
        call_command("lay", room, tmp_path / "plan.json")


def test_a_room_that_is_not_text_and_a_plan_without_a_folder_are_refused(tmp_path):
    room = tmp_path / "room.json"
    room.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CommandError, match="is not JSON"):
        call_command("lay", room, tmp_path / "plan.json")
    with pytest.raises(CommandError, match="There is no folder"):
        call_command("lay", written(tmp_path, bare_room()), tmp_path / "nowhere" / "plan.json")


def test_a_room_in_inches_is_refused_with_the_question_that_helps(tmp_path):
    inches = bare_room(outline=[[0, 0], [95, 0], [95, 118], [0, 118]], control=[47, 0])
    with pytest.raises(CommandError, match=r"Were inches meant\? Then it is 2\.41 m by 3\.00 m\."):
        call_command("lay", written(tmp_path, inches), tmp_path / "plan.json")


@pytest.mark.parametrize(
    ("control", "says"),
    [
        ((1000, 1400), "1000 mm to the right, 1400 mm up it is 1000 mm inside the room. "
         "Put it on a wall; the nearest place is 0 mm to the right, 1400 mm up."),
        ((1200, -40), "1200 mm to the right, \N{MINUS SIGN}40 mm up it is 40 mm outside the room. "
         "Put it on a wall; the nearest place is 1200 mm to the right, 0 mm up."),
    ],
    ids=["in mid-floor", "behind the wall"],
)  # fmt: skip
def test_a_control_that_is_not_on_a_wall_is_said_to_be_in_the_way(tmp_path, control, says):
    room = written(tmp_path, bare_room(control=control))
    with pytest.raises(CommandError) as refused:
        call_command("lay", room, tmp_path / "plan.json")
    assert str(refused.value) == f"The control is not on a wall: at {says}"
    assert not (tmp_path / "plan.json").exists()


def test_a_room_of_an_odd_size_is_laid_and_asked_about(tmp_path, capsys):
    hall = bare_room(outline=[[0, 0], [16000, 0], [16000, 1000], [0, 1000]], control=[1000, 0])
    call_command("lay", written(tmp_path, hall), tmp_path / "plan.json")
    assert "16.00 m. Is that right?" in capsys.readouterr().err
    assert (tmp_path / "plan.json").exists()
