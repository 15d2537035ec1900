"""Which jobs an exact search takes on together: a late or moved one and those around it."""

from typing import NamedTuple

import numpy as np

from scheduling.planner.arrays import NEVER, Arrays, Ints, Table
from scheduling.planner.board import Board, empty_board, set_up
from scheduling.planner.reinsertion import Tally, Weights, count_all, new_tally

FEWEST_JOBS, MOST_JOBS = 6, 14
MOST_PLACES = 12_000  # crews × slots over the tasks of a window: what a model can be built of


class Window(NamedTuple):
    tasks: Ints
    latest: Ints  # of each task in the problem: by when it must end
    outside: int  # lateness of the jobs that stay


def state(a: Arrays, places: Table, seed: int) -> tuple[Board, Tally]:
    """The board and the tally of a plan."""
    board, tally = empty_board(a, seed), new_tally(a)
    set_up(a, board, places)
    count_all(a, board, tally)
    return board, tally


def whole(a: Arrays, tally: Tally, cap: int) -> Window:
    """All tasks; no job can be later than all of the lateness that there is."""
    return _window(a, tally, np.arange(len(a.job)), cap)


def places(a: Arrays, tally: Tally) -> int:
    """How many places, about, all tasks together have to choose from."""
    return _size(a, tally, np.arange(len(a.job)), np.zeros(len(a.job), dtype=np.int64))


def choose(
    a: Arrays, board: Board, tally: Tally, w: Weights, random: np.random.Generator
) -> Window:
    """A job that could be better, and those with most bookings while it is under way."""
    start, of = board.task["start"], a.task["job"]
    spans = np.full(len(a.job), NEVER)
    np.minimum.at(spans, of, np.where(start < 0, NEVER, start))
    centre = random.choice(_candidates(a, tally, w))
    during = (start >= spans[centre]) & (start < tally.job["end"][centre])
    shared = np.bincount(of[during], minlength=len(a.job)) + 3.0 * random.random(len(a.job))
    shared[_hopeful(a, tally)] += 2
    shared += tally.job["moved"]
    shared[np.bincount(of[during], minlength=len(a.job)) == 0] = 0
    shared[centre] = NEVER
    ranked = np.argsort(-shared)
    ranked = ranked[shared[ranked] > 0]
    jobs = ranked[: random.integers(FEWEST_JOBS, MOST_JOBS + 1)]
    while len(jobs) > 1 and _size(a, tally, jobs, spans) > MOST_PLACES:
        jobs = jobs[:-1]
    return _window(a, tally, jobs, w.cap)


def _hopeful(a: Arrays, tally: Tally) -> Ints:
    """The late jobs that could end earlier."""
    late = (tally.job["late"] > 0) & (tally.job["end"] > a.job["good_end"])
    return np.flatnonzero(late)


def _candidates(a: Arrays, tally: Tally, w: Weights) -> Ints:
    over = tally.total["late"][0] > w.cap
    chosen = _hopeful(a, tally) if over else np.flatnonzero(tally.job["moved"])
    if len(chosen) == 0:
        chosen = np.flatnonzero(tally.job["end"] > a.job["least_end"])
    return chosen if len(chosen) else np.arange(len(a.job))


def _window(a: Arrays, tally: Tally, jobs: Ints, cap: int) -> Window:
    inside = np.zeros(len(a.job), dtype=bool)
    inside[jobs] = True
    total = int(tally.total["late"][0])
    mine = int(tally.job["late"][jobs].sum())
    spare = mine + max(0, cap - total)
    weight = np.maximum(a.job["weight"], 1)
    latest = a.job["due"] + spare // weight
    latest[a.job["weight"] == 0] = a.half_days
    if tally.total["unplanned"][0]:
        latest[:] = a.half_days  # planning one more task is worth any lateness
    latest = np.maximum(latest, tally.job["end"])
    return Window(
        tasks=np.flatnonzero(inside[a.task["job"]]),
        latest=np.minimum(latest, a.half_days)[a.task["job"]],
        outside=total - mine,
    )


def _size(a: Arrays, tally: Tally, jobs: Ints, spans: Ints) -> int:
    """How many places the tasks of the jobs have about, all crews counted."""
    tasks = np.flatnonzero(np.isin(a.task["job"], jobs) & (a.task["held"] == 0))
    crews = np.maximum(1, a.task["able_to"][tasks] - a.task["able_at"][tasks])
    job = a.task["job"][tasks]
    wide = np.maximum(tally.job["end"], a.job["due"])[job] - np.minimum(spans[job], a.half_days)
    return int((crews * wide).sum())
