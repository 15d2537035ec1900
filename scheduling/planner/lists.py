"""The search over orders, for jobs of many tasks: a population of lists that are decoded.

Compiled. A list is decoded by giving each task in turn its first place (serial schedule
generation), then justified: decoded backwards in the order of the ends, and forwards again in
the order of those starts, which never makes a project longer.
Sources: R. Kolisch, S. Hartmann, "Heuristic algorithms for the resource-constrained project
scheduling problem", in: Project Scheduling (1999) 147-178 (lists and decoding); V. Valls,
F. Ballestín, S. Quintanilla, "A hybrid genetic algorithm for the resource-constrained project
scheduling problem", European Journal of Operational Research 185 (2008) 495-508
(justification in a genetic algorithm); from memory.
"""

from typing import NamedTuple

import numpy as np

from scheduling.planner.arrays import NEVER, NO_CREW, UNPLANNED, Arrays, Ints
from scheduling.planner.board import (
    OUT,
    Board,
    draw,
    earliest_start,
    first_place,
    latest_end,
    put,
)
from scheduling.planner.compiled import compiled
from scheduling.planner.reinsertion import Tally, Weights, cost, count_all, keep_if_best

POPULATION = 60
FAILED = 1 << 60


class Lists(NamedTuple):
    order: Ints  # [member, place]: task
    cost: Ints  # of each member
    child: Ints
    key: Ints  # of each task: what a list is sorted by
    seen: Ints  # of each task: whether the child has it


def new_lists(a: Arrays) -> Lists:
    tasks = len(a.task)
    return Lists(
        order=np.tile(a.order, (POPULATION, 1)),
        cost=np.full(POPULATION, FAILED, dtype=np.int64),
        child=a.order.copy(),
        key=np.zeros(tasks, dtype=np.int64),
        seen=np.zeros(tasks, dtype=np.int64),
    )


def mirrored(a: Arrays) -> Arrays:
    """The problem with time running backwards: what came after comes before."""
    task = a.task.copy()
    for before, after in (("before_at", "after_at"), ("before_to", "after_to")):
        task[before], task[after] = a.task[after], a.task[before]
    task["release"], task["latest"] = 0, NEVER
    rank, slot = np.zeros_like(a.rank), np.full_like(a.slot, NEVER)
    for crew in range(len(rank)):
        count = a.rank[crew, -1]
        slot[crew, :count] = a.half_days - 1 - a.slot[crew, :count][::-1]
        rank[crew] = np.searchsorted(slot[crew, :count], np.arange(a.half_days + 1))
    return a._replace(
        task=task, before=a.after, after=a.before, rank=rank, slot=slot, order=a.order[::-1].copy()
    )


@compiled
def decode(a: Arrays, b: Board, clear: Board, order: Ints) -> bool:
    """Give each task in turn its first place; False if one would stand in a fixed one's way."""
    for crew in range(len(clear.free)):
        for word in range(len(clear.free[crew])):
            b.free[crew, word] = clear.free[crew, word]
    b.used[:] = 0
    for task in range(len(a.task)):
        if not a.task[task].held:
            b.task[task].start = OUT
        elif b.task[task].start >= 0:
            put(a, b, task, b.task[task].crew, b.task[task].start, b.task[task].end)
    for at in range(len(order)):
        task = order[at]
        if a.task[task].held:
            continue
        crew, start, end = first_place(a, b, task, earliest_start(a, b, task), 0)
        if end == NEVER:
            put(a, b, task, NO_CREW, UNPLANNED, UNPLANNED)
        elif end > latest_end(a, b, task):
            return False
        else:
            put(a, b, task, crew, start, end)
    return True


@compiled
def sort_by_key(order: Ints, key: Ints) -> None:
    """Insertion sort, stable: the lists are nearly in order."""
    for at in range(1, len(order)):
        task, to = order[at], at
        while to > 0 and key[order[to - 1]] > key[task]:
            order[to] = order[to - 1]
            to -= 1
        order[to] = task


@compiled
def justify(a: Arrays, back: Arrays, b: Board, clear: Board, clear_back: Board, pop: Lists) -> bool:
    """Decode the child backwards by its ends and forwards again by those starts."""
    for task in range(len(a.task)):
        pop.key[task] = -b.task[task].end
    sort_by_key(pop.child, pop.key)
    if not decode(back, b, clear_back, pop.child):
        return False
    for task in range(len(a.task)):
        pop.key[task] = -b.task[task].end
    sort_by_key(pop.child, pop.key)
    return decode(a, b, clear, pop.child)


@compiled
def shuffle(a: Arrays, b: Board, pop: Lists) -> None:
    """Make the child a list by chance in which each task follows what comes before it.

    Of those that may be next, the one whose critical path is longest has the better chance.
    """
    count = len(a.order)
    pop.seen[:] = 0
    for place in range(count):
        best, best_key = -1, -1
        for task in range(count):
            if pop.seen[task]:
                continue
            ready = True
            for at in range(a.task[task].before_at, a.task[task].before_to):
                ready = ready and pop.seen[a.before[at].task] == 1
            if ready:
                key = draw(b.random, 1024) + pop.key[task]
                if key > best_key:
                    best, best_key = task, key
        pop.child[place] = best
        pop.seen[best] = 1


@compiled
def tails(a: Arrays, pop: Lists) -> None:
    """Fill `pop.key` with how much must follow each task, the longest at 1024."""
    longest = 1
    for place in range(len(a.order) - 1, -1, -1):
        task = a.order[place]
        pop.key[task] = 0
        for at in range(a.task[task].after_at, a.task[task].after_to):
            after = a.after[at].task
            pop.key[task] = max(pop.key[task], pop.key[after] + a.after[at].lag)
        pop.key[task] += a.task[task].length
        longest = max(longest, pop.key[task])
    for task in range(len(a.order)):
        pop.key[task] = pop.key[task] * 1024 // longest


@compiled
def cross(a: Arrays, b: Board, pop: Lists, mother: int, father: int) -> None:
    """The child: a stretch of the father's list between two of the mother's."""
    count = len(a.order)
    first, last = draw(b.random, count), draw(b.random, count)
    if first > last:
        first, last = last, first
    pop.seen[:] = 0
    place = 0
    while place < first:
        task = pop.order[mother, place]
        pop.child[place] = task
        pop.seen[task] = 1
        place += 1
    at = 0
    while place < last:
        task = pop.order[father, at]
        at += 1
        if not pop.seen[task]:
            pop.child[place] = task
            pop.seen[task] = 1
            place += 1
    for at in range(count):
        task = pop.order[mother, at]
        if not pop.seen[task]:
            pop.child[place] = task
            pop.seen[task] = 1
            place += 1


@compiled
def shake(a: Arrays, b: Board, pop: Lists, member: int) -> None:
    """The child: the member's list, a stretch of it in another order."""
    count = len(a.order)
    for place in range(count):
        task = pop.order[member, place]
        pop.child[place] = task
        pop.key[task] = place
    wide = 4 + draw(b.random, max(1, count // 4))
    first = draw(b.random, count) - wide // 2
    for place in range(max(0, first), min(count, first + wide)):
        pop.key[pop.child[place]] += draw(b.random, wide) - draw(b.random, wide)
    for place in range(count):
        task = pop.order[member, place]
        for at in range(a.task[task].before_at, a.task[task].before_to):
            pop.key[task] = max(pop.key[task], pop.key[a.before[at].task])
    sort_by_key(pop.child, pop.key)


@compiled
def evolve(
    a: Arrays,
    back: Arrays,
    b: Board,
    clear: Board,
    clear_back: Board,
    t: Tally,
    pop: Lists,
    w: Weights,
    steps: int,
    born: int,
) -> int:
    """Make `steps` children, `born` having been made; returns how often the best plan fell.

    The first fill the population; a later one takes its mother's place if it is no worse.
    """
    bettered = 0
    mother = 0
    for step in range(born, born + steps):
        if step < POPULATION:
            tails(a, pop)
            shuffle(a, b, pop)
        else:
            mother = draw(b.random, POPULATION)
            if draw(b.random, 2):
                cross(a, b, pop, mother, tournament(b, pop))
            else:
                shake(a, b, pop, mother)
        if not decode(a, b, clear, pop.child):
            continue
        if not justify(a, back, b, clear, clear_back, pop):
            continue
        for task in range(len(a.task)):
            pop.key[task] = b.task[task].start
        sort_by_key(pop.child, pop.key)
        count_all(a, b, t)
        bettered += keep_if_best(b, t, w)
        member = step if step < POPULATION else mother
        now = cost(t, w)
        if step < POPULATION or (now <= pop.cost[member] and is_new(pop, now)):
            pop.cost[member] = now
            for place in range(len(pop.child)):
                pop.order[member, place] = pop.child[place]
    return bettered


@compiled
def tournament(b: Board, pop: Lists) -> int:
    one, other = draw(b.random, POPULATION), draw(b.random, POPULATION)
    return one if pop.cost[one] <= pop.cost[other] else other


@compiled
def is_new(pop: Lists, now: int) -> bool:
    """Whether no member is the same list at the same cost as the child."""
    for member in range(POPULATION):
        if pop.cost[member] == now:
            same = True
            for place in range(len(pop.child)):
                if pop.order[member, place] != pop.child[place]:
                    same = False
                    break
            if same:
                return False
    return True
