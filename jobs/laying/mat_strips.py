"""Strips of mat on a lattice, and the chain in which one wire runs through them.

A strip is a block of rows over the columns that a mat's passes span. The wire enters at one
corner and leaves at the other end: on the far side if the strip has an odd number of passes, on
the near side if even.
"""

from collections import deque
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from jobs.laying.mat_lattice import Lattice

LEAST_PASSES = 3
"""Shorter pieces of mesh are not worth a cut (our own convention)."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Passes from column `left` to `right` in the rows from `low` to `high`, all inclusive."""

    left: int
    right: int
    low: int
    high: int

    @property
    def passes(self) -> int:
        return self.high - self.low + 1

    def nodes(self, rows: int) -> list[int]:
        return [
            column * rows + row
            for column in range(self.left, self.right + 1)
            for row in range(self.low, self.high + 1)
        ]


@dataclass(frozen=True, slots=True)
class Chain:
    """A wire through strips: its nodes, and the strips in order as they were run through."""

    nodes: tuple[int, ...]
    strips: tuple[Strip, ...]


def strips_at(
    lattice: Lattice, free: Sequence[bool], lefts: Iterable[int], span: int
) -> list[Strip]:
    """Find the strips whose left columns are given: all rows in which a whole pass fits."""
    found = []
    rows = lattice.rows
    for left in lefts:
        low = -1
        for row in range(rows):
            a, b = left * rows + row, (left + span) * rows + row
            fits = free[b] and all(free[node] and lattice.right[node] for node in range(a, b, rows))
            turns = low < 0 or (lattice.up[a - 1] and lattice.up[b - 1])
            if low >= 0 and not (fits and turns):
                found.append(Strip(left, left + span, low, row - 1))
                low = -1
            if fits and low < 0:
                low = row
        # the topmost row lies outside the area, so every run has ended
    return [strip for strip in found if strip.passes > LEAST_PASSES]


def largest_strips(
    lattice: Lattice, free: Sequence[bool], lefts: Sequence[int], span: int
) -> list[Strip]:
    """Take the longest strip that fits, then the longest beside it, until none is left."""
    open_ = list(free)
    chosen: list[Strip] = []
    while fitting := strips_at(lattice, open_, lefts, span):
        best = max(fitting, key=lambda strip: (strip.passes, -strip.left))
        chosen.append(best)
        for node in best.nodes(lattice.rows):
            open_[node] = False
    return chosen


def run_through(strip: Strip, *, from_left: bool, from_low: bool, rows: int) -> list[int]:
    """The nodes of a strip in the order of the wire, entered at the given corner."""
    found: list[int] = []
    order = range(strip.low, strip.high + 1)
    across = range(strip.left, strip.right + 1)
    for row in order if from_low else reversed(order):
        columns = across if from_left else reversed(across)
        found += [column * rows + row for column in columns]
        from_left = not from_left
    return found


def reach(
    lattice: Lattice, free: Sequence[bool], start: int, targets: Collection[int], *, most: int
) -> dict[int, list[int]]:
    """Shortest ways from `start` over free nodes to the nearest targets, `most` of them."""
    came = {start: -1}
    queue = deque([start])
    ways: dict[int, list[int]] = {}
    while queue and len(ways) < most:
        node = queue.popleft()
        for step in (1, -1, lattice.rows, -lattice.rows):
            there = node + step
            if there in came or not lattice.step(node, there):
                continue
            if there in targets:
                came[there] = node
                way = [there]
                while came[way[-1]] >= 0:
                    way.append(came[way[-1]])
                ways[there] = way[::-1]
            elif free[there]:
                came[there] = node
                queue.append(there)
    return ways


@dataclass(frozen=True, slots=True)
class _Corner:
    strip: Strip
    from_left: bool
    from_low: bool


class ChainSearch:
    """Depth-first search for the wire that runs through most mesh, nearest strips first."""

    def __init__(
        self,
        lattice: Lattice,
        free: Sequence[bool],
        strips: Sequence[Strip],
        *,
        most_passes: int,
        tries: int = 24,
    ) -> None:
        self.lattice, self.rows = lattice, lattice.rows
        self.most_passes, self.tries = most_passes, tries
        self.free = list(free)
        self.corners: dict[int, _Corner] = {}
        for strip in strips:
            for node in strip.nodes(self.rows):
                self.free[node] = False
            for left in (True, False):
                for low in (True, False):
                    column = strip.left if left else strip.right
                    row = strip.low if low else strip.high
                    self.corners[column * self.rows + row] = _Corner(strip, left, low)
        self.best = Chain((), ())
        self.best_passes = 0

    def from_stub(self, stub: Sequence[int]) -> Chain:
        """Run from a straight stub, or from a corner of a strip if the stub is its node alone."""
        self.best, self.best_passes, self.left = Chain((), ()), 0, self.tries
        if len(stub) == 1 and stub[0] in self.corners:
            self._enter([], self.corners[stub[0]], (), ())
        elif all(self.free[node] for node in stub):
            self._go_on(list(stub), (), ())
        return self.best

    def _enter(
        self,
        nodes: list[int],
        corner: _Corner,
        done: tuple[Strip, ...],
        entered: tuple[Strip, ...],
    ) -> None:
        """Run through a strip, whole or short of its last pass, and go on from there."""
        spare = self.most_passes - sum(strip.passes for strip in done)
        for short in (0, 1):
            passes = min(corner.strip.passes - short, spare)
            if passes < LEAST_PASSES or self.left <= 0:
                return
            strip = _first_passes(corner.strip, passes, from_low=corner.from_low)
            through = run_through(
                strip, from_left=corner.from_left, from_low=corner.from_low, rows=self.rows
            )
            self._go_on([*nodes, *through], (*done, strip), (*entered, corner.strip))

    def _go_on(self, nodes: list[int], done: tuple[Strip, ...], entered: tuple[Strip, ...]) -> None:
        passes = sum(strip.passes for strip in done)
        if (passes, -len(nodes)) > (self.best_passes, -len(self.best.nodes)):
            self.best, self.best_passes = Chain(tuple(nodes), done), passes
        self.left -= 1
        if self.left <= 0 or passes >= self.most_passes:
            return
        free = list(self.free)
        for strip in entered:  # a pass that was left out is open to loose wire
            for node in strip.nodes(self.rows):
                free[node] = True
        for node in nodes:
            free[node] = False
        targets = {node for node, corner in self.corners.items() if corner.strip not in entered}
        ways = reach(self.lattice, free, nodes[-1], targets, most=3)
        for node, way in sorted(ways.items(), key=lambda item: len(item[1])):
            self._enter([*nodes, *way[1:-1]], self.corners[node], done, entered)


def _first_passes(strip: Strip, passes: int, *, from_low: bool) -> Strip:
    if from_low:
        return Strip(strip.left, strip.right, strip.low, strip.low + passes - 1)
    return Strip(strip.left, strip.right, strip.high - passes + 1, strip.high)
