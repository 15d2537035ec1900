"""How wire grows on a lattice without losing more of its mesh than it may.

A piece is a run of whole passes of one strip, joined by their half-turns. Loose wire moves out
freely. When it is stuck, the end of the wire runs on, or the mesh is cut where that opens most.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from jobs.laying.mat_ending import led_to_free
from jobs.laying.mat_strips import LEAST_PASSES, Strip
from jobs.laying.mat_walk import joined
from jobs.laying.mat_wire import FIXED, LOOSE, MESH, Wire, fill

WORTH_A_CUT = 2
"""Free nodes that a cut in the mesh must open."""


def pieces_of(wire: Wire, strips: Sequence[Strip]) -> list[Strip]:
    """The runs of whole passes that are left of the strips, of `LEAST_PASSES` or more."""
    found = []
    for strip in strips:
        low = strip.low
        for row in range(strip.low, strip.high + 1):
            if not _is_pass(wire, strip, row):
                low = row + 1
            elif row == strip.high or not _joined(wire, strip, row):
                if row - low + 1 >= LEAST_PASSES:
                    found.append(Strip(strip.left, strip.right, low, row))
                low = row + 1
    return found


def grow(
    wire: Wire,
    strips: Sequence[Strip],
    *,
    until_mm: float,
    least_passes: int,
    splice_mm: float,
    end_mm: float,
) -> list[Strip]:
    """Grow the wire until it has the length or is stuck; returns what is left of the strips.

    At least `least_passes` stay on mesh. The first `splice_mm` and the last `end_mm` of the wire
    stay as they are; with an `end_mm` of 0 its end runs on when nothing else is left.
    """
    pieces = pieces_of(wire, strips)
    wire.level = [LOOSE] * len(wire.level)
    for piece in pieces:
        _mark(wire, piece, MESH)
    _hold_ends(wire, splice_mm, end_mm)
    while True:
        fill(wire, until_mm)
        if wire.length >= until_mm:
            return pieces
        if not end_mm and _run_on(wire):
            continue
        cut = _best_cut(wire, pieces, least_passes)
        if cut is None:
            if not end_mm and led_to_free(wire):
                continue
            return pieces
        piece, node, side = cut
        _mark(wire, piece, LOOSE)
        wire.move(node, side)
        left = pieces_of(wire, [piece])
        for part in left:
            _mark(wire, part, MESH)
        _hold_ends(wire, splice_mm, end_mm)
        pieces = [other for other in pieces if other is not piece] + left


def _mark(wire: Wire, piece: Strip, level: int) -> None:
    """Give every edge of a piece a level."""
    rows = wire.lattice.rows
    inner = [
        (column * rows + row, (column + 1) * rows + row)
        for row in range(piece.low, piece.high + 1)
        for column in range(piece.left, piece.right)
    ]
    inner += [
        (column * rows + row, column * rows + row + 1)
        for row in range(piece.low, piece.high)
        for column in (piece.left, piece.right)
    ]
    for a, b in inner:
        if wire.after[a] == b:
            wire.level[a] = level
        elif wire.after[b] == a:
            wire.level[b] = level


def _hold_ends(wire: Wire, splice_mm: float, end_mm: float) -> None:
    _hold(wire, wire.first, wire.after, splice_mm)
    _hold(wire, wire.last, wire.before, end_mm)


def _hold(wire: Wire, end: int, onward: Sequence[int], splice_mm: float) -> None:
    """Fix the edges of the stiff splice at one end."""
    node, run = end, 0.0
    while run < splice_mm and onward[node] >= 0:
        there = onward[node]
        wire.level[node if wire.after[node] == there else there] = FIXED
        run += wire.lattice.length(node, there)
        node = there


def _components(wire: Wire) -> list[int]:
    """For each free node, how many free nodes it is joined to, itself included."""
    size = np.zeros(len(wire.free), dtype=np.int64)
    nodes, begins = joined(wire.lattice.steps, np.asarray(wire.free), wire.lattice.rows)
    counts = np.diff(begins)
    size[nodes] = np.repeat(counts, counts)
    found: list[int] = size.tolist()
    return found


def _run_on(wire: Wire) -> bool:
    """Run the end of the wire on by one node, along the edge of what is free."""
    steps = (1, -1, wire.lattice.rows, -wire.lattice.rows)
    ways = [
        (sum(wire.free[wire.last + step + side] for side in steps), step)
        for step in steps
        if wire.free[wire.last + step] and wire.lattice.step(wire.last, wire.last + step)
    ]
    if not ways:
        return False
    wire.append(wire.last + min(ways)[1])
    return True


def _best_cut(
    wire: Wire, pieces: Sequence[Strip], least_passes: int
) -> tuple[Strip, int, int] | None:
    """The cut (piece, node, side) that opens most free floor for the passes that it loses."""
    size = _components(wire)
    total = sum(piece.passes for piece in pieces)
    best, most = None, -float("inf")
    for piece in pieces:
        span = piece.right - piece.left
        for a, lost in _edges(wire, piece):
            if wire.level[a] != MESH or total - lost < least_passes:
                continue
            for side in wire.sides(a):
                opened = size[a + side]
                if opened < WORTH_A_CUT or not wire.can_move(a, side):
                    continue
                gain = opened - lost * (span + 1)
                if gain > most:
                    best, most = (piece, a, side), gain
    return best


def _edges(wire: Wire, piece: Strip) -> list[tuple[int, int]]:
    """Edges on the rim of a piece that could be moved out, and the passes lost by each."""
    rows = wire.lattice.rows
    found = []
    for row in {piece.low, piece.high}:
        for column in range(piece.left, piece.right):
            a, b = column * rows + row, (column + 1) * rows + row
            rest = piece.passes - 1
            lost = 1 if rest >= LEAST_PASSES else piece.passes
            found.append((a if wire.after[a] == b else b, lost))
    for row in range(piece.low, piece.high):
        below, above = row - piece.low + 1, piece.high - row
        lost = sum(part for part in (below, above) if part < LEAST_PASSES)
        for column in (piece.left, piece.right):
            a, b = column * rows + row, column * rows + row + 1
            if wire.after[a] == b:
                found.append((a, lost))
            elif wire.after[b] == a:
                found.append((b, lost))
    return found


def _is_pass(wire: Wire, strip: Strip, row: int) -> bool:
    rows = wire.lattice.rows
    line = [column * rows + row for column in range(strip.left, strip.right + 1)]
    return all(wire.after[a] == b for a, b in pairwise(line)) or all(
        wire.before[a] == b for a, b in pairwise(line)
    )


def _joined(wire: Wire, strip: Strip, row: int) -> bool:
    """Whether a pass and the next one up are joined by a half-turn on the mesh."""
    rows = wire.lattice.rows
    ends = [column * rows + row for column in (strip.left, strip.right)]
    return _is_pass(wire, strip, row + 1) and any(
        wire.after[a] == a + 1 or wire.before[a] == a + 1 for a in ends
    )
