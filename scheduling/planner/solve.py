"""From a problem to a plan, in layers that each improve the last one's answer.

A greedy plan at once; then the reinsertion search on two threads, and from its best plan on exact
windows around what is late; exact search on the whole where that is small; a search over orders
where jobs have many tasks. The best plan is kept outside of them, and checked before it is given
out.
"""

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

import numpy as np

from scheduling.planner import windows
from scheduling.planner.arrays import UNPLANNED, Table, arrays, places, plan_at
from scheduling.planner.board import empty_board, find_least_ends, set_up
from scheduling.planner.budget import Budget
from scheduling.planner.check import violations
from scheduling.planner.exact import UNLIMITED, Answer, Effort, Exact
from scheduling.planner.greedy import greedy
from scheduling.planner.lists import POPULATION, evolve, mirrored, new_lists
from scheduling.planner.objective import Score, job_ends, score
from scheduling.planner.problem import Crew, Fixed, Job, Plan, Problem, Task
from scheduling.planner.reinsertion import (
    EXPONENTIAL,
    Tally,
    Weights,
    count_all,
    keep_if_best,
    search,
)
from scheduling.planner.unplanned import with_reasons

LATE = 500  # what a weighted half-day late costs a search, in half-days of job ends
WARMEST, COLDEST = 0.4, 0.005  # temperature of the annealing, in weighted half-days late
COOLING = 1.5  # by which power of the time left
MOVE = LATE // 5  # what a moved booking costs a search
CHEAPEST_LATE = MOVE  # what a half-day above the cap costs while a repair begins
CHUNK = 200  # steps between two looks at the clock
ORDERS_CHUNK = 20
TASKS_FOR_ORDERS = 20  # in a job, on average, from which orders are searched, not jobs
STEPS_PER_WINDOW = 40_000  # where steps are counted
WINDOW_SECONDS = 3.0
SEARCH_SHARE = 0.75  # then exact windows, where
DEAREST_AT = 0.7  # of the time of a repair
MEET = (0.4, 0.6, 0.75, 0.85, 0.92)  # of its time: where a search goes on from the best plan
TASKS_FOR_WINDOWS = 3_000  # there are no more and
SECONDS_FOR_WINDOWS = 20.0  # there is as much time; a window takes seconds
WINDOW_WORK = 2.0  # CP-SAT's deterministic time
LEAST_SECONDS = 0.4  # less is not worth building a model for
WHOLE_TASKS = 120  # that are not fixed: up to which, and
WHOLE_PLACES = 60_000  # up to which, all tasks are one window
WHOLE_SHARE = 0.9  # of the time left then
WORK_PER_STEP = 1e-4
SEARCH_BEFORE_WHOLE = 0.1
WAIT_SECONDS = 0.05
FEWER_MOVES_MAY_COST = 0.01  # lateness above that of the previous plan, as a fraction


class Progress(NamedTuple):
    seconds: float
    layer: str
    score: Score


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """`late_bound`: no plan has fewer weighted half-days late. `optimal` is said only if proven."""

    plan: Plan
    score: Score
    late_bound: int
    optimal: bool
    steps: int


def solve(
    problem: Problem,
    *,
    seconds: float = 10.0,
    seed: int = 1,
    steps: int | None = None,
    frozen_days: int = 0,
    lateness_first: bool = False,
    report: Callable[[Progress], None] = lambda progress: None,
    stopped: Callable[[], bool] = lambda: False,
) -> Solved:
    """Plan within `seconds`; by `steps` instead, the same seed gives the same plan anywhere.

    With a previous plan, few bookings moved is worth up to 1 % more lateness than it had, unless
    `lateness_first`; bookings in its first `frozen_days` stay where they still can.
    """
    budget = Budget(seconds=seconds, steps=steps, stopped=stopped)
    first = greedy(problem, keep=problem.previous)
    held = _frozen(problem, first, frozen_days)
    cap = 0 if lateness_first else _lateness_cap(problem)
    best = _Best(problem, first, cap, budget, report)
    with budget.paused():
        load()
    if problem.tasks and problem.jobs:
        _Run(held, first, best, budget, seed).go()
    plan = best.plan
    if found := violations(problem, plan):
        raise AssertionError(f"the search made a plan that breaks its rules: {found[:3]}")
    return Solved(
        plan=with_reasons(problem, plan),
        score=score(problem, plan),
        late_bound=best.late_bound,
        optimal=best.proven,
        steps=budget.done,
    )


def load() -> None:
    """Load the compiled searches, or compile them where that was not done yet (half a minute)."""
    crew = Crew(id="c", skills=frozenset("s"), works=((True, True),) * 7)
    task = Task(id="t", job="j", skill="s", half_days=1)
    problem = Problem(
        start=date(2027, 3, 1),
        half_days=2,
        crews=(crew,),
        pools=(),
        tasks=(task,),
        links=(),
        jobs=(Job(id="j", due_slot=0, weight=1),),
    )
    first = greedy(problem)
    a = arrays(problem, first)
    find_least_ends(a, empty_board(a, 1))
    board, tally = windows.state(a, places(problem, first), 1)
    w = Weights(unplanned=1, late_above_cap=1, moved=1, late=1, end=1, cap=0)
    keep_if_best(board, tally, w)
    search(a, board, tally, w, EXPONENTIAL, 0, 1)
    back = mirrored(a)
    clear, clear_back = empty_board(a, 1), empty_board(back, 1)
    evolve(a, back, board, clear, clear_back, tally, new_lists(a), w, 1, POPULATION)


def _frozen(problem: Problem, first: Plan, days: int) -> Problem:
    """Bookings of the previous plan in its first days, as fixed as they still can be."""
    before = problem.previous.by_task() if problem.previous and days else {}
    now = first.by_task()

    def stays(task: str) -> bool:
        was, is_now = before.get(task), now.get(task)
        return bool(was and was == is_now and was.start < 2 * days)

    return replace(
        problem,
        tasks=tuple(
            replace(task, fixed=Fixed(crew=now[task.id].crew, start=now[task.id].start))
            if task.fixed is None and stays(task.id)
            else task
            for task in problem.tasks
        ),
    )


def _lateness_cap(problem: Problem) -> int:
    """Lateness up to which fewer moves count for more; 0 without a previous plan."""
    if problem.previous is None:
        return 0
    ends = job_ends(problem, problem.previous)
    booked = problem.previous.by_task()
    known = {task.job for task in problem.tasks} - {
        task.job for task in problem.tasks if task.id not in booked
    }
    late = sum(
        job.weight * max(0, ends[job.id] - job.due_slot) for job in problem.jobs if job.id in known
    )
    return int(late * (1 + FEWER_MOVES_MAY_COST))


class _Best:
    """The best plan so far, whoever found it."""

    def __init__(
        self,
        problem: Problem,
        first: Plan,
        cap: int,
        budget: Budget,
        report: Callable[[Progress], None],
    ) -> None:
        self.problem, self.cap = problem, cap
        self.budget, self.report = budget, report
        self.lock = threading.Lock()
        self.places = places(problem, first)
        self.score = score(problem, first)
        self.late_bound = 0
        self.proven = not problem.tasks
        report(Progress(budget.elapsed(), "first plan", self.score))

    def key(self, s: Score) -> tuple[int, ...]:
        return s.unplanned, max(0, s.late - self.cap), s.moved, s.late, s.ends

    def offer(self, table: Table, found: Score, layer: str) -> None:
        with self.lock:
            if self.key(found) < self.key(self.score):
                self.places, self.score = table.copy(), found
                self.report(Progress(self.budget.elapsed(), layer, found))

    def beats(self, other: Score) -> bool:
        return self.key(self.score) < self.key(other)

    @property
    def plan(self) -> Plan:
        return plan_at(self.problem, self.places)


class _Run:
    """One solve: the layers and what they share."""

    def __init__(
        self, problem: Problem, first: Plan, best: _Best, budget: Budget, seed: int
    ) -> None:
        self.best, self.budget, self.seed = best, budget, seed
        self.a = arrays(problem, first)
        find_least_ends(self.a, empty_board(self.a, seed))
        self.exact = Exact()
        self.random = np.random.default_rng(seed)
        loose = len(self.a.task) - int(self.a.task["held"].sum())
        self.by_orders = loose >= TASKS_FOR_ORDERS * len(self.a.job)
        self.small = loose <= WHOLE_TASKS and windows.places(self.a, self._tally()) <= WHOLE_PLACES
        self.again = problem.previous is not None
        self.w = Weights(
            unplanned=1000 * LATE,
            late_above_cap=LATE,
            moved=MOVE if self.again else 0,
            late=LATE // 250 if self.again else 0,
            end=0 if self.again else 1,
            cap=best.cap,
        )
        self.a.job["good_end"] = self.a.job["least_end"]
        if problem.previous is not None and best.cap:
            before = job_ends(problem, problem.previous)
            ends = np.array([before[job.id] for job in problem.jobs], dtype=np.int64)
            self.a.job["good_end"] = np.maximum(self.a.job["least_end"], ends)
        late = np.maximum(self.a.job["least_end"] - self.a.job["due"], 0)
        best.late_bound = int((self.a.job["weight"] * late).sum())
        self.least = Score(0, best.late_bound, 0, int(self.a.job["least_end"].sum()))

    def go(self) -> None:
        search = self._search_orders if self.by_orders else self._search
        if self.small:
            search(until=SEARCH_BEFORE_WHOLE)
        if self.budget.steps is not None:
            if self.small:
                self._whole(workers=1)
            search(until=1.0)
            return
        with ThreadPoolExecutor(1) as beside:
            if self.by_orders:
                running = beside.submit(self._beside)
                search(until=1.0)
                self._wait_for(running)
            elif self.small:
                self._wait_for(beside.submit(self._whole, workers=2))
                search(until=1.0)
            else:
                share = self._search_share()
                running = beside.submit(search, until=share)
                search(until=share)
                self._wait_for(running)
                self._wait_for(beside.submit(self._windows))

    def _beside(self) -> None:
        """What the second thread does while the first one searches orders."""
        if self.small:
            self._whole(workers=1)
        else:
            self._search_orders()

    def _search_share(self) -> float:
        """How much of the time the reinsertion has to itself before the windows begin."""
        few = len(self.a.task) <= TASKS_FOR_WINDOWS
        return SEARCH_SHARE if few and self.budget.seconds >= SECONDS_FOR_WINDOWS else 1.0

    def _wait_for(self, running: Future[None]) -> None:
        """In short waits, so that the main thread hears of an interrupt."""
        while not running.done():
            wait([running], timeout=WAIT_SECONDS)
            if self._over():
                self.exact.stop()
        running.result()

    def _over(self, until: float = 1.0) -> bool:
        return self.best.proven or self.budget.spent() >= until

    def _tally(self) -> Tally:
        return windows.state(self.a, self.best.places, self.seed)[1]

    def _search(self, *, until: float) -> None:
        """Reinsertion, annealed over the whole time, until that fraction of it is spent."""
        a, best, budget = self.a, self.best, self.budget
        board, tally = windows.state(a, best.places, self._next_seed())
        keep_if_best(board, tally, self.w)
        next_window, met = budget.done + STEPS_PER_WINDOW, 0
        while not self._over(until):
            spent = min(1.0, budget.spent() / until)
            heat = int(1024 * LATE * (WARMEST * (1 - spent) ** COOLING + COLDEST))
            bettered = search(a, board, tally, self._weights(spent), EXPONENTIAL, heat, CHUNK)
            budget.done += CHUNK
            if bettered:
                self._offer_tally(tally, "reinsertion")
            if budget.steps is not None and budget.done >= next_window:
                next_window += STEPS_PER_WINDOW
                self._window()
            if met < len(MEET) and spent >= MEET[met]:
                met += 1
                if best.beats(_score(tally)):
                    set_up(a, board, best.places)
                    count_all(a, board, tally)
                    keep_if_best(board, tally, self.w)

    def _weights(self, spent: float) -> Weights:
        """In a repair lateness grows dear only by and by, so that few moves come first."""
        if not self.again:
            return self.w
        dear = CHEAPEST_LATE * (LATE / CHEAPEST_LATE) ** min(1.0, spent / DEAREST_AT)
        return self.w._replace(late_above_cap=int(dear))

    def _search_orders(self, *, until: float = 1.0) -> None:
        """A population of orders, until that fraction of the time is spent."""
        a, budget = self.a, self.budget
        board, tally = windows.state(a, self.best.places, self._next_seed())
        back, lists, born = mirrored(a), new_lists(a), 0
        clear, clear_back = empty_board(a, 1), empty_board(back, 1)
        while not self._over(until):
            if evolve(a, back, board, clear, clear_back, tally, lists, self.w, ORDERS_CHUNK, born):
                self._offer_tally(tally, "orders")
            born += ORDERS_CHUNK
            budget.done += ORDERS_CHUNK

    def _next_seed(self) -> int:
        return int(self.random.integers(1 << 40))

    def _offer_tally(self, tally: Tally, layer: str) -> None:
        self.best.offer(tally.best_places, _score(tally), layer)
        self.best.proven |= self.best.score == self.least

    def _windows(self) -> None:
        while not self._over() and self.budget.left() > LEAST_SECONDS:
            self._window()

    def _window(self) -> None:
        """Improve a few jobs exactly."""
        start = self.best.places
        board, tally = windows.state(self.a, start, self.seed)
        window = windows.choose(self.a, board, tally, self.w, self.random)
        seconds = min(WINDOW_SECONDS, self.budget.left())
        effort = Effort(seconds=seconds, work=UNLIMITED, workers=2, seed=self.seed)
        if self.budget.steps is not None:
            effort = Effort(seconds=seconds, work=WINDOW_WORK, workers=1, seed=self.seed)
        answer = self.exact.improve(self.a, start, window, self.w, effort)
        self._offer(answer, "window")

    def _whole(self, *, workers: int) -> None:
        """All tasks as one window; what is proven here is proven for the problem."""
        w = self._whole_weights()
        window = windows.whole(self.a, self._tally(), self.w.cap)
        steps = self.budget.steps
        effort = Effort(
            seconds=WHOLE_SHARE * self.budget.left(),
            work=WINDOW_WORK if steps is None else steps * WORK_PER_STEP,
            workers=workers,
            seed=self.seed,
        )
        if steps is None:
            effort = effort._replace(work=UNLIMITED)
        answer = self.exact.improve(self.a, self.best.places, window, w, effort)
        self._offer(answer, "whole")
        given_up = bool((self.a.task["held"] & (self.best.places["start"] == UNPLANNED)).any())
        self.best.proven |= answer.proven and not given_up
        if self.best.score.unplanned == 0 and not self.again:
            self.best.late_bound = max(self.best.late_bound, answer.bound // w.late_above_cap)

    def _whole_weights(self) -> Weights:
        """Each part of the score outweighs all that come behind it."""
        a = self.a
        end = 1 + len(a.job) * a.half_days
        late = 1 + int((a.job["weight"] * np.maximum(a.half_days - a.job["due"], 0)).sum())
        moved = 1 + len(a.task)
        if self.again:
            above = end * late * moved
            return Weights(above * late, above, end * late, end, 1, self.w.cap)
        return Weights(end * late, end, 0, 0, 1, 0)

    def _offer(self, answer: Answer, layer: str) -> None:
        if answer.places is not None:
            total = windows.state(self.a, answer.places, self.seed)[1].total[0].tolist()
            self.best.offer(answer.places, Score(*total), layer)


def _score(tally: Tally) -> Score:
    """Of the best plan that a search has seen."""
    unplanned, _, moved, late, end = tally.best.tolist()
    return Score(unplanned, late, moved, end)
