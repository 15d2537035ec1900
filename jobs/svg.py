"""Pieces of SVG that our drawings are made of: positions and print looks are attributes.

No `style` attribute (a strict content security policy drops it); unfilled shapes say so.
"""

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

from jobs.outline import Point

INK, EDGE, SHEET = "#000000", "#555555", "#FFFFFF"


def text(
    css: str,
    words: str,
    at: Point,
    *,
    anchor: str = "middle",
    turned: float = 0.0,
    bold: bool = False,
    halo: bool = False,
    pivot: Point | None = None,
) -> str:
    """Return words at a point; turned by degrees about `pivot`, on a halo where lines run under."""
    x, y = at
    px, py = pivot or at
    turn = f' transform="rotate({turned:.1f} {px:.1f} {py:.1f})"' if turned else ""
    weight = ' font-weight="bold"' if bold else ""
    # Half the height of a capital, in the text's own size: letters stay centred at any size.
    shift = ' dy="0.36em"' if css == "letter" else ""
    tag = f'x="{x:.1f}" y="{y:.1f}"{shift} text-anchor="{anchor}"{weight}{turn}'
    under = (
        f'<text class="halo" {tag} fill="{SHEET}" stroke="{SHEET}" stroke-width="8">'
        f"{escape(words)}</text>"
        if halo
        else ""
    )
    return f'{under}<text class="{css}" {tag} fill="{INK}">{escape(words)}</text>'


def shape(
    css: str, ring: Sequence[Point], *, fill: str = "none", stroke: str = "none", width: float = 0
) -> str:
    """Return a closed shape."""
    line = f' stroke="{stroke}" stroke-width="{width:g}" stroke-linejoin="miter"' if width else ""
    return f'<polygon class="{css}" points="{points_of(ring)}" fill="{fill}"{line}/>'


def lines(
    css: str,
    many: Iterable[Sequence[Point]],
    *,
    stroke: str,
    width: float,
    dashes: str = "",
    more: str = "",
) -> str:
    """Return open lines as one path."""
    dash = f' stroke-dasharray="{dashes}"' if dashes else ""
    path = "".join(path_of(line) for line in many)
    return (
        f'<path class="{css}" d="{path}" fill="none" stroke="{stroke}" '
        f'stroke-width="{width:g}"{dash}{more}/>'
    )


def path_of(line: Sequence[Point]) -> str:
    """Return a path in tenths of a unit, each step counted from the last written point."""
    x, y = round(line[0][0] * 10), round(line[0][1] * 10)
    steps = [f"M{_tenths(x)} {_tenths(y)}"]
    for point in line[1:]:
        to_x, to_y = round(point[0] * 10), round(point[1] * 10)
        steps.append(f"l{_tenths(to_x - x)} {_tenths(to_y - y)}")
        x, y = to_x, to_y
    return "".join(steps)


def points_of(ring: Iterable[Point]) -> str:
    """Return corners as a polygon's attribute."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in ring)


def _tenths(value: int) -> str:
    return f"{value / 10:g}"
