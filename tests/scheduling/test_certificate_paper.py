"""The certificate as a paper: two pages to read, then annexes; archival, accessible, to scale."""

import io
import json
import re
from copy import deepcopy
from datetime import UTC, datetime

import page
import pytest
from django.template.loader import render_to_string
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from config import paper
from jobs.certificate import CAUTION_HEAD
from scheduling.actions.record import SCHEMA
from scheduling.certificate import Voided, printed
from scheduling.facts import digest_of
from tests.scheduling.records import ISSUED_AT, record

VERIFY = "https://floors.alder.example/verify/" + "a" * 43 + "/"


def pdf_of(said, *, signed=True):
    data = json.dumps(said).encode()
    certificate = printed(said, digest=digest_of(said), verify_url=VERIFY)
    return paper.pdf(
        render_to_string("scheduling/certificate.html", {"certificate": certificate}),
        identifier=b"0123456789abcdef",
        record=data,
        says=f"sha256:{digest_of(said)}",
        made_at=ISSUED_AT,
        signed=signed,
    )


def pages_of(said):
    reader = PdfReader(io.BytesIO(pdf_of(said)))
    return [" ".join(each.extract_text().split()) for each in reader.pages]


SIZES = [
    {"rooms": 1},
    {"rooms": 1, "elements": 3},
    {"rooms": 3},
    {"rooms": 10, "elements": 2},
    {"rooms": 1, "wide_mm": 9000, "deep_mm": 6500},
    {"rooms": 2, "wide_mm": 1600, "deep_mm": 1200, "keep_outs": 3},
]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_two_pages_to_read_and_then_the_annexes(size):
    first, second, third, *_rest = pages_of(record(**size))
    assert CAUTION_HEAD in first
    assert "What lies in the floor" in first
    assert "How it was proved" in second
    for heading in ("Why this date", "Warm-up", "Not checked", "Signed off", "Call Alder Floors"):
        assert heading in second, heading
    assert "Annex 1." in third
    assert "Signed off" not in third


def scale(said):
    drawing = printed(said, digest="0" * 64).drawing
    return drawing and int(re.search(r"1:(\d+)", drawing.caption)[1])


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        ({"wide_mm": 2200, "deep_mm": 1800}, 20),
        ({}, 25),  # 3.0 × 2.4 m
        ({"wide_mm": 5500, "deep_mm": 4000}, 50),
        ({"wide_mm": 9000, "deep_mm": 6500}, None),  # none of them leaves the page whole
    ],
    ids=str,
)
def test_the_plan_is_at_the_largest_scale_that_leaves_the_first_page_whole(size, expected):
    assert scale(record(**size)) == expected


def test_the_larger_plan_has_a_sheet_of_its_own():
    said = printed(record(), digest="0" * 64)
    sheet = said.annexes[0]
    assert "1:20" in sheet.drawing.caption
    # A wall of 3.0 m is 150 mm long there.
    width_mm = float(re.search(r'width="([\d.]+)mm"', sheet.drawing.svg)[1])
    assert width_mm * 0.8 == pytest.approx(150)
    small = printed(record(wide_mm=2200, deep_mm=1800), digest="0" * 64)
    assert all(annex.drawing is None for annex in small.annexes)


def test_many_readings_are_summed_up_and_shown_whole_in_the_annexes():
    said = printed(record(rooms=10), digest="0" * 64)
    (table,) = said.proofs
    assert [name for name, _cells in table.rows][:2] == ["Bathroom", "Kitchen"]
    assert table.rows[0][1][0].text == "4 of 4"
    assert sum(annex.proof is not None for annex in said.annexes) == 10


def test_the_worst_reading_is_what_a_sum_says():
    job = record(rooms=10)
    job["rooms"][0]["checks"][1]["readings"][0]["outcome"] = "fail"
    cell = printed(job, digest="0" * 64).proofs[0].rows[0][1][1]
    assert (cell.outcome, cell.text) == ("fail", "3 of 4")


def test_a_check_that_was_replaced_keeps_its_readings():
    job = record()
    again = deepcopy(job["rooms"][0]["checks"][1]) | {"sequence": 5}
    job["rooms"][0]["checks"][1]["superseded"] = True
    job["rooms"][0]["checks"].append(again)
    checks = printed(job, digest="0" * 64).annexes[-1].checks
    assert [bool(check.readings) for check in checks] == [False, True, False, False, False]
    assert "replaced by a later one" in checks[1].head
    *_, shown = pages_of(job)
    assert shown.index(checks[1].digest) < shown.index("Core to core") < shown.index("3. Covered")


def test_the_record_of_each_room_is_one_page():
    pages = pages_of(record(rooms=10))
    records = [page for page in pages if "Every check, as it was accepted" in page]
    assert len(records) == 10
    assert all("1. Arrival" in page and "4. Handover" in page for page in records)


def test_what_is_left_out_of_a_page_is_named_and_in_an_annex():
    job = record(rooms=10)
    for room in job["rooms"]:
        room["plan"] = None
    said = printed(job, digest="0" * 64)
    assert said.not_checked[-1] == f"9 more: annex {len(said.annexes)}."
    ((_what, sentences), *_) = said.annexes[-1].lists[-1:]
    assert len(sentences) == 12
    assert said.elements_note == "2 more: annex 1."
    assert len(said.annexes[0].elements) == 10


def test_a_void_one_says_so_before_all_else():
    void = Voided(
        at=datetime(2026, 12, 3, 9, tzinfo=UTC), reason="Wrong serial.", replaced_by="2026-0118"
    )
    said = printed(record(), digest="0" * 64, void=void)
    assert said.void == "Void since 3\xa0December 2026, replaced by 2026-0118: Wrong serial."
    html = render_to_string("scheduling/certificate.html", {"certificate": said})
    assert html.index("Void since") < html.index("readings pass")


def test_one_that_replaces_another_says_which():
    before = {"number": "2026-0116", "voided_at": "2026-11-20T09:00:00Z", "reason": "Wrong."}
    intro = printed(record(replaces=before), digest="0" * 64).intro
    assert "Replaces 2026-0116, void since 20\xa0November 2026." in intro


@pytest.mark.parametrize("profile", ["3a", "ua1"])
@pytest.mark.parametrize("size", SIZES[:4], ids=str)
def test_a_validator_finds_it_archival_and_accessible(size, profile):
    found = page.validate_pdf_bytes(pdf_of(record(**size)), profile=profile)
    assert [(each.rule_id, each.message) for each in found.failures] == []
    assert found.rules.total > 100  # it did look


def test_the_record_of_any_size_follows_the_published_schema():
    schema = json.loads(SCHEMA.read_text())
    Draft202012Validator.check_schema(schema)
    for size in SIZES:
        Draft202012Validator(schema).validate(record(**size))
    wrong = record()
    wrong["rooms"][0]["checks"][0]["readings"][0]["outcome"] = "fine"
    assert list(Draft202012Validator(schema).iter_errors(wrong))


def test_drying_and_the_humidity_that_nobody_measured_are_told():
    job = record()
    (layer,) = job["rooms"][0]["decision"]["result"]["layers"]
    layer["drying"] = {"hours": 410.2, "required_hours": 400, "unknown_hours": 31.6, "ready": None}
    said = str(printed(job, digest="0" * 64))
    assert "410.2 of 400 h of drying, an estimate" in said
    assert "32 h without a known humidity counted as damp as was plausible." in said
    del layer["drying"]
    assert "drying" not in str(printed(job, digest="0" * 64))
