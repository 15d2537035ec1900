"""Lay heating mats: strips of mesh in a chain, and loose wire for what the mesh does not reach.

Wire runs on a lattice whose rows are the mat's passes. A chain of strips is laid first, from
where the cold lead comes in; then the wire grows over the rest of the floor until its length is
used up. Many lattices, choices of mats and chains are tried; those that warm most are returned.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement, pairwise

import numpy as np
import shapely

from jobs.laying.check import SQUARE_MM
from jobs.laying.mat_chains import SPLICE_MM, chain_for
from jobs.laying.mat_ground import Ground, grounds, shares
from jobs.laying.mat_judge import Judge
from jobs.laying.mat_mesh import grow
from jobs.laying.mat_path import Laid, lay_out
from jobs.laying.mat_starts import Approaches
from jobs.laying.mat_wire import Wire
from jobs.laying.plan import FloatArray, LaidWire, as_points, rounded
from jobs.laying.problem import Element, Room
from jobs.outline import Point

LEAST_ON_MESH = 0.55
"""Share of a mat's passes that stay on mesh while its wire grows; the rule is a half."""

LEAD_SPARE_MM = 30.0
PARTS = (1.03, 1.0, 0.985, 0.97, 0.95, 0.92, 0.88, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2)
"""Parts of the area that the mats may fill by their pitch; a little over is tried too."""

FEWER = 0.01
"""Part of the area that one mat less is worth."""

HOLDS = 1.0
SURE = 0.97
STRIP_COST = 0.0005
LOOSE_COST = 0.005
EFFORT = 45_000
"""Nodes of lattice over all attempts, a third for those that fail early: about two seconds."""

SURE_TRIES = 3

COOLINGS = 4
MOST_PLANS = 8


@dataclass(frozen=True, slots=True)
class _Way:
    """A lattice with the mats to lay on it, and the covered share to be hoped for."""

    hope: float
    sure: bool
    ground: Ground
    mats: tuple[Element, ...]


@dataclass(frozen=True, slots=True)
class _Found:
    score: float
    covered: float
    way: _Way
    wires: tuple[LaidWire, ...]


def lay_mats(room: Room) -> list[tuple[LaidWire, ...]]:
    """Return ways to lay the catalogue's mats, the one that warms most first; [] if none is found.

    Leads and sensor are not laid, but room is left for each lead to come to its splice.
    """
    choices = _choices(room)
    if not choices:
        return []
    search = _Search(room)
    ways = [
        way
        for family in dict.fromkeys(_family(mats[0]) for mats in choices)
        for ground in grounds(room, next(m[0] for m in choices if _family(m[0]) == family))
        for mats in choices
        if _family(mats[0]) == family and (way := _hope(ground, mats)) is not None
    ]
    ways.sort(key=lambda way: -way.hope)
    search.run(ways)
    search.found.sort(key=lambda entry: -entry.score)
    return [entry.wires for entry in search.found[:MOST_PLANS]]


class _Search:
    """Attempts at a room, within an effort."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.approaches, self.judge = Approaches(room), Judge(room)
        self.found: list[_Found] = []
        self.best = 0.0
        self.effort = EFFORT
        self.starts: dict[int, dict[int, float]] = {}
        self.tried: set[tuple[int, int]] = set()

    def run(self, ways: Sequence[_Way]) -> None:
        """Secure a plan, most wire first; then try what promises more, then vary the best."""
        for mats in dict.fromkeys(way.mats for way in ways):
            sure = [way for way in ways if way.mats == mats and way.sure]
            for way in sure[:SURE_TRIES]:
                if not self.found:
                    self.attempt(way, 0)
        for turn in (0, 1):
            for way in ways:
                if self.effort < EFFORT // 3 or way.hope <= self.best:
                    break
                self.attempt(way, turn)
        for turn in (1, 2, 3):
            for way in self.leading():
                if self.effort > 0:
                    self.attempt(way, turn)

    def leading(self) -> list[_Way]:
        """The best few ways, each once."""
        best: dict[int, _Way] = {}
        for entry in sorted(self.found, key=lambda entry: -entry.score):
            best.setdefault(id(entry.way), entry.way)
        return list(best.values())[:3]

    def attempt(self, way: _Way, turn: int) -> None:
        """Lay the mats on a lattice with the chain number `turn`, and keep what comes of it."""
        if (id(way), turn) in self.tried:
            return
        self.tried.add((id(way), turn))
        ground = way.ground
        if id(ground) not in self.starts:
            self.starts[id(ground)] = self.approaches.nodes(
                ground.frame, ground.lattice, self.room.cold_lead_mm - LEAD_SPARE_MM
            )
        blocked: set[int] = set()
        size = len(ground.lattice.inside)
        for _ in range(COOLINGS):
            laid = _lay_on(ground, way.mats, self.starts[id(ground)], turn, blocked)
            self.effort -= size if laid else size // 3
            if laid is None:
                return
            wires = tuple(
                _in_room(ground, mat, one) for mat, one in zip(way.mats, laid, strict=True)
            )
            sampled = self.judge.measure([wire.path for wire in wires], way.mats)
            if sampled.mean > 1:
                return
            if not sampled.hot:
                self.keep(way, wires, sampled.covered)
                return
            spots = _loose_in(ground, laid, sampled.hot)
            if not spots:
                return
            blocked |= spots

    def keep(self, way: _Way, wires: tuple[LaidWire, ...], covered: float) -> None:
        loose = sum(b - a for wire in wires for a, b in wire.loose)
        score = (
            covered
            - STRIP_COST * sum(len(wire.mesh) for wire in wires)
            - LOOSE_COST * loose / sum(mat.wire_mm for mat in way.mats)
        )
        self.best = max(self.best, covered)
        self.found.append(_Found(score, covered, way, wires))


def _family(mat: Element) -> tuple[float, ...]:
    """What mats must share to lie on one lattice."""
    return (mat.width_mm, mat.spacing_mm, mat.gap_mm, float(mat.ends == "both"))


def _choices(room: Room) -> list[tuple[Element, ...]]:
    """The mats to take, up to `may_use` of one make: those that fit best for each of `PARTS`.

    Fewer mats go before more that fit no better.
    """
    area = room.area.area
    mats = [entry for entry in room.elements if entry.kind == "mat"]
    takes: list[tuple[float, int, tuple[Element, ...]]] = []
    for number in range(1, room.may_use + 1):
        for taken in combinations_with_replacement(mats, number):
            if len({_family(mat) for mat in taken}) == 1:
                part = sum(mat.wire_mm * mat.spacing_mm for mat in taken) / area
                takes.append((part, number, tuple(sorted(taken, key=lambda mat: -mat.wire_mm))))
    found: list[tuple[Element, ...]] = []
    for most in PARTS:
        fitting = [take for take in takes if take[0] <= most]
        if fitting:
            best = max(fitting, key=lambda take: take[0] - FEWER * take[1])
            if best[2] not in found:
                found.append(best[2])
    return found


def _hope(ground: Ground, mats: tuple[Element, ...]) -> _Way | None:
    """What a lattice could give with these mats; None if its pieces do not hold them."""
    taken = _pieces_for(ground, mats)
    if taken is None:
        return None
    nodes = sum(len(ground.pieces[at]) for at in set(taken))
    share = nodes / sum(len(piece) for piece in ground.pieces)
    full = sum(mat.wire_mm for mat in mats) / (nodes * ground.cell_mm)
    return _Way(ground.reached * share * min(1.0, full), full < SURE, ground, mats)


def _pieces_for(ground: Ground, mats: Sequence[Element]) -> list[int] | None:
    """For each mat the smallest piece of floor that holds it, beside those before it."""
    left = [len(piece) * ground.cell_mm for piece in ground.pieces]
    taken = []
    for mat in mats:
        fits = [at for at, mm in enumerate(left) if mm >= HOLDS * mat.wire_mm]
        if not fits:
            return None
        at = min(fits, key=lambda piece: left[piece])
        left[at] -= mat.wire_mm
        taken.append(at)
    return taken


def _schemes(
    ground: Ground, mats: Sequence[Element], starts: Collection[int]
) -> list[list[frozenset[int]]]:
    """Ways to share the floor between the mats, so that a lead comes to each share."""
    taken = _pieces_for(ground, mats)
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
    return [
        [scheme[place] for place in places]
        for scheme in found
        if all(not share.isdisjoint(starts) for share in scheme)
    ]


@dataclass(frozen=True, slots=True)
class _LaidOne:
    """A mat on its lattice: what was laid, its nodes, and those that growth took in."""

    laid: Laid
    nodes: tuple[int, ...]
    grown: frozenset[int]


def _lay_on(
    ground: Ground,
    mats: Sequence[Element],
    starts: dict[int, float],
    turn: int,
    blocked: Collection[int],
) -> list[_LaidOne] | None:
    """Lay the mats one after the other, each in its share and what those before it left over.

    Nodes in `blocked` stay without wire unless a chain of strips needs them.
    """
    schemes = _schemes(ground, mats, starts)
    if not schemes:
        return None
    scheme = schemes[turn % len(schemes)]
    left: set[int] = set()
    found: list[_LaidOne] = []
    for mat, share in zip(mats, scheme, strict=True):
        free = [False] * len(ground.lattice.inside)
        for node in share | left:
            free[node] = True
        laid = _lay_one(ground, mat, free, starts, turn // len(schemes), blocked)
        if laid is None:
            return None
        left = (left | share) - set(laid.nodes)
        found.append(laid)
    return found


def _lay_one(
    ground: Ground,
    mat: Element,
    free: list[bool],
    starts: dict[int, float],
    turn: int,
    blocked: Collection[int],
) -> _LaidOne | None:
    least = int(LEAST_ON_MESH * mat.wire_mm / mat.pass_mm) + 1
    chain = chain_for(ground, mat, free, starts, least=least, number=turn)
    if chain is None:
        return None
    for node in blocked:
        free[node] = False
    wire = Wire(ground.lattice, chain.nodes, free, mat.spacing_mm / 2)
    until = mat.wire_mm
    for _ in range(3):
        grow(
            wire,
            chain.strips,
            until_mm=until,
            least_passes=least,
            splice_mm=SPLICE_MM,
            ends=mat.ends,
        )
        nodes = wire.nodes()
        laid = lay_out(ground.lattice, nodes, chain.strips, mat, ground.mesh_floor)
        if laid is not None:
            loose = sum(b - a for a, b in laid.loose)
            if loose > 0.5 * mat.wire_mm:
                return None
            return _LaidOne(laid, tuple(nodes), frozenset(nodes) - frozenset(chain.nodes))
        if wire.length < until:
            return None
        until = wire.length + 1.0
    return None


def _loose_in(ground: Ground, laid: Sequence[_LaidOne], hot: Sequence[Point]) -> set[int]:
    """For each of the squares that get too much, a pair of nodes that growth took in there."""
    spots: set[int] = set()
    edge = ground.area.boundary
    for one in laid:
        grown = [(a, b) for a, b in pairwise(one.nodes) if {a, b} <= one.grown]
        if not grown:
            continue
        middle = np.asarray(
            [np.add(ground.lattice.point(a), ground.lattice.point(b)) / 2 for a, b in grown]
        )
        in_room = ground.frame.back(middle)
        apart = np.asarray(shapely.distance(shapely.points(middle), edge))
        for x, y in hot:
            inside = np.flatnonzero(
                (in_room[:, 0] > x)
                & (in_room[:, 0] < x + SQUARE_MM)
                & (in_room[:, 1] > y)
                & (in_room[:, 1] < y + SQUARE_MM)
            )
            if len(inside) and not any(spots & set(grown[at]) for at in inside):
                spots |= set(grown[inside[np.argmin(apart[inside])]])
    return spots


def _in_room(ground: Ground, mat: Element, one: _LaidOne) -> LaidWire:
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
