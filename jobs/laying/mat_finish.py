"""Where a wire spliced at both ends may end: straight runs to places that a lead comes to."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jobs.laying.mat_lattice import Lattice
from jobs.laying.mat_walk import BoolArray, IntArray, nearest, way_back

NEAREST = 8
"""Runs that are tried from where a chain ends, the nearest first."""


@dataclass(frozen=True, slots=True)
class Finishes:
    """Straight runs of nodes, (runs, most nodes), from inside outwards, the inmost repeated."""

    runs: IntArray
    outmost: frozenset[int]

    @classmethod
    def of(cls, runs: Sequence[Sequence[int]]) -> "Finishes":
        """Take runs of any length of one node or more."""
        size = max((len(run) for run in runs), default=1)
        padded = [[run[0]] * (size - len(run)) + list(run) for run in runs]
        return cls(
            np.array(padded, dtype=np.int64).reshape(-1, size), frozenset(run[-1] for run in runs)
        )

    def ends_with(self, nodes: IntArray) -> bool:
        """Whether the last nodes already are one of the runs."""
        if nodes[-1] not in self.outmost:
            return False
        for run in self.runs[self.runs[:, -1] == nodes[-1]]:
            own = np.unique(run)
            if len(nodes) >= len(own) and np.isin(nodes[-len(own) :], own).all():
                return True
        return False

    def led_to(self, nodes: IntArray, free: BoolArray, lattice: Lattice) -> IntArray | None:
        """The wire with a way over free nodes to one of the runs, and the run; None without."""
        open_ = self.runs[free[self.runs].all(axis=1)]
        targets = np.zeros(len(free), dtype=np.bool_)
        targets[open_[:, 0]] = True
        ends, before = nearest(lattice.steps, free, targets, lattice.rows, int(nodes[-1]), NEAREST)
        for end in ends.tolist():
            way = way_back(before, end)[1:]
            for run in open_[open_[:, 0] == end]:
                own = run[np.flatnonzero(run != end)]
                if not np.isin(way, own).any():
                    return np.concatenate([nodes, np.array(way, dtype=np.int64), own])
        return None
