"""Papers: HTML to PDF/A-3a with tags, from what is at hand; nothing is fetched."""

from contextlib import suppress
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher

from config.errors import DomainError

STYLE = Path(__file__).parent / "static/print.css"
VARIANT = "pdf/a-3a"


class OutsideResource(DomainError):
    """A paper names something that would have to be fetched: nothing of ours does."""

    slug = "paper-refused"


class _Nothing(URLFetcher):  # type: ignore[misc]
    """Refuses every address, so that text which slipped in as markup cannot reach out."""

    def __init__(self) -> None:
        super().__init__()
        self.refused: list[str] = []

    def fetch(self, url: str, headers: object = None) -> Any:
        # Kept too: inside an SVG the exception is swallowed.
        self.refused.append(url[:200])
        raise FatalURLFetchingError(url[:200])


@cache
def _fonts() -> FontConfiguration:
    """One for the process: each one that is made keeps its memory for good."""
    return FontConfiguration()


def pdf(html: str, *, identifier: bytes, data: bytes, made_at: datetime) -> bytes:
    """The paper as PDF with `data` (JSON) embedded in it.

    Raises OutsideResource if anything in it would be fetched, from the network or from disk.
    """
    record = Attachment(
        string=data,
        name="record.json",
        description="The record as data",
        relationship="Data",
        created=made_at,
        modified=made_at,
    )
    nothing = _Nothing()
    with suppress(FatalURLFetchingError):  # told below, like those that were swallowed
        made: bytes = HTML(string=html, url_fetcher=nothing).write_pdf(
            stylesheets=[CSS(string=STYLE.read_text(), url_fetcher=nothing)],
            attachments=[record],
            pdf_variant=VARIANT,
            pdf_identifier=identifier,
            pdf_tags=True,
            font_config=_fonts(),
        )
    if nothing.refused:
        raise OutsideResource(f"The paper would fetch {nothing.refused[0]}; it was not made.")
    return made
