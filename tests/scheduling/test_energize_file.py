"""The energize decision as a file: read, refused, printed, and derived again."""

import json
import os
import subprocess
import sys
from copy import deepcopy
from pathlib import Path
from random import Random

import pytest

from config.errors import DomainError
from scheduling.energize import decide
from scheduling.facts import (
    decision_to_json,
    decision_to_tree,
    derive,
    digest_of,
    facts_from_json,
    facts_from_tree,
    facts_to_tree,
)

ROOT = Path(__file__).parents[2]
FACTS = {
    "now": "2027-03-10T07:00:00Z",
    "zone": "Europe/Oslo",
    "assume_c": 8,
    "max_gap_hours": 6,
    "layers": [
        {
            "id": "bed",
            "placed_at": "2027-03-01T14:30:00Z",
            "material": {
                "name": "polymer-modified dry-set mortar",
                "law": {"kind": "arrhenius", "activation_k": 5000, "reference_c": 20},
                "lowest_c": 5,
                "heat_after_hours": 168,
                "walk_after_hours": 24,
                "frost_watch_hours": 24,
                "moisture": None,
            },
        }
    ],
    "temperatures": [
        {"at": "2027-03-01T15:00:00Z", "celsius": 17.5, "source": "logger"},
        {"at": "2027-03-01T20:00:00+01:00", "celsius": 16.0, "source": "logger"},
    ],
    "promises": [{"from": "2027-03-10T07:00:00Z", "to": "2027-03-20T07:00:00Z", "celsius": 18}],
    "evidence": [
        {"kind": "check", "stage": "covered", "outcome": "pass", "at": "2027-03-05T09:00:00Z"},
        {"kind": "open-fault", "at": "2027-03-05T09:00:00Z", "subject": "element A"},
        {"kind": "moisture", "layer": "bed", "value": 2.0, "at": "2027-03-06T09:00:00Z"},
    ],
    "required": ["check:arrival", "check:covered", "sensor"],
}
BED = ["layers", 0, "material"]
WORTHLESS = {"method": "CM", "limit": 0, "unit": "CM-%"}


def changed(path, value):
    """The facts with one place set to something else, or taken away if `value` is ..."""
    tree = deepcopy(FACTS)
    *way, last = path
    node = tree
    for step in way:
        node = node[step]
    if value is ...:
        del node[last]
    else:
        node[last] = value
    return tree


def test_the_decision_has_the_documented_names_in_their_order():
    made = derive(FACTS)
    assert list(made)[:8] == [
        "may_energize", "earliest", "likely", "latest", "governed_by", "layers", "holds", "because",
    ]  # fmt: skip
    assert list(made["layers"][0]) == [
        "id", "equivalent_hours", "required_hours", "unknown_hours", "ready",
    ]  # fmt: skip
    assert [list(hold) for hold in made["holds"]] == [["code", "subject", "text", "cleared_by"]] * 3
    assert made["may_energize"] is False
    assert made["governed_by"] == "bed"
    assert made["earliest"].endswith("Z")
    assert made["layers"][0]["ready"] is None
    assert "licensed electrician" in made["caution"]


def test_facts_written_out_are_the_same_facts():
    facts = facts_from_tree(FACTS)
    again = facts_to_tree(facts)
    assert facts_to_tree(facts_from_tree(again)) == again
    assert derive(again) == derive(FACTS)
    assert digest_of(again) == digest_of(dict(reversed(again.items())))


@pytest.mark.parametrize(
    "law",
    [
        {"kind": "ec2"},
        {"kind": "nurse-saul", "datum_c": -10, "reference_c": 20},
        {"kind": "arrhenius", "activation_k": 4000, "reference_c": 23},
    ],
    ids=lambda law: law["kind"],
)
def test_every_law_is_read_and_written(law):
    tree = changed([*BED, "law"], law)
    assert facts_to_tree(facts_from_tree(tree))["layers"][0]["material"]["law"] == law


def test_moisture_is_read_and_written():
    limit = {"method": "CM", "limit": 1.8, "unit": "CM-%"}
    tree = changed([*BED, "moisture"], limit)
    assert facts_to_tree(facts_from_tree(tree))["layers"][0]["material"]["moisture"] == limit
    assert "moisture-high" in [hold["code"] for hold in derive(tree)["holds"]]


def test_an_uncertain_thermometer_counts_as_the_coldest_it_allows():
    exact = changed(["temperatures", 0, "celsius"], 15.5)
    vague = deepcopy(FACTS)
    vague["temperatures"][0] |= {"celsius": 16.5, "uncertainty_k": 1.0}
    assert derive(vague) == derive(exact)


def test_hours_are_shown_rounded_down():
    tree = changed([*BED, "heat_after_hours"], 200)
    made = decide(facts_from_tree(tree))
    shown = decision_to_tree(made)["layers"][0]["equivalent_hours"]
    assert 0 <= made.layers[0].equivalent_hours - shown < 0.001


def test_the_order_of_readings_changes_no_byte():
    shuffled = deepcopy(FACTS)
    shuffled["temperatures"] = shuffled["temperatures"][::-1] * 3
    shuffled["evidence"] = Random(7).sample(shuffled["evidence"], 3)
    assert decision_to_json(decide(facts_from_tree(shuffled))) == decision_to_json(
        decide(facts_from_tree(FACTS))
    )


@pytest.mark.parametrize(
    ("pointer", "path", "value"),
    [
        ("#/now", ["now"], "2027-03-10T07:00:00"),
        ("#/now", ["now"], "2027-03-10"),
        ("#/now", ["now"], "soon"),
        ("#/now", ["now"], 1804084200),
        ("#/now", ["now"], ...),
        ("#/zone", ["zone"], "Middle/Earth"),
        ("#/zone", ["zone"], "../../etc/passwd"),
        ("#/assume_c", ["assume_c"], 200),
        ("#/assume_c", ["assume_c"], "8"),
        ("#/assume_c", ["assume_c"], True),
        ("#/assume_c", ["assume_c"], ...),
        ("#/max_gap_hours", ["max_gap_hours"], -6),
        ("#/layers", ["layers"], {}),
        ("#/layers", ["layers"], ...),
        ("#/layers/0", ["layers", 0], "bed"),
        ("#/layers/0/id", ["layers", 0, "id"], ""),
        ("#/layers/0/placed_at", ["layers", 0, "placed_at"], "2027-03-10T07:00:01Z"),
        ("#/layers/0/placed_at", ["layers", 0, "placed_at"], "2027-03-01T14:30:00"),
        ("#/layers/0/material/heat_after_hours", [*BED, "heat_after_hours"], -168),
        ("#/layers/0/material/heat_after_hours", [*BED, "heat_after_hours"], 10**400),
        ("#/layers/0/material/frost_watch_hours", [*BED, "frost_watch_hours"], ...),
        ("#/layers/0/material/lowest_c", [*BED, "lowest_c"], None),
        ("#/layers/0/material/law/kind", [*BED, "law", "kind"], "magic"),
        ("#/layers/0/material/law/activation_k", [*BED, "law", "activation_k"], 0),
        ("#/layers/0/material/law/reference_c", [*BED, "law", "reference_c"], 293),
        ("#/layers/0/material/moisture/limit", [*BED, "moisture"], WORTHLESS),
        ("#/temperatures/0/celsius", ["temperatures", 0, "celsius"], 200),
        ("#/temperatures/1/celsius", ["temperatures", 1, "celsius"], -40.5),
        ("#/temperatures/1/at", ["temperatures", 1, "at"], "2027-03-01T15:00:00"),
        ("#/temperatures/1/at", ["temperatures", 1, "at"], "2027-03-11T07:00:00Z"),
        ("#/temperatures/0/uncertainty_k", ["temperatures", 0, "uncertainty_k"], -1),
        ("#/temperatures", ["temperatures"], None),
        ("#/promises/0/celsius", ["promises", 0, "celsius"], 80),
        ("#/promises/0/to", ["promises", 0, "to"], "2027-03-09T07:00:00Z"),
        ("#/evidence/0/kind", ["evidence", 0, "kind"], "open_fault"),
        ("#/evidence/0/stage", ["evidence", 0, "stage"], "lunch"),
        ("#/evidence/0/outcome", ["evidence", 0, "outcome"], ...),
        ("#/evidence/2/layer", ["evidence", 2, "layer"], "grout"),
        ("#/evidence/2/value", ["evidence", 2, "value"], ...),
        ("#/required", ["required"], ...),
        ("#/required/1", ["required", 1], 7),
    ],
)
def test_nonsense_is_refused_with_its_field(pointer, path, value):
    tree = changed(path, value)
    with pytest.raises(DomainError) as refused:
        derive(tree)
    assert refused.value.pointer == pointer
    assert refused.value.detail


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"now": NaN}', "[" * 100_000, '{"now": 1, "now": 2}', b"\xff"],
    ids=["empty", "cut", "list", "null", "nan", "deep", "twice", "bytes"],
)
def test_what_is_no_facts_file_is_refused(text):
    with pytest.raises(DomainError):
        decide(facts_from_json(text))


def test_a_name_written_twice_is_refused_not_dropped():
    text = json.dumps(FACTS).replace('"assume_c": 8', '"assume_c": 8, "assume_c": 25')
    with pytest.raises(DomainError, match="assume_c"):
        facts_from_json(text)


def run(path):
    nowhere = {"DATABASE_URL": "postgres://nobody@127.0.0.1:1/none"}
    return subprocess.run(
        [sys.executable, "manage.py", "energize", str(path)],
        cwd=ROOT,
        env={**os.environ, **nowhere},
        capture_output=True,
        check=False,
    )


def test_the_command_prints_the_same_bytes_each_time_and_needs_no_database(tmp_path):
    path = tmp_path / "facts.json"
    path.write_text(json.dumps(FACTS))
    first, second = run(path), run(path)
    assert first.returncode == 0, first.stderr
    assert first.stdout == second.stdout
    assert json.loads(first.stdout) == derive(FACTS)


def test_the_command_refuses_nonsense_with_field_and_reason(tmp_path):
    path = tmp_path / "facts.json"
    path.write_text(json.dumps(changed(["assume_c"], 200)))
    refused = run(path)
    assert refused.returncode != 0
    assert refused.stdout == b""
    assert "#/assume_c: 200 °C is outside" in refused.stderr.decode()
    assert run(tmp_path / "missing.json").returncode != 0
