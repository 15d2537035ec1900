"""One mat on the part of a floor that it fills, and a cable of the catalogue for the rest.

A mat is laid faster, a cable reaches where no strip fits; both hang on one control. Areas are mm2,
lengths millimetres.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log

import shapely
from shapely import LineString, Polygon

from jobs.laying.cable import Effort, lay_cable
from jobs.laying.choose import FIT_MM, STRICTLY_WARM
from jobs.laying.divide import divided
from jobs.laying.judge import Judge
from jobs.laying.leads import Ways
from jobs.laying.mat import EFFORT, lay_mats
from jobs.laying.mat_attempt import shared_out
from jobs.laying.measures import could_warm, spacings
from jobs.laying.plan import LaidWire
from jobs.laying.problem import Element, Room

MOST_PAIRS = 2
MAT_ROOM = 1.04
"""Floor that is set aside for a mat over what its mesh takes: turns and corners stay open."""

NEARLY_ALL = 0.9
"""A mat that takes this share of a piece of floor gets all of it."""

REST_WARM = 0.98
"""Share of the rest that a cable warms (measured)."""

LEAST_MAT = 0.3
"""Share of the floor below which a mat beside a cable is not worth its splice."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A mat and a cable, and the share of the area that they may warm together."""

    mat: Element
    cable: Element
    share: float


def pairs(room: Room) -> list[Pair]:
    """Return pairs of mat and cable for a floor, the most promising first, a few mats each once.

    [] where two elements may not be used or only one kind is at hand.
    """
    if room.may_use < 2:
        return []
    area = room.area.area
    found: list[tuple[float, float, Pair]] = []
    for mat in (e for e in room.elements if e.kind == "mat" and e.wire_mm * e.spacing_mm < area):
        for cable in (e for e in room.elements if e.kind == "cable"):
            both = (mat, cable)
            share = could_warm(both, area, room.max_w_per_m2) / area
            laid_mm = spacings(both, area)[1]
            tight = laid_mm < cable.gap_mm + FIT_MM
            hot = cable.watts_per_mm * 1e6 / laid_mm > STRICTLY_WARM * room.max_w_per_m2
            if share == 0 or tight or hot or mat.wire_mm * mat.spacing_mm < LEAST_MAT * area:
                continue
            off = abs(log(laid_mm / cable.spacing_mm))
            found.append((-round(share, 2), off, Pair(mat, cable, REST_WARM * share)))
    found.sort(key=lambda each: each[:2])
    best: dict[str, Pair] = {}
    for *_, pair in found:
        best.setdefault(pair.mat.id, pair)
    return list(best.values())[:MOST_PAIRS]


def lay_pair(
    room: Room, pair: Pair, reach: Ways, judge: Judge, effort: Effort
) -> Iterator[tuple[LaidWire, ...]]:
    """Yield a way to lay a pair in a posed room: the mat first, the cable on what it leaves.

    None if neither part of the floor is right for them. `reach` are the ways from the control that
    keep off the heatable area; `judge` is that of the room in its pose.
    """
    alone = replace(room, elements=(pair.mat,), may_use=1)
    gap = max(pair.mat.gap_mm, pair.cable.gap_mm)
    spacing = spacings((pair.mat, pair.cable), room.area.area)[1]
    for part in _parts(room, pair, gap):
        for (mat,), _ in lay_mats(alone, judge.pose, part, effort=EFFORT // 3)[:1]:
            rest = _rest(room, mat, gap)
            if rest.area < pair.cable.wire_mm * (pair.cable.gap_mm + FIT_MM):
                continue
            cables = lay_cable(
                rest,
                pair.cable,
                spacing,
                reach=reach,
                lead_mm=room.cold_lead_mm,
                judge=judge,
                effort=effort,
            )
            if (cable := next(cables, None)) is not None:
                yield mat, cable
                return


def _parts(room: Room, pair: Pair, gap_mm: float) -> list[Polygon]:
    """Parts of the floor for the mat: a piece that it nearly fills, or a slab of one."""
    pieces = [piece for piece in shapely.get_parts(room.area) if isinstance(piece, Polygon)]
    size = MAT_ROOM * pair.mat.wire_mm * pair.mat.spacing_mm
    place = shared_out([size], [piece.area * MAT_ROOM for piece in pieces])
    if place is None:
        return []
    piece = pieces[place[0]]
    share = size / piece.area
    if share > NEARLY_ALL and len(pieces) > 1:
        return [piece]
    return [way[0] for way in divided(piece, [share, max(0.0, 1 - share)], gap_mm, 0.0)]


def _rest(room: Room, mat: LaidWire, gap_mm: float) -> Polygon:
    """The largest piece of floor that the mat's wire leaves to another."""
    left = room.area.difference(LineString(mat.path).buffer(gap_mm + FIT_MM))
    core = left.buffer(-gap_mm / 2).buffer(gap_mm / 2, join_style="mitre").intersection(left)
    parts = [part for part in shapely.get_parts(core) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=Polygon())
