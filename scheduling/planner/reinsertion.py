"""The search over jobs: take a few out, put them back in another order, keep what helps.

Compiled; a step is some microseconds. A job that is late waits somewhere for a crew or a tool;
taken out with it are jobs that hold what it waits for. A task that had to leave its place of the
previous plan has somebody there; those are taken out with it. Worse plans are accepted now and
then, less and less often (simulated annealing).
"""

import math
from typing import NamedTuple

import numpy as np

from scheduling.planner.arrays import NEVER, NO_CREW, PLACE, UNPLANNED, Arrays, Ints, Table, fields
from scheduling.planner.board import (
    OUT,
    Board,
    draw,
    earliest_start,
    end_at,
    first_of_crew,
    first_place,
    latest_end,
    put,
    take_out,
)
from scheduling.planner.compiled import compiled

MOST_OUT = 5  # jobs taken out in one step
SKIP = 40  # in 1024: how often a crew is passed over
NO_WAIT = 128  # in 1024: how often what is around a task is taken out though it does not wait
FIRST_AGAIN = 400  # in 1024: how often the job that could be better goes back first
TOTAL = fields("unplanned", "late", "moved", "end")
PART = fields("job", "at", "to")  # of_job[at:to]: some or all tasks of a job
JOB_TALLY = fields("unplanned", "late", "moved", "end", "hopeful_at")

# Draws of an exponential distribution with mean 1024: no step needs a logarithm, and every
# machine has the same whole numbers. 2,027 is prime: a stride visits the quantiles in mixed order.
EXPONENTIAL = np.array(
    [round(-1024 * math.log((701 * i % 2027 + 0.5) / 2027)) for i in range(2027)], dtype=np.int64
)


class Weights(NamedTuple):
    """One number for a plan; `late_above_cap` counts lateness above `cap`, `late` all of it."""

    unplanned: int
    late_above_cap: int
    moved: int
    late: int
    end: int
    cap: int


class Tally(NamedTuple):
    job: Table  # JOB_TALLY: what a job adds to the total; its index among the hopeful, or -1
    total: Table  # one row
    hopeful: Ints  # the jobs that could be better: the first hopeful_count[0]
    hopeful_count: Ints
    part: Table  # what is taken out in this step, job by job
    best: Ints  # unplanned, late above the cap, moved, late, end
    best_places: Table


def new_tally(a: Arrays) -> Tally:
    jobs = np.zeros(len(a.job), dtype=JOB_TALLY)
    jobs["hopeful_at"] = -1
    return Tally(
        job=jobs,
        total=np.zeros(1, dtype=TOTAL),
        hopeful=np.zeros(len(a.job), dtype=np.int64),
        hopeful_count=np.zeros(1, dtype=np.int64),
        part=np.zeros(MOST_OUT, dtype=PART),
        best=np.full(5, NEVER, dtype=np.int64),
        best_places=np.zeros(len(a.task), dtype=PLACE),
    )


@compiled
def count_job(a: Arrays, b: Board, t: Tally, job: int) -> None:
    """Bring the tally of a job up to date."""
    unplanned = moved = end = 0
    for at in range(a.job[job].task_at, a.job[job].task_to):
        task = a.of_job[at]
        if b.task[task].start < 0:
            unplanned += 1
            end = a.half_days
            continue
        end = max(end, b.task[task].end)
        moved += is_moved(a, b, task)
    tally_job(a, t, job, unplanned, moved, end)


@compiled
def is_moved(a: Arrays, b: Board, task: int) -> bool:
    """Whether the task is booked elsewhere than in the previous plan."""
    crew, start = a.task[task].was_crew, a.task[task].was_start
    if start == NEVER or b.task[task].start < 0:
        return False
    return bool(start != b.task[task].start or crew != b.task[task].crew)


@compiled
def count_all(a: Arrays, b: Board, t: Tally) -> None:
    for job in range(len(a.job)):
        count_job(a, b, t, job)


@compiled
def tally_job(a: Arrays, t: Tally, job: int, unplanned: int, moved: int, end: int) -> None:
    late = a.job[job].weight * max(0, end - a.job[job].due)
    mine, total = t.job[job], t.total[0]
    total.unplanned += unplanned - mine.unplanned
    total.late += late - mine.late
    total.moved += moved - mine.moved
    total.end += end - mine.end
    mine.unplanned, mine.late, mine.moved, mine.end = unplanned, late, moved, end
    hopeful = moved > 0 or (late > 0 and end > a.job[job].good_end)
    if hopeful and mine.hopeful_at < 0:
        mine.hopeful_at = t.hopeful_count[0]
        t.hopeful[mine.hopeful_at] = job
        t.hopeful_count[0] += 1
    elif not hopeful and mine.hopeful_at >= 0:
        t.hopeful_count[0] -= 1
        last = t.hopeful[t.hopeful_count[0]]
        t.hopeful[mine.hopeful_at] = last
        t.job[last].hopeful_at = mine.hopeful_at
        mine.hopeful_at = -1


@compiled
def cost(t: Tally, w: Weights) -> int:
    total = t.total[0]
    return int(
        w.unplanned * total.unplanned
        + w.late_above_cap * max(0, total.late - w.cap)
        + w.moved * total.moved
        + w.late * total.late
        + w.end * total.end
    )


@compiled
def keep_if_best(b: Board, t: Tally, w: Weights) -> bool:
    total = t.total[0]
    sign = total.unplanned - t.best[0]
    sign = sign if sign else max(0, total.late - w.cap) - t.best[1]
    sign = sign if sign else total.moved - t.best[2]
    sign = sign if sign else total.late - t.best[3]
    sign = sign if sign else total.end - t.best[4]
    if sign >= 0:
        return False
    t.best[0], t.best[1], t.best[2] = total.unplanned, max(0, total.late - w.cap), total.moved
    t.best[3], t.best[4] = total.late, total.end
    for task in range(len(b.task)):
        t.best_places[task].crew = b.task[task].crew
        t.best_places[task].start = b.task[task].start
    return True


@compiled
def add_holders(a: Arrays, b: Board, t: Tally, count: int, number: int) -> int:
    """Take out also what holds a crew, or a tool, in a place where task `number` waits for it."""
    task = a.task[number]
    if is_moved(a, b, number) and task.was_start < a.half_days and draw(b.random, 2):
        return add_run(a, b, t, count, task.was_crew, task.was_start, task.length)
    earliest = earliest_start(a, b, number)
    if task.held or earliest >= a.half_days:
        return count
    until = b.task[number].start if b.task[number].start >= 0 else a.half_days
    if until <= earliest:
        if draw(b.random, 1024) >= NO_WAIT:
            return count
        until = min(earliest + 2, a.half_days)
    slot = earliest + draw(b.random, until - earliest)
    uses = task.use_to - task.use_at
    if uses and (not task.needs_crew or draw(b.random, 4) == 0):
        holder = pool_holder(a, b, a.use[task.use_at + draw(b.random, uses)].pool, slot)
        return add_part(a, b, t, count, holder) if holder >= 0 else count
    able = task.able_to - task.able_at
    if able == 0:
        return count
    crew = a.able[task.able_at + draw(b.random, able)]
    return add_run(a, b, t, count, crew, slot, 1 + draw(b.random, max(1, task.length)))


@compiled
def add_run(a: Arrays, b: Board, t: Tally, count: int, crew: int, slot: int, days: int) -> int:
    """Take out also what a crew does on its `days` working half-days from a slot on."""
    if 0 <= crew < len(a.rank):
        first = a.rank[crew, slot]
        for rank in range(first, first + days):
            if count < MOST_OUT and b.holder[crew, rank] >= 0:
                count = add_part(a, b, t, count, b.holder[crew, rank])
    return count


@compiled
def pool_holder(a: Arrays, b: Board, pool: int, slot: int) -> int:
    """A task that holds the pool in the slot, or -1."""
    first, to = a.pool[pool].user_at, a.pool[pool].user_to
    at = first + draw(b.random, to - first)
    for _ in range(first, to):
        at = at + 1 if at + 1 < to else first
        task = a.user[at]
        if b.task[task].start <= slot < b.task[task].end:
            return int(task)
    return -1


@compiled
def add_part(a: Arrays, b: Board, t: Tally, count: int, task: int) -> int:
    """Take out the job of `task`: whole, from the task on, or the task alone."""
    job = a.task[task].job
    for at in range(count):
        if t.part[at].job == job:
            return count
    part = t.part[count]
    part.job, part.at, part.to = job, a.job[job].task_at, a.job[job].task_to
    if draw(b.random, 2):
        while a.of_job[part.at] != task:
            part.at += 1
        if draw(b.random, 2):
            part.to = part.at + 1
    return count + 1


@compiled
def choose_parts(a: Arrays, b: Board, t: Tally) -> int:
    """Fill `t.part` with a job, mostly one that could be better, and others in its way."""
    job = draw(b.random, len(a.job))
    if t.hopeful_count[0] and draw(b.random, 8):
        job = t.hopeful[draw(b.random, t.hopeful_count[0])]
    first, to = a.job[job].task_at, a.job[job].task_to
    if first == to:
        return 0
    count = add_part(a, b, t, 0, a.of_job[first + draw(b.random, to - first)])
    if t.part[0].to == t.part[0].at + 1:
        t.part[0].to = to
    wanted = 2 + draw(b.random, MOST_OUT - 1)
    for _ in range(4 * wanted):
        if count >= wanted:
            break
        part = t.part[0] if draw(b.random, 2) else t.part[draw(b.random, count)]
        waiting = a.of_job[part.at + draw(b.random, part.to - part.at)]
        count = add_holders(a, b, t, count, waiting)
    return count


@compiled
def arrange(a: Arrays, b: Board, t: Tally, count: int) -> None:
    """The order in which the jobs go back: by chance, or by due date give or take."""
    first = 1 if draw(b.random, 1024) < FIRST_AGAIN else 0
    for at in range(count - 1, first, -1):
        swap(t, at, first + draw(b.random, at + 1 - first))
    if first or draw(b.random, 2):
        return
    for at in range(1, count):
        to = at
        due = a.job[t.part[at].job].due + draw(b.random, 17) - 8
        while to > 0 and a.job[t.part[to - 1].job].due > due:
            swap(t, to, to - 1)
            to -= 1


@compiled
def swap(t: Tally, one: int, other: int) -> None:
    job, at, to = t.part[one].job, t.part[one].at, t.part[one].to
    t.part[one].job, t.part[one].at = t.part[other].job, t.part[other].at
    t.part[one].to = t.part[other].to
    t.part[other].job, t.part[other].at, t.part[other].to = job, at, to


@compiled
def is_free_as_before(a: Arrays, b: Board, task: int) -> bool:
    """Whether the task's place in the previous plan is there and free."""
    crew, start = a.task[task].was_crew, a.task[task].was_start
    able = crew == NO_CREW and not a.task[task].needs_crew
    for at in range(a.task[task].able_at, a.task[task].able_to):
        able = able or a.able[at] == crew
    if not able or start < 0 or start > a.half_days:
        return False
    if a.task[task].length == 0:
        return True
    return bool(first_of_crew(a, b, task, crew, start)[0] == start)


@compiled
def put_back(a: Arrays, b: Board, task: int, skip: int) -> bool:
    """Give the task a place, or leave it unplanned; False if something placed stands against."""
    earliest = earliest_start(a, b, task)
    latest = latest_end(a, b, task)
    was_start, was_crew = a.task[task].was_start, a.task[task].was_crew
    if was_start != NEVER and was_start >= earliest and draw(b.random, 8):
        end = end_at(a, task, was_crew, was_start)
        if end <= latest and is_free_as_before(a, b, task):
            put(a, b, task, was_crew, was_start, end)
            return True
    crew, start, end = first_place(a, b, task, earliest, skip)
    if end <= latest:
        put(a, b, task, crew, start, end)
        return True
    for at in range(a.task[task].after_at, a.task[task].after_to):
        if b.task[a.after[at].task].start >= 0:
            return False
    put(a, b, task, NO_CREW, UNPLANNED, UNPLANNED)
    return True


@compiled
def reinsert(a: Arrays, b: Board, t: Tally, w: Weights, count: int, limit: int) -> bool:
    """Take the parts out and put them back in that order.

    False, with the board half done, as soon as the plan can only cost more than `limit`.
    """
    skip = SKIP if draw(b.random, 2) else 0
    for number in range(count):
        part = t.part[number]
        for at in range(part.at, part.to):
            task = a.of_job[at]
            mine = b.task[task]
            mine.old_crew, mine.old_start, mine.old_end = mine.crew, mine.start, mine.end
            if not a.task[task].held:
                take_out(a, b, task)
        tally_job(a, t, part.job, 0, 0, a.job[part.job].least_end)  # it cannot cost less again
    for number in range(count):
        part = t.part[number]
        for at in range(part.at, part.to):
            task = a.of_job[at]
            if a.task[task].held:
                continue
            if not put_back(a, b, task, skip):
                return False
            if b.task[task].start >= 0:
                least = b.task[task].end + a.task[task].tail
                if least > t.job[part.job].end:
                    tally_job(a, t, part.job, 0, 0, least)
                    if cost(t, w) > limit:
                        return False
        count_job(a, b, t, part.job)
        if cost(t, w) > limit:
            return False
    return True


@compiled
def undo(a: Arrays, b: Board, t: Tally, count: int) -> None:
    for number in range(count):
        part = t.part[number]
        for at in range(part.at, part.to):
            task = a.of_job[at]
            if not a.task[task].held and b.task[task].start != OUT:
                take_out(a, b, task)
    for number in range(count):
        part = t.part[number]
        for at in range(part.at, part.to):
            task = a.of_job[at]
            mine = b.task[task]
            if not a.task[task].held:
                put(a, b, task, mine.old_crew, mine.old_start, mine.old_end)
        count_job(a, b, t, part.job)


@compiled
def search(
    a: Arrays, b: Board, t: Tally, w: Weights, exponential: Ints, heat: int, steps: int
) -> int:
    """Take `steps` steps at one temperature; returns how often the best plan was bettered.

    `heat` is the temperature in 1/1024 of a unit of cost.
    """
    bettered = 0
    now = cost(t, w)
    for _ in range(steps):
        count = choose_parts(a, b, t)
        arrange(a, b, t, count)
        limit = now + (heat * exponential[draw(b.random, len(exponential))] >> 20)
        if reinsert(a, b, t, w, count, limit):
            now = cost(t, w)
            bettered += keep_if_best(b, t, w)
        else:
            undo(a, b, t, count)
    return bettered
