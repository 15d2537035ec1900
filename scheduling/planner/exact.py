"""Exact search (CP-SAT) over some of the tasks, the others staying where they are.

A task with a crew has one literal for each place that it could take: a task that may pause has
no fixed length, and with literals no constraint needs to know. Tasks without a crew are plain
intervals.
"""

import math
from collections import defaultdict
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from ortools.sat.python import cp_model

from scheduling.planner.arrays import NEVER, NO_CREW, UNPLANNED, Arrays, Table
from scheduling.planner.reinsertion import Weights
from scheduling.planner.windows import Window

UNLIMITED = 1e9  # of deterministic time


class Effort(NamedTuple):
    """What one call may take; `work` is CP-SAT's deterministic time, for repeatable runs."""

    seconds: float
    work: float
    workers: int
    seed: int


class Answer(NamedTuple):
    """`places` of all tasks, None if none were found; `bound` is on the cost of the free jobs."""

    places: Table | None
    bound: int
    proven: bool


class Exact:
    """An exact search that another thread can stop."""

    def __init__(self) -> None:
        self.solver = cp_model.CpSolver()

    def stop(self) -> None:
        self.solver.stop_search()

    def improve(
        self, a: Arrays, places: Table, window: Window, w: Weights, effort: Effort
    ) -> Answer:
        """Find the best places for the tasks of a window, the others staying where they are.

        Tasks may be left out only if one of them is unplanned in `places`.
        """
        model = _Model(a, places, window)
        model.minimize(w, window.outside)
        solver = self.solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = effort.seconds
        solver.parameters.max_deterministic_time = effort.work
        solver.parameters.num_workers = effort.workers
        solver.parameters.random_seed = effort.seed
        solver.parameters.catch_sigint_signal = False  # the caller's to handle
        status = solver.solve(model.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Answer(places=None, bound=0, proven=False)
        return Answer(
            places=model.read(solver),
            bound=math.ceil(solver.best_objective_bound - 1e-6),
            proven=status == cp_model.OPTIMAL,
        )


class _Model:
    """The free tasks among the others."""

    def __init__(self, a: Arrays, places: Table, window: Window) -> None:
        self.a, self.places, self.free = a, places, window.tasks.tolist()
        self.model = cp_model.CpModel()
        self.is_free = np.zeros(len(a.task), dtype=bool)
        self.is_free[self.free] = True
        self.ends_now = [self._end(task, *places[task]) for task in range(len(a.task))]
        self.optional = bool((places["start"][self.free] == UNPLANNED).any())
        self.taken, self.left = self._what_others_leave()
        self.start: dict[int, cp_model.IntVar] = {}
        self.end: dict[int, cp_model.LinearExprT] = {}
        self.absent: dict[int, cp_model.IntVar] = {}
        self.at: dict[int, dict[tuple[int, int], cp_model.IntVar]] = {}
        self.on_rank: dict[tuple[int, int], list[cp_model.IntVar]] = defaultdict(list)
        for task in self.free:
            self._add_task(task, int(window.latest[task]))
        for literals in self.on_rank.values():
            if len(literals) > 1:
                self.model.add_at_most_one(literals)
        self._add_links()
        self._add_pools()

    def _end(self, task: int, crew: int, start: int) -> int:
        days = int(self.a.task["length"][task])
        if start < 0 or crew == NO_CREW or days == 0:
            return int(start) + days
        return int(self.a.slot[crew, self.a.rank[crew, start] + days - 1]) + 1

    def _what_others_leave(self) -> tuple[np.ndarray, np.ndarray]:
        """Which ranks of the crews the tasks that stay hold, and what they leave of the pools."""
        a = self.a
        taken = np.zeros(a.slot.shape, dtype=bool)
        left = np.repeat(a.pool["capacity"][:, None], a.half_days, axis=1)
        for number, (crew, start) in enumerate(self.places.tolist()):
            if self.is_free[number] or start < 0:
                continue
            task = a.task[number]
            if crew != NO_CREW and task["length"]:
                first = a.rank[crew, start]
                taken[crew, first : first + task["length"]] = True
            for pool, amount in a.use[task["use_at"] : task["use_to"]]:
                left[pool, start : self.ends_now[number]] -= amount
        return taken, left

    def _add_task(self, number: int, latest: int) -> None:
        a, model, task = self.a, self.model, self.a.task[number]
        earliest, latest = self._bounds(number, latest)
        name = str(number)
        if self.optional:
            self.absent[number] = model.new_bool_var(f"absent {name}")
        given_up = task["held"] and self.places["start"][number] == UNPLANNED
        if not task["needs_crew"] and not given_up:
            last = latest - int(task["length"])
            if task["held"]:
                earliest = last = int(self.places["start"][number])
            if earliest > last:
                self._never(number)
            else:
                self.start[number] = model.new_int_var(earliest, last, f"start {name}")
                self.end[number] = self.start[number] + int(task["length"])
            return
        spans = self._spans(number, earliest, latest)
        if not spans:
            self._never(number)
            return
        literals = {}
        for crew, start, _ in spans:
            literal = literals[crew, start] = model.new_bool_var(f"{name} by {crew} at {start}")
            first = int(a.rank[crew, start]) if task["length"] else 0
            for rank in range(first, first + int(task["length"])):
                self.on_rank[crew, rank].append(literal)
        self.at[number] = literals
        model.add_exactly_one([*literals.values(), *self._absent(number)])
        starts = sorted({start for _, start, _ in spans})
        ends = sorted({end for _, _, end in spans})
        if self.optional:  # when absent, start and end are their least
            starts, ends = sorted({0, *starts}), sorted({0, *ends})
        self.start[number] = start_var = model.new_int_var_from_domain(
            cp_model.Domain.from_values(starts), f"start {name}"
        )
        self.end[number] = end_var = model.new_int_var_from_domain(
            cp_model.Domain.from_values(ends), f"end {name}"
        )
        model.add(start_var == sum(start * literals[crew, start] for crew, start, _ in spans))
        model.add(end_var == sum(end * literals[crew, start] for crew, start, end in spans))

    def _never(self, number: int) -> None:
        """No place is left for the task."""
        self.start[number] = self.model.new_int_var(0, 0, f"start {number}")
        self.end[number] = 0
        if self.optional:
            self.model.add(self.absent[number] == 1)
        else:
            self.model.add_bool_or([])

    def _absent(self, number: int) -> list[cp_model.IntVar]:
        return [self.absent[number]] if self.optional else []

    def _bounds(self, number: int, latest: int) -> tuple[int, int]:
        """Earliest start and latest end by its release and the tasks that stay."""
        a, task = self.a, self.a.task[number]
        earliest = int(task["release"])
        latest = min(latest, int(task["latest"]), a.half_days)
        for before, lag in a.before[task["before_at"] : task["before_to"]]:
            if not self.is_free[before]:
                placed = self.places["start"][before] >= 0
                earliest = max(earliest, self.ends_now[before] + int(lag) if placed else NEVER)
        for after, lag in a.after[task["after_at"] : task["after_to"]]:
            if not self.is_free[after] and self.places["start"][after] >= 0:
                latest = min(latest, int(self.places["start"][after] - lag))
        return earliest, latest

    def _spans(self, number: int, earliest: int, latest: int) -> list[tuple[int, int, int]]:
        """Crew, start and end of each place that the task could take."""
        a, task = self.a, self.a.task[number]
        days, able = int(task["length"]), a.able[task["able_at"] : task["able_to"]].tolist()
        if task["held"]:  # where it is, if it is anywhere
            crew, start = self.places[number].tolist()
            return [(crew, start, self.ends_now[number])] if start >= 0 else []
        if not days:
            return [(able[0], slot, slot) for slot in range(earliest, latest + 1)] if able else []
        spans = []
        for crew in able:
            if earliest >= a.half_days:
                break
            for rank in range(int(a.rank[crew, earliest]), a.slot.shape[1] - days + 1):
                start, end = int(a.slot[crew, rank]), int(a.slot[crew, rank + days - 1]) + 1
                if end > latest:
                    break
                if not self.taken[crew, rank : rank + days].any():
                    spans.append((crew, start, end))
        return spans

    def _add_links(self) -> None:
        a, model = self.a, self.model
        for number in self.free:
            task = a.task[number]
            for before, lag in a.before[task["before_at"] : task["before_to"]].tolist():
                if not self.is_free[before]:
                    continue
                follows = model.add(self.start[number] >= self.end[before] + lag)
                if self.optional:
                    follows.only_enforce_if(self.absent[number].negated())
                    model.add_implication(self.absent[before], self.absent[number])

    def _add_pools(self) -> None:
        a, model = self.a, self.model
        users: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for number in self.free:
            task = a.task[number]
            if task["length"]:
                for pool, amount in a.use[task["use_at"] : task["use_to"]].tolist():
                    users[pool].append((number, amount))
        intervals = {}
        for number in {number for tasks in users.values() for number, _ in tasks}:
            start, end, name = self.start[number], self.end[number], f"interval {number}"
            size: cp_model.LinearExprT = int(a.task["length"][number])
            if number in self.at:
                size = model.new_int_var(0, a.half_days, f"size {number}")
            if self.optional:
                present = self.absent[number].negated()
                intervals[number] = model.new_optional_interval_var(start, size, end, present, name)
            else:
                intervals[number] = model.new_interval_var(start, size, end, name)
        for pool, tasks in users.items():
            blocks, amounts = _background(a.pool["capacity"][pool] - self.left[pool])
            model.add_cumulative(
                [intervals[number] for number, _ in tasks]
                + [model.new_fixed_size_interval_var(at, size, "") for at, size in blocks],
                [amount for _, amount in tasks] + amounts,
                int(a.pool["capacity"][pool]),
            )

    def minimize(self, w: Weights, outside: int) -> None:
        """The cost of the jobs with free tasks, and the present plan as a first answer."""
        a, model = self.a, self.model
        cost: list[cp_model.LinearExprT] = []
        lates: list[cp_model.LinearExprT] = []
        for job in sorted(set(a.task["job"][self.free].tolist())):
            due, weight = int(a.job["due"][job]), int(a.job["weight"][job])
            end = self._end_of_job(job)
            after_due = model.new_int_var(0, max(0, a.half_days - due), f"late {job}")
            model.add(after_due >= end - due)
            lates.append(weight * after_due)
            cost.append(w.end * end)
        over = model.new_int_var(0, int(a.job["weight"].sum()) * 2 * NEVER, "over the cap")
        late = cp_model.LinearExpr.sum(lates)
        model.add(over >= late + (outside - w.cap))
        cost.append(w.late_above_cap * over + w.late * late)
        cost += [w.unplanned * absent for absent in self.absent.values()]
        cost += [w.moved * moved for moved in self._moved()]
        model.minimize(cp_model.LinearExpr.sum(cost))
        for number in self.free:
            crew, start = self.places[number].tolist()
            for place, literal in self.at.get(number, {}).items():
                model.add_hint(literal, place == (crew, start))
            if number not in self.at and start >= 0:
                model.add_hint(self.start[number], start)

    def _end_of_job(self, job: int) -> cp_model.IntVar:
        a, model = self.a, self.model
        end = model.new_int_var(0, a.half_days, f"end of {job}")
        for task in a.of_job[a.job["task_at"][job] : a.job["task_to"][job]].tolist():
            if self.is_free[task]:
                model.add(end >= self.end[task])
                if self.optional:
                    model.add(end == a.half_days).only_enforce_if(self.absent[task])
            else:
                booked = self.places["start"][task] >= 0
                model.add(end >= (self.ends_now[task] if booked else a.half_days))
        return end

    def _moved(self) -> list[cp_model.LinearExprT]:
        moved: list[cp_model.LinearExprT] = []
        for number, literals in self.at.items():
            was = tuple(self.a.task[["was_crew", "was_start"]][number].tolist())
            if was[1] != NEVER:
                stays = [literals[was]] if was in literals else []
                moved.append(1 - cp_model.LinearExpr.sum([*stays, *self._absent(number)]))
        return moved

    def read(self, solver: cp_model.CpSolver) -> Table:
        places = self.places.copy()
        for number in self.free:
            if self.optional and solver.value(self.absent[number]):
                places[number] = NO_CREW, UNPLANNED
            elif number in self.at:
                places[number] = next(
                    place for place, literal in self.at[number].items() if solver.value(literal)
                )
            else:
                places[number] = NO_CREW, solver.value(self.start[number])
        return places


def _background(used: np.ndarray) -> tuple[list[tuple[int, int]], list[int]]:
    """Stretches of slots with the same amount in use: (first slot, length), and the amounts."""
    edges = [0, *(np.flatnonzero(np.diff(used)) + 1).tolist(), len(used)]
    blocks = [(at, to - at) for at, to in pairwise(edges) if used[at] > 0]
    return blocks, [int(used[at]) for at, _ in blocks]
