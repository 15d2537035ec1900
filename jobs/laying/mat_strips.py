"""Strips of mat on a lattice, and the chain in which one wire runs through them.

A strip is a block of rows over the columns that a mat's passes span. The wire enters at one
corner and leaves at the other end: on the far side if the strip has an odd number of passes, on
the near side if even.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from jobs.laying.mat_finish import Finishes
from jobs.laying.mat_lattice import Lattice
from jobs.laying.mat_walk import BoolArray, IntArray, nearest, runs_of_passes, way_back
from jobs.laying.mat_wire import CORNER

LEAST_PASSES = 3
"""Shorter pieces of mesh are not worth a cut (our own convention)."""

MOST_WAYS = 3
"""Strips that a chain may go on to from where it is, the nearest first."""


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
    lattice: Lattice, free: Sequence[bool] | BoolArray, lefts: Iterable[int], span: int
) -> list[Strip]:
    """Find the strips whose left columns are given: all rows in which a whole pass fits."""
    open_ = np.asarray(free, dtype=np.bool_)
    found = []
    for left in lefts:
        runs = runs_of_passes(lattice.steps, open_, lattice.rows, left, span)
        found += [
            Strip(left, left + span, low, high)
            for low, high in runs.tolist()
            if high - low + 1 > LEAST_PASSES
        ]
    return found


def largest_strips(
    lattice: Lattice, free: Sequence[bool], lefts: Sequence[int], span: int
) -> list[Strip]:
    """Take the longest strip that fits, then the longest beside it, until none is left."""
    open_ = np.array(free, dtype=np.bool_)
    chosen: list[Strip] = []
    while fitting := strips_at(lattice, open_, lefts, span):
        best = max(fitting, key=lambda strip: (strip.passes, -strip.left))
        chosen.append(best)
        open_[best.nodes(lattice.rows)] = False
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


@dataclass(frozen=True, slots=True)
class _Corner:
    strip: Strip
    from_left: bool
    from_low: bool


class ChainSearch:
    """Depth-first search for the wire that runs through most mesh, nearest strips first.

    With `finishes`, the chain must end with one of these straight runs, as a wire does that is
    spliced at both ends; or with a pass, in a node that one of them ends in. It is not longer
    then than `longest_mm`, corners rounded with `radius_mm`: a wire that comes back cannot be
    cut off.
    """

    def __init__(
        self,
        lattice: Lattice,
        free: Sequence[bool],
        strips: Sequence[Strip],
        *,
        most_passes: int,
        finishes: Sequence[Sequence[int]] | None = None,
        longest_mm: float = inf,
        radius_mm: float = 0.0,
        tries: int = 24,
    ) -> None:
        self.lattice, self.rows = lattice, lattice.rows
        self.most_passes, self.tries = most_passes, tries
        self.longest_mm, self.radius_mm = longest_mm, radius_mm
        self.open = np.array(free, dtype=np.bool_)
        self.free = self.open.copy()
        self.inside = {strip: np.array(strip.nodes(self.rows)) for strip in strips}
        self.corners: dict[int, _Corner] = {}
        self.targets = np.zeros(len(free), dtype=np.bool_)
        for strip in strips:
            self.free[self.inside[strip]] = False
            for left in (True, False):
                for low in (True, False):
                    column = strip.left if left else strip.right
                    row = strip.low if low else strip.high
                    node = column * self.rows + row
                    self.corners[node] = _Corner(strip, left, low)
                    self.targets[node] = True
        self.finishes = None if finishes is None else Finishes.of(finishes)
        self.best = Chain((), ())
        self.best_passes = 0

    def from_stub(self, stub: Sequence[int]) -> Chain:
        """Run from a straight stub, or from a corner of a strip if the stub is its node alone."""
        self.best, self.best_passes, self.left = Chain((), ()), 0, self.tries
        if len(stub) == 1 and stub[0] in self.corners:
            self._enter(np.empty(0, dtype=np.int64), self.corners[stub[0]], (), ())
        elif all(self.free[node] for node in stub):
            self._go_on(np.array(stub), (), ())
        return self.best

    def _enter(
        self,
        nodes: IntArray,
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
            self._go_on(np.concatenate([nodes, through]), (*done, strip), (*entered, corner.strip))

    def _go_on(self, nodes: IntArray, done: tuple[Strip, ...], entered: tuple[Strip, ...]) -> None:
        passes = sum(strip.passes for strip in done)
        self._keep(nodes, done, passes)
        self.left -= 1
        if self.left <= 0 or passes >= self.most_passes:
            return
        free, targets = self.free.copy(), self.targets.copy()
        for strip in entered:  # a pass that was left out is open to loose wire
            free[self.inside[strip]] = True
            targets[self.inside[strip]] = False
        free[nodes] = False
        ends, before = nearest(self.lattice.steps, free, targets, self.rows, nodes[-1], MOST_WAYS)
        for node in ends.tolist():
            way = way_back(before, node)[1:-1]
            onward = np.concatenate([nodes, np.array(way, dtype=np.int64)])
            self._enter(onward, self.corners[node], done, entered)

    def _keep(self, nodes: IntArray, done: tuple[Strip, ...], passes: int) -> None:
        if (passes, -len(nodes)) <= (self.best_passes, -len(self.best.nodes)):
            return
        whole = nodes if self.finishes is None else self._finished(nodes)
        if whole is not None:
            self.best, self.best_passes = Chain(tuple(whole.tolist()), done), passes

    def _finished(self, nodes: IntArray) -> IntArray | None:
        """The wire led on to the nearest straight run that it can end with; None if there is none.

        Strips that were not run through are open to it.
        """
        assert self.finishes is not None
        whole: IntArray | None = nodes
        if not self.finishes.ends_with(nodes):
            free = self.open.copy()
            free[nodes] = False
            whole = self.finishes.led_to(nodes, free, self.lattice)
        if whole is None or self._length(whole) > self.longest_mm:
            return None
        return whole

    def _length(self, nodes: IntArray) -> float:
        """Length over nodes with rounded corners, in mm."""
        column, row = np.divmod(nodes, self.rows)
        steps = np.diff(nodes)
        corners = int((steps[1:] != steps[:-1]).sum())
        along = np.abs(np.diff(np.asarray(self.lattice.xs)[column])).sum()
        up = np.abs(np.diff(np.asarray(self.lattice.ys)[row])).sum()
        return float(along + up) - corners * CORNER * self.radius_mm


def _first_passes(strip: Strip, passes: int, *, from_low: bool) -> Strip:
    if from_low:
        return Strip(strip.left, strip.right, strip.low, strip.low + passes - 1)
    return Strip(strip.left, strip.right, strip.high - passes + 1, strip.high)
