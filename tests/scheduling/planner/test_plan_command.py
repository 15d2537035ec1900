"""`manage.py plan`: files in and out, sentences for what is wrong with them."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from scheduling.planner.check import violations
from scheduling.planner.format import plan_from, plan_to, problem_from
from scheduling.planner.solve import load

DAYS = [[1, 1]] * 5 + [[0, 0]] * 2
ROOT = Path(__file__).resolve().parents[3]


def small():
    """A job of two tasks for a crew, as it stands in a file; the start is a leap day's eve."""
    return {
        "start": "2028-02-28",
        "half_days": 28,
        "crews": [{"id": "a", "skills": ["lay", "tile"], "works": DAYS, "away": []}],
        "pools": [{"id": "heater", "capacity": 1}],
        "tasks": [
            {"id": "lay", "job": "j", "skill": "lay", "half_days": 2, "uses": {"heater": 1},
             "not_before": ["2028-02-29", "pm"], "fixed": None},
            {"id": "tile", "job": "j", "skill": "tile", "half_days": 1, "uses": {},
             "not_before": None, "fixed": None},
        ],
        "links": [{"before": "lay", "after": "tile", "lag_hours": 25}],
        "jobs": [{"id": "j", "due": "2028-03-01", "weight": 2}],
        "previous": None,
    }  # fmt: skip


def run(tmp_path, data, **options):
    (tmp_path / "problem.json").write_text(json.dumps(data))
    said = StringIO()
    call_command(
        "plan",
        str(tmp_path / "problem.json"),
        str(tmp_path / "plan.json"),
        stdout=said,
        **{"steps": 300, **options},
    )
    return json.loads((tmp_path / "plan.json").read_text()), said.getvalue()


@pytest.fixture(autouse=True)
def interrupt_as_before():
    before = signal.getsignal(signal.SIGINT)
    yield
    signal.signal(signal.SIGINT, before)


def test_a_plan_over_a_leap_day_is_written_in_the_format(tmp_path):
    plan, said = run(tmp_path, small())
    assert plan == {
        "bookings": [
            {"task": "lay", "crew": "a", "start": ["2028-02-29", "pm"],
             "slots": [["2028-02-29", "pm"], ["2028-03-01", "am"]]},
            {"task": "tile", "crew": "a", "start": ["2028-03-03", "am"],
             "slots": [["2028-03-03", "am"]]},
        ],
        "unplanned": [],
    }  # fmt: skip
    assert "proven optimal" in said
    assert "j is late: " in said


def test_what_is_written_reads_back(tmp_path):
    plan, _ = run(tmp_path, small())
    problem = problem_from(small())
    again = plan_from(plan, start=problem.start)
    assert violations(problem, again) == []
    assert plan_to(again, start=problem.start) == plan


def test_moves_against_the_previous_plan_are_told(tmp_path):
    plan, _ = run(tmp_path, small())
    ill = small() | {"previous": plan}
    ill["crews"][0]["away"] = [["2028-03-03", "am"]]
    _, said = run(tmp_path, ill)
    assert "Moved: tile from a to a, +1 half-days: a does not work on Fri 2028-03-03 am." in said


def cyclic(data):
    data["links"].append({"before": "tile", "after": "lay", "lag_hours": 0})


def waits_for_itself(data):
    data["links"].append({"before": "tile", "after": "tile", "lag_hours": 0})


def many(data):
    data["tasks"] = data["tasks"][:1] * 100_000


def set_to(path, value):
    def change(data):
        *way, last = path
        for step in way:
            data = data[step]
        data[last] = value

    return change


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (cyclic, "in a circle: lay → tile → lay"),
        (waits_for_itself, "in a circle: tile → tile"),
        (many, "100,000 tasks are more than one plan can hold; the limit is 20,000"),
        (set_to(["half_days"], 0), "/half_days must be a whole number of 1 or more, not 0"),
        (set_to(["half_days"], 10**9), "1 to 7,320 half-days"),
        (set_to(["start"], "1 March"), "/start must be a day such as 2027-03-01"),
        (set_to(["tasks", 0, "job"], "k"), "There is no job “k”"),
        (set_to(["tasks", 0, "uses"], {"saw": 1}), "There is no pool “saw”"),
        (set_to(["tasks", 0, "half_days"], -1), "/tasks/0/half_days must be a whole number"),
        (set_to(["tasks", 0, "half_days"], True), "/tasks/0/half_days must be a whole number"),
        (set_to(["tasks", 1, "id"], "lay"), "Two tasks have the id “lay”"),
        (set_to(["tasks", 0, "not_before"], ["2028-02-30", "am"]), "must be a day"),
        (set_to(["tasks", 0, "not_before"], ["2028-02-29", "noon"]), "must be a half-day"),
        (set_to(["links", 0, "after"], "sand"), "There is no task “sand”"),
        (set_to(["links", 0, "lag_hours"], -1), "must be hours, 0 or more"),
        (set_to(["crews", 0, "works"], DAYS[:6]), "seven pairs [am, pm] from Monday"),
        (set_to(["jobs"], {}), "/jobs must be a list"),
        (lambda data: data.pop("crews"), "lacks “crews”"),
    ],
)
def test_a_wrong_problem_is_refused_in_a_sentence(tmp_path, change, sentence):
    data = small()
    change(data)
    with pytest.raises(CommandError) as refused:
        run(tmp_path, data)
    assert sentence in str(refused.value)
    assert not (tmp_path / "plan.json").exists()


@pytest.mark.parametrize(
    ("change", "because"),
    [
        (set_to(["tasks", 0, "skill"], "weld"), "no crew can weld"),
        (set_to(["crews"], []), "no crew can lay"),
        (
            set_to(["tasks", 0, "fixed"], {"crew": "a", "start": ["2028-03-04", "am"]}),
            "it is fixed on Sat 2028-03-04 am, and a does not work on Sat 2028-03-04 am",
        ),
        (set_to(["half_days"], 4), "nothing free is left within the 4 half-days"),
    ],
)
def test_what_has_no_place_is_unplanned_with_its_reason(tmp_path, change, because):
    data = small()
    change(data)
    plan, _ = run(tmp_path, data)
    assert because in plan["unplanned"][0]["because"][0]


def test_what_was_due_before_the_plan_begins_is_late_and_planned(tmp_path):
    past = small()
    past["jobs"][0]["due"] = "2028-02-20"
    plan, said = run(tmp_path, past)
    assert plan["unplanned"] == []
    # By hand: due slot -14, the last task ends at 9, weight 2.
    assert "46 weighted half-days late" in said


def test_a_previous_plan_for_other_tasks_moves_nothing(tmp_path):
    other = {"task": "paint", "crew": "b", "start": ["2028-02-29", "am"], "slots": []}
    _, said = run(tmp_path, small() | {"previous": {"bookings": [other], "unplanned": []}})
    assert "0 moved" in said
    assert "Moved:" not in said


def test_a_file_that_is_no_json_is_refused(tmp_path):
    (tmp_path / "problem.json").write_text("{")
    with pytest.raises(CommandError, match="cannot be read as JSON"):
        call_command("plan", str(tmp_path / "problem.json"), str(tmp_path / "plan.json"))


def test_an_interrupt_ends_it_with_the_best_plan_so_far(tmp_path):
    load()  # so that the process started below need not compile
    data = small() | {"half_days": 200}
    for number in range(30):
        for task in data["tasks"][:2]:
            name = f"{task['id']}{number}"
            data["tasks"].append(task | {"id": name, "job": f"j{number}"})
        data["jobs"].append({"id": f"j{number}", "due": "2028-02-28", "weight": 1})
    (tmp_path / "problem.json").write_text(json.dumps(data))
    process = subprocess.Popen(
        [
            sys.executable,
            str(ROOT / "manage.py"),
            "plan",
            str(tmp_path / "problem.json"),
            str(tmp_path / "plan.json"),
            "--seconds",
            "600",
        ],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )
    assert process.stdout is not None
    assert "first plan" in process.stdout.readline()
    time.sleep(0.5)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=60)
    assert process.returncode == 0
    problem = problem_from(data)
    plan = plan_from(json.loads((tmp_path / "plan.json").read_text()), start=problem.start)
    assert violations(problem, plan) == []


def test_an_interrupt_within_an_interrupt_does_no_harm(tmp_path):
    """Where people press Ctrl-C twice the handler breaks into itself, at any line of it."""
    run(tmp_path, small())
    handler = signal.getsignal(signal.SIGINT)

    def press(frame, event, arg):
        handler(signal.SIGINT, None)
        return press

    def twice():
        sys.settrace(press)
        handler(signal.SIGINT, None)

    pressed = threading.Thread(target=twice, daemon=True)
    pressed.start()
    pressed.join(timeout=5)
    assert not pressed.is_alive()
