"""Papers and codes against the published formats: rows DF-7 to DF-9.

DF-7: ISO 19005-3:2012 and ISO 14289-1:2014 (from memory). DF-8: ISO 19005-3, annex E, as two
libraries' references quote it. DF-9: ISO/IEC 18004, table of capacities.
"""

import io
import re

import pytest
import segno
from pypdf import PdfReader

from config import paper
from jobs.qr import qr_svg
from tests.scheduling.records import ISSUED_AT

HTML = """<html lang="en"><head><title>Paper</title></head><body><h1>Paper</h1>
<svg width="9" height="9" role="img"><title>A dot.</title><circle cx="4" cy="4" r="4"/></svg>
</body></html>"""


@pytest.fixture(scope="module")
def made():
    return paper.pdf(
        HTML,
        identifier=b"0123456789abcdef",
        record=b'{"number": "2027-0001"}',
        says="sha256:" + "0" * 64,
        made_at=ISSUED_AT,
    )


@pytest.fixture(scope="module")
def root(made):
    return PdfReader(io.BytesIO(made)).trailer["/Root"]


@pytest.mark.parametrize(
    "said",
    [
        pytest.param('pdfaid:part="3"', id="DF-7-part"),
        pytest.param('pdfaid:conformance="A"', id="DF-7-conformance"),
        pytest.param("<pdfuaid:part>1</pdfuaid:part>", id="DF-7-accessible"),
    ],
)
def test_metadata_tell_both_conformances_as_plain_text(made, root, said):
    assert said in root["/Metadata"].get_data().decode()
    assert said.encode() in made  # ISO 19005-3, 6.6.2.1: not compressed


@pytest.mark.parametrize("entry", [pytest.param(None, id="DF-8")])
def test_the_data_file_is_associated_with_its_kind(root, entry):
    (file,) = root["/AF"]
    assert file.get_object()["/AFRelationship"] == "/Data"
    embedded = file.get_object()["/EF"]["/F"].get_object()
    assert embedded["/Subtype"] == "/application/json"
    assert embedded.get_data() == b'{"number": "2027-0001"}'
    assert root["/Names"]["/EmbeddedFiles"]["/Names"][0] == paper.RECORD_NAME


def test_what_a_reader_aloud_needs_is_there(root):
    """ISO 14289-1: 7.1 (title shown, tagged), 7.2 (language), 7.3 (alternative of a figure)."""
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert "A dot." in {each.get("/Alt") for each in _elements(root["/StructTreeRoot"])}


def _elements(node):
    for kid in node.get("/K", []) if isinstance(node.get("/K"), list) else []:
        each = kid.get_object()
        if isinstance(each, dict):
            yield each
            yield from _elements(each)


def test_colours_mean_what_they_should(root):
    """ISO 19005-3, 6.2.3: an output intent with a profile of its own."""
    (intent,) = root["/OutputIntents"]
    assert intent["/S"] == "/GTS_PDFA1"
    assert intent["/DestOutputProfile"].get_object()["/N"] == 3


@pytest.mark.parametrize(
    ("version", "most"),
    [pytest.param(*row, id=f"DF-9-{row[0]}") for row in ((2, 26), (3, 42), (4, 62), (5, 84))],
)
def test_a_code_of_level_m_holds_so_many_bytes(version, most):
    def across(length):
        return int(re.search(r'viewBox="0 0 (\d+) ', qr_svg("é" * length, size_mm=22, said=""))[1])

    modules, quiet = 17 + 4 * version, 4
    # One octet a letter in ISO 8859-1, which byte mode means by default.
    assert across(most) == modules + 2 * quiet
    assert across(most + 1) > modules + 2 * quiet
    assert segno.make("é" * most, error="m", boost_error=False).error == "M"
