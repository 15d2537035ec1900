"""Papers: HTML to PDF/A-3a that is PDF/UA-1 too, from what is at hand; nothing is fetched."""

import gc
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import datetime
from functools import cache
from pathlib import Path
from secrets import token_hex
from typing import Any
from xml.sax.saxutils import escape

import pydyf
from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from config.errors import DomainError

STYLES = Path(__file__).parent / "static"
VARIANT = "pdf/a-3a"
RECORD_NAME = "record.json"
SIGNATURE_FIELD = "Issuer"
# Print and Locked (ISO 32000-1, table 165); PDF/A wants the first.
FIELD_FLAGS = 4 + 128

# What WeasyPrint's PDF/A lacks to be PDF/UA-1 as well (ISO 14289-1, 5), with the description that
# PDF/A asks for of each schema that is not its own (ISO 19005-3, 6.6.2.3.3).
ALSO_UA = """
<rdf:Description xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" rdf:about="">
<pdfuaid:part>1</pdfuaid:part></rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>The part of ISO 14289 that the file conforms to</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
"""
IDENTIFIER = """
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">
<dc:identifier>{}</dc:identifier></rdf:Description>
"""


SVG = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
SVG_NAMESPACE = 'xmlns="http://www.w3.org/2000/svg"'
TITLE = re.compile(r"<title[^>]*>(.*?)</title>", re.DOTALL)
CLASS = re.compile(r'class="([^"]*)"')


class OutsideResource(DomainError):
    """A paper names something that would have to be fetched: nothing of ours does."""

    slug = "paper-refused"


class _Nothing(URLFetcher):  # type: ignore[misc]
    """Refuses every address, so that text which slipped in as markup cannot reach out.

    All but the drawings of the paper itself, by names that no other paper has.
    """

    def __init__(self, drawings: Mapping[str, str] | None = None) -> None:
        super().__init__()
        self.drawings = drawings or {}
        self.refused: list[str] = []

    def fetch(self, url: str, headers: object = None) -> Any:
        if url in self.drawings:
            return URLFetcherResponse(url, self.drawings[url], {"Content-Type": "image/svg+xml"})
        # Kept too: inside an SVG the exception is swallowed.
        self.refused.append(url[:200])
        raise FatalURLFetchingError(url[:200])


@cache
def _fonts() -> FontConfiguration:
    """One for the process: each one that is made keeps its memory for good."""
    return FontConfiguration()


@cache
def _style(name: str) -> CSS:
    """A stylesheet of ours, read once: it names no address, so that nothing is fetched for it."""
    return CSS(string=(STYLES / name).read_text(), url_fetcher=_Nothing(), font_config=_fonts())


def pdf(
    html: str,
    *,
    identifier: bytes,
    style: str = "print.css",
    record: bytes | None = None,
    says: str = "",
    made_at: datetime,
    signed: bool = False,
) -> bytes:
    """The paper as PDF, with `record` (JSON) embedded in it.

    `says` is put into its metadata as its identifier; `signed` leaves room for a signature.
    Raises OutsideResource if anything in it would be fetched, from the network or from disk.
    """
    html, drawings = _lifted(html)
    nothing = _Nothing(drawings)

    def finish(_document: object, made: pydyf.PDF) -> None:
        _compress(made)
        _associate_once(made)
        _describe(made, says)
        if signed:
            _add_signature_field(made)

    # What was swallowed inside is told below.
    with suppress(FatalURLFetchingError), _without_collector():
        made: bytes = HTML(string=html, url_fetcher=nothing).write_pdf(
            stylesheets=[_style(style)],
            attachments=[] if record is None else [_attachment(record, made_at)],
            finisher=finish,
            pdf_variant=VARIANT,
            pdf_identifier=identifier,
            pdf_tags=True,
            uncompressed_pdf=True,  # by ourselves, below
            font_config=_fonts(),
        )
    if nothing.refused:
        raise OutsideResource(f"The paper would fetch {nothing.refused[0]}; it was not made.")
    return made


def _lifted(html: str) -> tuple[str, dict[str, str]]:
    """The page with each inline drawing as an image, and those images by their names.

    The same drawing is one image. Parsed by themselves they cost a fifth less (measured), since
    the page's rules are not held against each of their lines.
    """
    drawings: dict[str, str] = {}
    names: dict[str, str] = {}
    paper = token_hex(8)

    def lift(found: re.Match[str]) -> str:
        svg = found[0]
        if svg not in names:
            names[svg] = f"drawing:{paper}/{len(names)}"
            drawings[names[svg]] = svg.replace("<svg ", f"<svg {SVG_NAMESPACE} ", 1).replace(
                f"{SVG_NAMESPACE} {SVG_NAMESPACE}", SVG_NAMESPACE, 1
            )
        said, css = TITLE.search(svg), CLASS.search(svg)
        alternative = f' alt="{said[1]}"' if said else ""
        return f'<img src="{names[svg]}"{alternative} class="{css[1] if css else ""}">'

    return SVG.sub(lift, html), drawings


@contextmanager
def _without_collector() -> Iterator[None]:
    """Layout makes a hundred thousand boxes that all live to its end: looking for garbage among
    them takes a quarter of the time (measured)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _attachment(record: bytes, made_at: datetime) -> Attachment:
    return Attachment(
        string=record,
        name=RECORD_NAME,
        description="The record as data",
        relationship="Data",
        created=made_at,
        modified=made_at,
    )


def _associate_once(made: pydyf.PDF) -> None:
    """WeasyPrint associates each attached file twice, by its name and by its specification."""
    if "AF" in made.catalog:
        made.catalog["AF"] = pydyf.Array(dict.fromkeys(made.catalog["AF"]))


def _object(made: pydyf.PDF, reference: bytes) -> Any:
    return made.objects[int(reference.split()[0])]


def _compress(made: pydyf.PDF) -> None:
    """Compress each stream, unless its last byte would be a carriage return.

    With the line feed behind it, validators take that for the end of a line, and the stream for one
    byte shorter than it says (ISO 19005-3, 6.1.7.1).
    """
    for each in made.objects:
        if isinstance(each, pydyf.Stream):
            each.compress = True
            each.compress = not each.data.endswith(b"\r\nendstream")


def _describe(made: pydyf.PDF, says: str) -> None:
    """Complete the metadata, uncompressed: whoever looks for it must find it as plain text."""
    metadata = _object(made, made.catalog["Metadata"])
    more = ALSO_UA + (IDENTIFIER.format(escape(says)) if says else "")
    end = b"</rdf:RDF>"
    metadata.stream = [part.replace(end, more.encode() + end) for part in metadata.stream]
    metadata.compress = False


def _add_signature_field(made: pydyf.PDF) -> None:
    """An empty field of no size on the first page, tagged as a form (ISO 14289-1, 7.18.4)."""
    page_reference = made.page_references[0]
    page = _object(made, page_reference)
    root = _object(made, made.catalog["StructTreeRoot"])
    document = _object(made, root["K"][0])
    parents = _object(made, root["ParentTree"])["Nums"]
    key = parents[-2] + 1
    field = pydyf.Dictionary(
        {
            "Type": "/Annot",
            "Subtype": "/Widget",
            "FT": "/Sig",
            "T": pydyf.String(SIGNATURE_FIELD),
            "TU": pydyf.String("Signature of the issuer; it shows nothing on the page"),
            "Rect": pydyf.Array([0, 0, 0, 0]),
            "F": FIELD_FLAGS,
            "P": page_reference,
            "StructParent": key,
        }
    )
    made.add_object(field)
    shown = pydyf.Dictionary({"Type": "/OBJR", "Obj": field.reference, "Pg": page_reference})
    form = pydyf.Dictionary(
        {
            "Type": "/StructElem",
            "S": "/Form",
            "P": document.reference,
            "Pg": page_reference,
            "K": pydyf.Array([shown.data]),
        }
    )
    made.add_object(form)
    document["K"].append(form.reference)
    parents.extend([key, form.reference])
    page.setdefault("Annots", pydyf.Array()).append(field.reference)
    made.catalog["AcroForm"] = pydyf.Dictionary(
        {"Fields": pydyf.Array([field.reference]), "SigFlags": 3}
    )
