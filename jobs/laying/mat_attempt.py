"""One attempt at mats on one lattice: shares of the floor, a chain in each, growth, wire.

Millimetres, in the frame of the lattice unless said.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from jobs.laying.check import SQUARE_MM
from jobs.laying.mat_chains import END_MM, SPLICE_MM, chain_for
from jobs.laying.mat_ground import Ground, shares
from jobs.laying.mat_mesh import grow
from jobs.laying.mat_path import Laid, lay_out
from jobs.laying.mat_strips import Chain
from jobs.laying.mat_wire import Wire
from jobs.laying.plan import FloatArray, LaidWire, as_points, rounded
from jobs.laying.pose import Pose
from jobs.laying.problem import Element
from jobs.outline import Point

LEAST_ON_MESH = 0.54
"""Share of a mat's passes that stay on mesh while its wire grows; the rule is a half."""

HOLDS = 1.0
"""Wire over what the nodes of a piece hold, at most, for a mat to be tried on it."""


ROOM_DIGITS = 2
"""Shares of which one holds a hundredth more of its mat count as equal."""


@dataclass(frozen=True, slots=True)
class LaidOne:
    """A mat on its lattice: what was laid, its nodes, and those that growth took in."""

    laid: Laid
    nodes: tuple[int, ...]
    grown: frozenset[int]


def lay_on(
    ground: Ground,
    mats: Sequence[Element],
    starts: dict[int, float],
    turn: int,
    blocked: Collection[int],
) -> list[LaidOne] | None:
    """Lay the mats one after the other, each in its share and what those before it left over.

    Nodes in `blocked` stay without wire.
    """
    schemes = _schemes(ground, mats, starts)
    if not schemes:
        return None
    number = turn // len(schemes)
    first = turn % len(schemes)
    for scheme in (*schemes[first:], *schemes[:first]):
        if len(mats) == 1 or all(
            _chain(ground, mat, _free(ground, share), starts, number)
            for mat, share in zip(mats, scheme, strict=True)
        ):
            break
    else:
        return None
    left: set[int] = set()
    found: list[LaidOne] = []
    for mat, share in zip(mats, scheme, strict=True):
        laid = _lay_one(ground, mat, _free(ground, share | left), starts, number, blocked)
        if laid is None:
            return None
        left = (left | share) - set(laid.nodes)
        found.append(laid)
    return found


def _free(ground: Ground, nodes: Iterable[int]) -> list[bool]:
    free = [False] * len(ground.lattice.inside)
    for node in nodes:
        free[node] = True
    return free


def _chain(
    ground: Ground, mat: Element, free: Sequence[bool], starts: Mapping[int, float], number: int
) -> Chain | None:
    return chain_for(ground, mat, free, starts, least=_least_passes(mat), number=number)


def _least_passes(mat: Element) -> int:
    return int(LEAST_ON_MESH * mat.wire_mm / mat.pass_mm) + 1


def _lay_one(
    ground: Ground,
    mat: Element,
    free: list[bool],
    starts: dict[int, float],
    turn: int,
    blocked: Collection[int],
) -> LaidOne | None:
    for node in blocked:
        free[node] = False
    chain = _chain(ground, mat, free, starts, turn)
    if chain is None:
        return None
    wire = Wire(ground.lattice, chain.nodes, free, mat.spacing_mm / 2)
    until = mat.wire_mm
    for _ in range(3):
        grow(
            wire,
            chain.strips,
            until_mm=until,
            least_passes=_least_passes(mat),
            splice_mm=SPLICE_MM,
            end_mm=END_MM if mat.ends == "both" else 0.0,
        )
        nodes = wire.nodes()
        laid = lay_out(ground.lattice, nodes, chain.strips, mat, ground.mesh_floor)
        if laid is not None:
            loose = sum(b - a for a, b in laid.loose)
            if loose > 0.5 * mat.wire_mm:
                return None
            return LaidOne(laid, tuple(nodes), frozenset(nodes) - frozenset(chain.nodes))
        if wire.length < until:
            return None
        until = wire.length + 1.0
    return None


def too_hot(ground: Ground, laid: Sequence[LaidOne], hot: Sequence[Point], pose: Pose) -> set[int]:
    """For each of the squares that get too much, two nodes to leave without wire.

    `hot` are the squares' low corners in the room, from which `pose` leads to the lattice.
    They lie next to the edge, where half of what they give is lost; nodes that growth took in
    go before those of a chain.
    """
    spots: set[int] = set()
    edge = ground.area.boundary
    pairs = [(a, b, {a, b} <= one.grown) for one in laid for a, b in pairwise(one.nodes)]
    middle = np.asarray(
        [np.add(ground.lattice.point(a), ground.lattice.point(b)) / 2 for a, b, _ in pairs]
    )
    in_room = pose.back(ground.frame.back(middle))
    rank = np.asarray(shapely.distance(shapely.points(middle), edge))
    rank[[not grown for _, _, grown in pairs]] += SQUARE_MM
    for x, y in hot:
        inside = np.flatnonzero(
            (in_room[:, 0] > x)
            & (in_room[:, 0] < x + SQUARE_MM)
            & (in_room[:, 1] > y)
            & (in_room[:, 1] < y + SQUARE_MM)
        )
        if len(inside) and not any(spots & set(pairs[at][:2]) for at in inside):
            spots |= set(pairs[inside[np.argmin(rank[inside])]][:2])
    return spots


def in_room(ground: Ground, mat: Element, one: LaidOne) -> LaidWire:
    """Turn wire back into the room; rounding it adds a millimetre in a hundred metres."""
    path = rounded(ground.frame.back(one.laid.path))
    scale = _length(path) / _length(one.laid.path)
    return LaidWire(
        element=mat,
        path=path,
        mesh=tuple(as_points(ground.frame.back(strip)) for strip in one.laid.mesh),
        loose=tuple((a * scale, b * scale) for a, b in one.laid.loose),
    )


def _length(path: FloatArray) -> float:
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def pieces_for(ground: Ground, mats: Sequence[Element]) -> list[int] | None:
    """For each mat the smallest piece of floor that holds it, beside those before it."""
    wire = [HOLDS * mat.wire_mm for mat in mats]
    return shared_out(wire, [len(piece) * ground.cell_mm for piece in ground.pieces])


def shared_out(parts: Sequence[float], places: Sequence[float]) -> list[int] | None:
    """For each part the place that it fits into most tightly, beside the parts before it."""
    left = list(places)
    taken = []
    for part in parts:
        fits = [at for at, size in enumerate(left) if size >= part]
        if not fits:
            return None
        at = min(fits, key=lambda place: left[place])
        left[at] -= part
        taken.append(at)
    return taken


def _schemes(
    ground: Ground, mats: Sequence[Element], starts: Collection[int]
) -> list[list[frozenset[int]]]:
    """Ways to share the floor between the mats, so that a lead comes to each share.

    Those that leave most room to the mat that has least go first.
    """
    taken = pieces_for(ground, mats)
    if taken is None:
        return []
    found: list[list[frozenset[int]]] = [[]]
    order: list[int] = []
    for at in sorted(set(taken)):
        mine = [number for number, piece in enumerate(taken) if piece == at]
        order += mine
        cuts = list(
            shares(ground.lattice, ground.pieces[at], [mats[number].wire_mm for number in mine])
        )
        found = [[*before, *cut] for before in found for cut in cuts]
    places = [order.index(number) for number in range(len(mats))]
    schemes = [
        [scheme[place] for place in places]
        for scheme in found
        if all(not share.isdisjoint(starts) for share in scheme)
    ]
    return sorted(
        schemes,
        key=lambda scheme: (
            -round(
                min(
                    len(share) * ground.cell_mm / mat.wire_mm
                    for mat, share in zip(mats, scheme, strict=True)
                ),
                ROOM_DIGITS,
            )
        ),
    )
