"""The plan under search: what each crew and pool still has free, and the first place for a task.

Compiled. A crew's free working half-days are bits by rank, 64 to a word with an empty word
behind, so that a run of free ones is found with shifts, a word at a time.
"""

from typing import NamedTuple

import numpy as np
from numba.cpython.unsafe.numbers import trailing_zeros
from numpy.typing import NDArray

from scheduling.planner.arrays import (
    NEVER,
    NO_CREW,
    PLACE,
    UNPLANNED,
    Arrays,
    Ints,
    Table,
    fields,
)
from scheduling.planner.compiled import compiled

OUT = -2  # for a start slot: taken out, to be put back
WORD = 64
ON_BOARD = fields("crew", "start", "end", "old_crew", "old_start", "old_end")


class Board(NamedTuple):
    task: Table
    free: NDArray[np.uint64]  # [crew, word]
    holder: Ints  # [crew, rank]: the task there, or -1
    used: Ints  # [pool, slot]
    random: NDArray[np.uint64]  # state of the generator


def empty_board(a: Arrays, seed: int) -> Board:
    crews, words = len(a.rank), a.half_days // WORD + 2
    free = np.zeros((crews, words), dtype=np.uint64)
    for crew in range(crews):
        bits = (1 << int(a.rank[crew, -1])) - 1
        for word in range(words):
            free[crew, word] = (bits >> (WORD * word)) & ((1 << WORD) - 1)
    return Board(
        task=np.full(len(a.task), OUT, dtype=ON_BOARD),
        free=free,
        holder=np.full(a.slot.shape, -1, dtype=np.int64),
        used=np.zeros((len(a.pool), a.half_days), dtype=np.int64),
        random=np.array([(seed * 0x9E3779B97F4A7C15 + 0x1234567) % (1 << 64) or 1], np.uint64),
    )


def places_on(b: Board) -> Table:
    table = np.zeros(len(b.task), dtype=PLACE)
    table["crew"], table["start"] = b.task["crew"], b.task["start"]
    return table


@compiled
def draw(random: NDArray[np.uint64], below: int) -> int:
    """A whole number in [0, below), the same on every machine.

    Source: S. Vigna, "An experimental exploration of Marsaglia's xorshift generators,
    scrambled", ACM Transactions on Mathematical Software 42 (2016) 30 (xorshift64*; from memory).
    """
    x = random[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    random[0] = x
    high = (x * np.uint64(2685821657736338717)) >> np.uint64(32)
    return int(np.int64((high * np.uint64(below)) >> np.uint64(32)))


@compiled
def first_run(free: NDArray[np.uint64], rank: int, days: int) -> int:
    """The first rank from `rank` on where `days` free bits begin, or -1."""
    word, last = rank >> 6, len(free) - 1
    mask = ~np.uint64(0) << np.uint64(rank & 63)
    while word < last:
        runs = free[word] & mask
        if runs:
            for shift in range(1, min(days, WORD)):
                runs &= free[word] >> np.uint64(shift) | free[word + 1] << np.uint64(WORD - shift)
        while runs:
            first = np.int64(trailing_zeros(runs))  # type: ignore[call-arg]  # its typing context
            length = min(days, WORD)
            while length < days and is_free(free, (word << 6) + first + length):
                length += 1
            if length == days:
                return (word << 6) + first
            runs &= runs - np.uint64(1)
        mask = ~np.uint64(0)
        word += 1
    return -1


@compiled
def is_free(free: NDArray[np.uint64], rank: int) -> bool:
    word = rank >> 6
    return word < len(free) and free[word] >> np.uint64(rank & 63) & np.uint64(1) != 0


@compiled
def last_short(a: Arrays, b: Board, task: int, start: int, end: int) -> int:
    """The last slot in [start, end) in which a pool has too little left for the task, or -1."""
    last = -1
    for at in range(a.task[task].use_at, a.task[task].use_to):
        pool = a.use[at].pool
        most = a.pool[pool].capacity - a.use[at].amount
        for slot in range(end - 1, max(start, last + 1) - 1, -1):
            if b.used[pool, slot] > most:
                last = slot
                break
    return last


@compiled
def first_of_crew(a: Arrays, b: Board, task: int, crew: int, earliest: int) -> tuple[int, int]:
    """Start and end of the first free place of a crew, or without one; NEVER if there is none."""
    days = a.task[task].length
    if crew == NO_CREW:
        start = earliest
        while start + days <= a.half_days:
            short = last_short(a, b, task, start, start + days)
            if short < 0:
                return start, start + days
            start = short + 1
        return NEVER, NEVER
    rank = a.rank[crew, earliest]
    while True:
        rank = first_run(b.free[crew], rank, days)
        if rank < 0:
            return NEVER, NEVER
        start, end = a.slot[crew, rank], a.slot[crew, rank + days - 1] + 1
        short = last_short(a, b, task, start, end)
        if short < 0:
            return start, end
        rank = a.rank[crew, short + 1]


@compiled
def first_place(a: Arrays, b: Board, task: int, earliest: int, skip: int) -> tuple[int, int, int]:
    """Crew, start and end of the place that ends first; end NEVER if there is none.

    A crew is passed over with a chance of `skip` in 1024, so that not every try is the same.
    """
    best_crew, best_start, best_end = NO_CREW, NEVER, NEVER
    able_at, able_to = a.task[task].able_at, a.task[task].able_to
    days = a.task[task].length
    if earliest > a.half_days or (a.task[task].needs_crew and able_at == able_to):
        return best_crew, best_start, best_end
    if days == 0:
        return a.able[able_at] if a.task[task].needs_crew else NO_CREW, earliest, earliest
    if not a.task[task].needs_crew:
        best_start, best_end = first_of_crew(a, b, task, NO_CREW, earliest)
        return best_crew, best_start, best_end
    for at in range(able_at, able_to):
        crew = a.able[at]
        if a.slot[crew, a.rank[crew, earliest] + days - 1] + 1 >= best_end:
            continue  # even if all of it is free
        if skip and draw(b.random, 1024) < skip:
            continue
        start, end = first_of_crew(a, b, task, crew, earliest)
        if end < best_end:
            best_crew, best_start, best_end = crew, start, end
    return best_crew, best_start, best_end


@compiled
def put(a: Arrays, b: Board, task: int, crew: int, start: int, end: int) -> None:
    b.task[task].crew = crew
    b.task[task].start = start
    b.task[task].end = end
    mark(a, b, task, 1)


@compiled
def take_out(a: Arrays, b: Board, task: int) -> None:
    mark(a, b, task, -1)
    b.task[task].start = OUT


@compiled
def mark(a: Arrays, b: Board, task: int, sign: int) -> None:
    """Take what the place of the task holds (sign 1), or give it back (sign -1)."""
    crew, start, days = b.task[task].crew, b.task[task].start, a.task[task].length
    if start < 0 or days == 0:
        return
    if crew != NO_CREW:
        first = a.rank[crew, start]
        for rank in range(first, first + days):
            b.free[crew, rank >> 6] ^= np.uint64(1) << np.uint64(rank & 63)
            b.holder[crew, rank] = task if sign > 0 else -1
    for at in range(a.task[task].use_at, a.task[task].use_to):
        for slot in range(start, b.task[task].end):
            b.used[a.use[at].pool, slot] += sign * a.use[at].amount


@compiled
def end_at(a: Arrays, task: int, crew: int, start: int) -> int:
    """The end slot of a task that starts there; NEVER if it cannot."""
    days = a.task[task].length
    if start < 0 or crew == NO_CREW or days == 0:
        return start + days if start >= 0 else start
    if crew >= len(a.rank) or start >= a.half_days:
        return NEVER
    return int(a.slot[crew, a.rank[crew, start] + days - 1]) + 1


@compiled
def set_up(a: Arrays, b: Board, places: Table) -> None:
    """Bring the board to the given places."""
    for task in range(len(a.task)):
        take_out(a, b, task)
    for task in range(len(a.task)):
        crew, start = places[task].crew, places[task].start
        put(a, b, task, crew, start, end_at(a, task, crew, start))


@compiled
def earliest_start(a: Arrays, b: Board, task: int) -> int:
    """By its release and by what comes before it and has a place; NEVER behind an unplanned one."""
    earliest = a.task[task].release
    for at in range(a.task[task].before_at, a.task[task].before_to):
        before = a.before[at].task
        if b.task[before].start == UNPLANNED:
            return NEVER
        if b.task[before].start >= 0:
            earliest = max(earliest, b.task[before].end + a.before[at].lag)
    return int(earliest)


@compiled
def latest_end(a: Arrays, b: Board, task: int) -> int:
    """By when the task must end for what comes after it and has a place."""
    latest = a.task[task].latest
    for at in range(a.task[task].after_at, a.task[task].after_to):
        after = a.after[at].task
        if b.task[after].start >= 0:
            latest = min(latest, b.task[after].start - a.after[at].lag)
    return int(latest)


@compiled
def find_least_ends(a: Arrays, b: Board) -> None:
    """Fill in by when each job could end if nothing else were planned; `b` is empty."""
    for at in range(len(a.order)):
        number = a.order[at]
        task, mine = a.task[number], b.task[number]
        earliest = task.release
        for link in range(task.before_at, task.before_to):
            earliest = max(earliest, b.task[a.before[link].task].end + a.before[link].lag)
        mine.end = first_place(a, b, number, min(earliest, a.half_days + 1), 0)[2]
        if task.held:
            # Another plan might give up another fixed task: count on none of them.
            mine.end = min(mine.end, task.release)
        job = a.job[task.job]
        job.least_end = max(job.least_end, min(mine.end, a.half_days))
