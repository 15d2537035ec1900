"""One attempt at mats on one lattice: shares of the floor, a chain in each, growth, wire.

Millimetres, in the frame of the lattice unless said.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from jobs.laying.mat_chains import END_MM, SPLICE_MM, chain_for
from jobs.laying.mat_cooling import drawn_back
from jobs.laying.mat_ground import Ground, shares
from jobs.laying.mat_mesh import grow
from jobs.laying.mat_path import Laid, lay_out
from jobs.laying.mat_strips import Chain
from jobs.laying.mat_wire import Wire
from jobs.laying.plan import FloatArray, LaidWire, as_points, rounded
from jobs.laying.problem import Element

LEAST_ON_MESH = 0.54
"""Share of a mat's passes that stay on mesh while its wire grows; the rule is a half."""

HOLDS = 1.0
"""Wire over what the nodes of a piece hold, at most, for a mat to be tried on it."""


ROOM_DIGITS = 2
"""Shares of which one holds a hundredth more of its mat count as equal."""


@dataclass(frozen=True, slots=True)
class LaidOne:
    """A mat on its lattice: what was laid, its nodes, its chain, and the nodes that it may take."""

    laid: Laid
    nodes: tuple[int, ...]
    chain: Chain
    share: frozenset[int]


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
    left: frozenset[int] = frozenset()
    found: list[LaidOne] = []
    for mat, share in zip(mats, scheme, strict=True):
        laid = _lay_one(ground, mat, share | left, starts, number, blocked)
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
    share: frozenset[int],
    starts: dict[int, float],
    turn: int,
    blocked: Collection[int],
) -> LaidOne | None:
    chain = _chain(ground, mat, _free(ground, share), starts, turn)
    if chain is not None and not set(blocked).isdisjoint(chain.nodes):
        chain = _chain(ground, mat, _free(ground, share - set(blocked)), starts, turn)
    if chain is None:
        return None
    return _grown(ground, mat, chain, chain.nodes, share, blocked)


def _grown(
    ground: Ground,
    mat: Element,
    chain: Chain,
    nodes: Sequence[int],
    share: frozenset[int],
    blocked: Collection[int],
) -> LaidOne | None:
    """The mat laid over `nodes`, which run through its chain, and what growth adds to them."""
    wire = Wire(ground.lattice, nodes, _free(ground, share - set(blocked)), mat.spacing_mm / 2)
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
            return LaidOne(laid, tuple(nodes), chain, share) if loose <= 0.5 * mat.wire_mm else None
        if wire.length < until:
            return None
        until = wire.length + 1.0
    return None


def regrown(
    ground: Ground, mats: Sequence[Element], laid: Sequence[LaidOne], blocked: Collection[int]
) -> list[LaidOne] | None:
    """What was laid, drawn back from nodes that are now blocked and grown on elsewhere.

    None where the wire cannot be drawn back, or finds no other place.
    """
    found = list(laid)
    for at, (mat, one) in enumerate(zip(mats, laid, strict=True)):
        if set(blocked).isdisjoint(one.nodes):
            continue
        nodes = drawn_back(ground.lattice, one.nodes, one.chain.nodes, blocked)
        if nodes is None:
            return None
        others = {node for other in found if other is not found[at] for node in other.nodes}
        again = _grown(ground, mat, one.chain, nodes, one.share, {*blocked, *others})
        if again is None:
            return None
        found[at] = replace(again, share=one.share)
    return found


def moved(ground: Ground, one: LaidOne, by: FloatArray) -> LaidOne | None:
    """Wire and mesh moved by a vector in the frame; None if they would not be on the floor."""
    path, mesh = one.laid.path + by, tuple(strip + by for strip in one.laid.mesh)
    if not ground.wire_floor.covers(shapely.linestrings(path)):
        return None
    if not all(ground.mesh_floor.covers(shapely.polygons(strip)) for strip in mesh):
        return None
    return replace(one, laid=replace(one.laid, path=path, mesh=mesh))


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
