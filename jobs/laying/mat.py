"""Lay heating mats: strips of mesh in a chain, and loose wire for what the mesh does not reach.

Wire runs on a lattice whose rows are the mat's passes. A chain of strips is laid first, from
where the cold lead comes in; then the wire grows over the rest of the floor until its length is
used up. Many lattices, choices of mats and chains are tried; those that warm most are returned.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from jobs.laying.check import MEAN_FACTOR
from jobs.laying.judge import Judge, Sampled
from jobs.laying.mat_attempt import (
    LaidOne,
    in_room,
    lay_on,
    moved,
    pieces_for,
    regrown,
    shared_out,
)
from jobs.laying.mat_cooling import too_hot
from jobs.laying.mat_ground import Ground, grounds
from jobs.laying.mat_starts import Approaches
from jobs.laying.measures import best_area
from jobs.laying.plan import FloatArray, LaidWire
from jobs.laying.pose import Pose
from jobs.laying.problem import Element, Room

LEAD_SPARE_MM = 30.0
"""Part of the cold lead that is not counted on when starts are looked for."""

FULLEST = 1.03
"""Part of the area that the mats may fill by their pitch: a little over is tried too."""

PARTS = (1.0, 0.985, 0.97, 0.95, 0.92, 0.9, 0.88, 0.86, 0.84, 0.82, 0.8)
SMALL_PARTS = (0.7, 0.6, 0.5, 0.4, 0.3, 0.2)

FEWER = 0.01
"""Part of the area that one mat less is worth."""

SURE = 0.97
"""Wire over what a lattice holds, up to which growth nearly always finds place for all of it."""

POCKETS = 0.02
"""Share of the area that stays cold between turns even on the best lattice (measured)."""

STRIP_COST = 0.0005
LOOSE_COST = 0.005
"""Covered share that one strip less, and that no loose wire, would be worth."""

EFFORT = 45_000
"""Nodes of lattice over all attempts, a third for those that fail early: about two seconds.

A third is kept for varying the best."""

SURE_TRIES = 3
LEADING = 3
TURNS = 4
COOLINGS = 4
"""Times that nodes are taken out of squares which get too much power."""

MOVES_MM = (5.0, -5.0, 10.0, -10.0, 15.0, -15.0, 20.0, -20.0, 25.0, -25.0)
"""Steps that wire as laid is moved by, along its rows and across, to cool such squares first."""

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


def lay_mats(
    room: Room, pose: Pose, floor: Polygon | MultiPolygon | None = None, *, effort: int = EFFORT
) -> list[tuple[tuple[LaidWire, ...], float]]:
    """Return ways to lay the catalogue's mats, each with the share of the floor that it warms.

    The one that warms most goes first; [] if none is found. `room` is in `pose`; `floor` is the
    part of the heatable area to lay, all of it unless given. Leads and sensor are not laid, but
    room is left for each lead to come to its splice. `effort` is in nodes of lattice.
    """
    floor = room.area if floor is None else floor
    choices = _choices(room, floor)
    if not choices:
        return []
    search = _Search(room, pose, floor, effort)
    ways = [
        way
        for family in dict.fromkeys(_family(mats[0]) for mats in choices)
        for ground in grounds(room, floor, [mats for mats in choices if _family(mats[0]) == family])
        for mats in choices
        if _family(mats[0]) == family and (way := _hope(ground, mats)) is not None
    ]
    ways.sort(key=lambda way: -way.hope)
    search.run(ways)
    search.found.sort(key=lambda entry: -entry.score)
    return [(entry.wires, entry.covered) for entry in search.found[:MOST_PLANS]]


class _Search:
    """Attempts at a room, within an effort."""

    def __init__(self, room: Room, pose: Pose, floor: Polygon | MultiPolygon, effort: int) -> None:
        self.room, self.area = room, floor.area
        self.approaches, self.judge = Approaches(room), Judge(room, pose, floor)
        self.found: list[_Found] = []
        self.best = 0.0
        mats = [entry for entry in room.elements if entry.kind == "mat"]
        self.enough = best_area(mats, self.area, room.may_use, room.max_w_per_m2) / self.area
        self.effort, self.kept_effort = effort, effort // 3
        self.starts: dict[int, dict[int, float]] = {}
        self.tried: set[tuple[int, int]] = set()

    def run(self, ways: Sequence[_Way]) -> None:
        """Secure a plan, most wire first; then try what promises more, then vary the best."""
        ways = [way for way in ways if self.power(way.mats) <= way.hope]
        for mats in dict.fromkeys(way.mats for way in ways):
            sure = [way for way in ways if way.mats == mats and way.sure]
            for way in sure[:SURE_TRIES]:
                if not self.found:
                    self.attempt(way, 0)
        for turn in (0, 1):
            for way in ways:
                if self.effort < self.kept_effort or self.best > min(
                    way.hope - POCKETS, self.enough
                ):
                    break
                self.attempt(way, turn)
        for turn in range(1, TURNS):
            for way in self.leading():
                if self.effort > 0:
                    self.attempt(way, turn)

    def power(self, mats: Sequence[Element]) -> float:
        """Share of the area that must be warm for the mean power of these mats."""
        watts = sum(mat.watts for mat in mats)
        return watts * 1e6 / self.area / (MEAN_FACTOR * self.room.max_w_per_m2)

    def leading(self) -> list[_Way]:
        """The best few ways, each once."""
        best: dict[int, _Way] = {}
        for entry in sorted(self.found, key=lambda entry: -entry.score):
            best.setdefault(id(entry.way), entry.way)
        return list(best.values())[: LEADING if self.best < self.enough else 1]

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
        by = np.zeros(2)
        size = len(ground.lattice.inside)
        laid: list[LaidOne] | None = None
        for _ in range(COOLINGS):
            laid = (laid and regrown(ground, way.mats, laid, blocked)) or lay_on(
                ground, way.mats, self.starts[id(ground)], turn, blocked
            )
            self.effort -= size if laid else size // 3
            if laid is None:
                return
            by, wires, sampled = self.settled(way, laid, by)
            if sampled.mean > 1:
                return
            if not sampled.hot:
                self.keep(way, wires, sampled.covered)
                return
            blocked |= too_hot(
                ground,
                [(one.nodes, one.chain.nodes) for one in laid],
                by,
                sampled.hot,
                self.judge.pose,
            )

    def settled(
        self, way: _Way, laid: Sequence[LaidOne], by: FloatArray
    ) -> tuple[FloatArray, tuple[LaidWire, ...], Sampled]:
        """What was laid, moved by `by` and from there to where fewest squares get too much.

        Returns how far it was moved in all. Squares count where they hold little floor, so that a
        pass less at a wall makes them cool, and the floor leaves a few millimetres to move in.
        """
        best = self.moved(way, laid, by) or self.moved(way, laid, np.zeros(2))
        assert best is not None
        for axis in (np.array([1.0, 0.0]), np.array([0.0, 1.0])):
            since = best[0]
            for mm in MOVES_MM:
                if not best[2].hot or best[2].mean > 1:
                    break
                there = self.moved(way, laid, since + mm * axis, len(best[2].hot))
                if there is not None and len(there[2].hot) < len(best[2].hot):
                    best = there
        return best

    def moved(
        self, way: _Way, laid: Sequence[LaidOne], by: FloatArray, most_hot: int | None = None
    ) -> tuple[FloatArray, tuple[LaidWire, ...], Sampled] | None:
        """What was laid, moved and judged; None where the floor does not let it move so far."""
        there = [moved(way.ground, one, by) for one in laid] if by.any() else list(laid)
        if any(one is None for one in there):
            return None
        wires = tuple(
            in_room(way.ground, mat, one)
            for mat, one in zip(way.mats, there, strict=True)
            if one is not None
        )
        paths, pitch = [wire.path for wire in wires], way.mats[0].spacing_mm
        return by, wires, self.judge.measure(paths, way.mats, pitch, most_hot)

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


def _choices(room: Room, floor: Polygon | MultiPolygon) -> list[tuple[Element, ...]]:
    """The mats to take, up to `may_use` of one make: those that fit best for each of `PARTS`.

    Each mat fits into some piece of the floor beside the others. Fewer mats go before more that
    fit no better.
    """
    area = floor.area
    pieces = [FULLEST * piece.area for piece in shapely.get_parts(floor)]
    mats = [entry for entry in room.elements if entry.kind == "mat"]
    takes: list[tuple[float, int, tuple[Element, ...]]] = []
    for number in range(1, room.may_use + 1):
        for taken in combinations_with_replacement(mats, number):
            if len({_family(mat) for mat in taken}) == 1:
                sizes = sorted((mat.wire_mm * mat.spacing_mm for mat in taken), reverse=True)
                if shared_out(sizes, pieces) is not None:
                    largest_first = tuple(sorted(taken, key=lambda mat: -mat.wire_mm))
                    takes.append((sum(sizes) / area, number, largest_first))
    found: list[tuple[Element, ...]] = []
    for most in (FULLEST, *PARTS, *SMALL_PARTS):
        fitting = [take for take in takes if take[0] <= most]
        if fitting:
            best = max(fitting, key=lambda take: take[0] - FEWER * take[1])
            if best[2] not in found:
                found.append(best[2])
    return found


def _hope(ground: Ground, mats: tuple[Element, ...]) -> _Way | None:
    """What a lattice could give with these mats; None if its pieces do not hold them."""
    taken = pieces_for(ground, mats)
    if taken is None:
        return None
    nodes = sum(len(ground.pieces[at]) for at in set(taken))
    share = nodes / sum(len(piece) for piece in ground.pieces)
    full = sum(mat.wire_mm for mat in mats) / (nodes * ground.cell_mm)
    return _Way(ground.reached * share * min(1.0, full), full < SURE, ground, mats)
