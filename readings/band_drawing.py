"""A reading against its limits, as a small drawing: brackets, a dot, and how well it is known."""

from collections.abc import Callable
from xml.sax.saxutils import escape, quoteattr

from jobs import svg
from jobs.svg import EDGE, INK
from readings import wording

WIDTH, HEIGHT = 360.0, 92.0
LEFT, RIGHT, AXIS = 20.0, 340.0, 52.0
TEXT = 15
TINT = "#DFF1EA"


def draw_band(
    *,
    value: float,
    expanded: float,
    low: float,
    high: float,
    unit: str,
    say: Callable[[str], str] = str,
) -> str:
    """Return an `<svg>` of a two-sided verdict; `expanded` is the uncertainty, 19 times in 20.

    `say` puts the sentence that stands for it into the reader's language.

    It shows the limits and the reading with the uncertainty, whatever lies farther out.
    """
    least = min(low, value - expanded)
    most = max(high, value + expanded)
    spare = (most - least) * 0.12 or 1.0
    least, most = least - spare, most + spare

    def x(at: float) -> float:
        return LEFT + (at - least) / (most - least) * (RIGHT - LEFT)

    shown = f"{wording.figure(value)} ± {wording.plus_minus(expanded)}{wording.NBSP}{unit}"
    said = say(f"{shown}; limits {wording.between(low, high, unit)}")
    start, end = x(value - expanded), x(value + expanded)
    middle = min(max(x(value), 80.0), WIDTH - 80.0)
    return "".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 {WIDTH:g} '
            f'{HEIGHT:g}" role="img" aria-label={quoteattr(said)} '
            f'font-family="Liberation Sans, DejaVu Sans, sans-serif" font-size="{TEXT}">',
            f"<title>{escape(said)}</title>",
            f'<rect class="inside" x="{x(low):.1f}" y="28" width="{x(high) - x(low):.1f}" '
            f'height="24" fill="{TINT}"/>',
            svg.lines("axis", [[(LEFT, AXIS), (RIGHT, AXIS)]], stroke=EDGE, width=1),
            svg.lines(
                "limit",
                [[(x(low), 22.0), (x(low), 58.0)], [(x(high), 22.0), (x(high), 58.0)]],
                stroke=INK,
                width=2,
            ),
            svg.text("words", wording.figure(low), (x(low), 16.0)),
            svg.text("words", wording.figure(high), (x(high), 16.0)),
            svg.lines(
                "known",
                [
                    [(start, 40.0), (end, 40.0)],
                    [(start, 34.0), (start, 46.0)],
                    [(end, 34.0), (end, 46.0)],
                ],
                stroke=INK,
                width=2,
            ),
            f'<circle class="dot" cx="{x(value):.1f}" cy="40" r="5" fill="{INK}"/>',
            svg.text("words", shown, (middle, 80.0), bold=True),
            "</svg>",
        )
    )
