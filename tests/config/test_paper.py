"""Papers are archival PDFs with their data inside, and fetch nothing."""

import io
import json
import zlib
from datetime import UTC, datetime

import page
import pytest
from pypdf import PdfReader

from config import paper
from config.problems import PROBLEMS

AT = datetime(2027, 3, 10, 7, 0, tzinfo=UTC)
DATA = {"number": "2027-0001", "ohms": 104.6}
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">{}</svg>'
REACHING_OUT = [
    '<img src="http://127.0.0.1:9/x.png">',
    '<img src="file:///etc/hostname">',
    '<img src="data:image/png;base64,AAAA">',
    '<link rel="stylesheet" href="file:///etc/hostname">',
    '<link rel="attachment" href="file:///etc/hostname">',
    "<style>@import url(http://127.0.0.1:9/a.css)</style>",
    "<style>@font-face{font-family:x;src:url(http://127.0.0.1:9/a.woff)}p{font-family:x}</style>",
    '<p style="background:url(http://127.0.0.1:9/a.png)">a</p>',
    '<object data="http://127.0.0.1:9/a.svg"></object>',
    SVG.format('<image width="5" height="5" href="http://127.0.0.1:9/x.png"/>'),
    SVG.format('<image width="5" height="5" href="file:///etc/hostname"/>'),
]


def made(body: str) -> bytes:
    html = f'<html lang="en"><head><title>Paper</title></head><body><p>Text</p>{body}</body></html>'
    return paper.pdf(
        html, identifier=b"0123456789abcdef", record=json.dumps(DATA).encode(), made_at=AT
    )


def test_a_paper_is_archival_tagged_and_carries_its_data():
    reader = PdfReader(io.BytesIO(made("")))
    assert reader.xmp_metadata.rdf_root is not None
    xmp = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert 'part="3"' in xmp
    assert 'conformance="A"' in xmp
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    (attached,) = reader.attachments["record.json"]
    assert json.loads(attached) == DATA
    assert "Text" in reader.pages[0].extract_text()


@pytest.mark.parametrize("body", REACHING_OUT)
def test_a_paper_that_reaches_out_is_not_made(body):
    with pytest.raises(paper.OutsideResource, match="would fetch"):
        made(body)


def test_its_refusal_has_words():
    assert paper.OutsideResource.slug in PROBLEMS


def test_no_stream_ends_in_a_carriage_return():
    """With the line feed behind it a validator would take it for the end of a line, and the
    stream for one byte shorter than it says (ISO 19005-3, 6.1.7.1)."""
    unlucky = next(
        data
        for data in (json.dumps({"n": "a" * n}).encode() for n in range(2_000))
        if zlib.compress(data, 9).endswith(b"\r")
    )
    html = '<html lang="en"><head><title>Paper</title></head><body><h1>Paper</h1></body></html>'
    pdf = paper.pdf(html, identifier=b"0123456789abcdef", record=unlucky, made_at=AT)
    assert b"\r\nendstream" not in pdf
    assert PdfReader(io.BytesIO(pdf)).attachments["record.json"] == [unlucky]


def test_equal_drawings_are_one_image_each_with_its_words():
    mark = SVG.format("<title>A dot &amp; a line.</title><circle r='4' cx='4' cy='4'/>")
    found = page.validate_pdf_bytes(made(f"<p>{mark} {mark}</p>"), profile="ua1")
    assert found.is_compliant
    nameless = page.validate_pdf_bytes(made(SVG.format("<circle r='4'/>")), profile="ua1")
    assert "FIGURE" in nameless.failures[0].rule_id
