"""What can be dragged on a plan drawing: each grip writes two number fields, which rule.

Without script a grip is invisible and the fields are typed; the script only fills them in.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal
from xml.sax.saxutils import quoteattr

from jobs import svg
from jobs.outline import Point

MARK_UNITS = 30.0
"""Half the width of a grip about a point: a fingertip on a phone's drawing."""

Fields = Literal["room", "seen"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """A shape (or one point) in the room's mm, and the fields that follow it when it moves.

    `x` and `y` name the fields, `at` is what they say now in mm; what is dragged by (dx, dy) mm
    adds that to them.
    """

    key: str
    label: str
    x: str
    y: str
    at: Point
    shape: Sequence[Point]


def layer(grips: Iterable[Grip], to_drawing: Callable[[Point], Point]) -> Iterator[str]:
    """Return the grips as invisible shapes over a drawing."""
    for grip in grips:
        x, y = (round(value, 2) for value in grip.at)
        told = (
            f"data-key={quoteattr(grip.key)} data-label={quoteattr(grip.label)} "
            f"data-x={quoteattr(grip.x)} data-y={quoteattr(grip.y)} "
            f'data-at="{x:g} {y:g}" class="grip" fill-opacity="0"'
        )
        ring = [to_drawing(point) for point in grip.shape]
        if len(ring) == 1:
            (cx, cy) = ring[0]
            yield f'<circle {told} cx="{cx:.1f}" cy="{cy:.1f}" r="{MARK_UNITS:g}"/>'
        elif len(ring) == 2:
            line = 'fill="none" stroke="none" stroke-width="20"'
            yield f'<path {told} d="{svg.path_of(ring)}" {line}/>'
        else:
            yield f'<polygon {told} points="{svg.points_of(ring)}"/>'


def matrix(to_field: Callable[[Point], Point]) -> str:
    """Return the affine map from drawing units to the fields' mm: `a b c d e f` as in SVG."""
    e, f = to_field((0.0, 0.0))
    ax, ay = to_field((1.0, 0.0))
    cx, cy = to_field((0.0, 1.0))
    return " ".join(f"{value:.6g}" for value in (ax - e, ay - f, cx - e, cy - f, e, f))
