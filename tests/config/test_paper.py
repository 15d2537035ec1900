"""Papers are archival PDFs with their data inside, and fetch nothing."""

import io
import json
from datetime import UTC, datetime

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
