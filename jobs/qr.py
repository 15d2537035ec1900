"""QR codes as SVG, for paper: error correction level M with its quiet zone (ISO/IEC 18004)."""

from itertools import groupby
from xml.sax.saxutils import escape

import segno

QUIET_ZONE = 4
"""Modules left white on each side."""


def qr_svg(content: str, *, size_mm: float, said: str) -> str:
    """Return one `<svg>`; its dark square is `size_mm` wide, the quiet zone stands around it.

    `said` is the sentence for whoever does not see it.
    """
    # Its level is not raised where there would be room: equal contents give equal codes.
    code = segno.make(content, error="m", micro=False, boost_error=False)
    modules = len(code.matrix)
    across = modules + 2 * QUIET_ZONE
    paper_mm = size_mm * across / modules
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="qr" viewBox="0 0 {across} {across}" '
        f'width="{paper_mm:.2f}mm" height="{paper_mm:.2f}mm" role="img">'
        f"<title>{escape(said)}</title>"
        f'<path fill="#000000" d="{_runs(code)}"/></svg>'
    )


def _runs(code: segno.QRCode) -> str:
    """Each run of dark modules in a row as one rectangle."""
    found = []
    for y, row in enumerate(code.matrix, start=QUIET_ZONE):
        x = QUIET_ZONE
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                found.append(f"M{x} {y}h{length}v1h-{length}z")
            x += length
    return "".join(found)
