"""A plan at once: jobs in order of their due date, each task where it ends first.

A crew's free working half-days are the bits of one integer, so a run of d free ones is found
with a few shifts: `x & x >> 1` has a bit where two free ones follow each other, and so on.
"""

import heapq
from bisect import bisect_left

from scheduling.planner.problem import (
    Booking,
    Fixed,
    Plan,
    Problem,
    Task,
    Unplanned,
    in_link_order,
    working_slots,
)

NEVER = 1 << 30  # an end slot behind every horizon


def greedy(problem: Problem, *, keep: Plan | None = None) -> Plan:
    """A plan without violations, in milliseconds, however little fits.

    Bookings of `keep` stay where they are as far as they still can.
    """
    decoder = _Decoder(problem)
    decoder.reserve_fixed()
    if keep:
        decoder.reserve_kept(keep)
    for task in _by_due_date(problem):
        decoder.place(task)
    return decoder.plan()


def _by_due_date(problem: Problem) -> list[Task]:
    """Tasks of the job that is due first go first, as far as the links let them."""
    due = {job.id: (job.due_slot, index) for index, job in enumerate(problem.jobs)}
    order = in_link_order(problem)
    rank = {task.id: (*due[task.job], index) for index, task in enumerate(order)}
    waits = dict.fromkeys(rank, 0)
    after: dict[str, list[str]] = {name: [] for name in rank}
    for link in problem.links:
        waits[link.after] += 1
        after[link.before].append(link.after)
    ready = [rank[name] for name, count in waits.items() if not count]
    heapq.heapify(ready)
    placed = []
    while ready:
        task = order[heapq.heappop(ready)[-1]]
        placed.append(task)
        for later in after[task.id]:
            waits[later] -= 1
            if not waits[later]:
                heapq.heappush(ready, rank[later])
    return placed


def _ranks(worked: tuple[int, ...], half_days: int) -> list[int]:
    """For each slot, how many of the worked ones are before it."""
    ranks: list[int] = []
    for rank, slot in enumerate((*worked, half_days - 1)):
        ranks += [rank] * (slot + 1 - len(ranks))
    return ranks


class _Decoder:
    """The plan so far, and what is still free of each crew and pool."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.order = in_link_order(problem)
        self.worked = {crew.id: working_slots(problem, crew) for crew in problem.crews}
        self.free = {name: (1 << len(slots)) - 1 for name, slots in self.worked.items()}
        self.ranks = {name: _ranks(slots, problem.half_days) for name, slots in self.worked.items()}
        longest = max((task.half_days for task in problem.tasks), default=0)
        self.ends = {
            name: [slot + 1 for slot in slots] + [NEVER] * (longest + 1)
            for name, slots in self.worked.items()
        }
        self.left = {pool.id: [pool.capacity] * problem.half_days for pool in problem.pools}
        self.skills = {crew.id: crew.skills for crew in problem.crews}
        self.skilled: dict[str, list[str]] = {}
        # Of two crews that end a task at once, the one that can do less takes it.
        for crew in sorted(problem.crews, key=lambda crew: len(crew.skills)):
            for skill in crew.skills:
                self.skilled.setdefault(skill, []).append(crew.id)
        self.before: dict[str, list[tuple[str, int]]] = {task.id: [] for task in problem.tasks}
        self.after: dict[str, list[tuple[str, int]]] = {task.id: [] for task in problem.tasks}
        for link in problem.links:
            self.before[link.after].append((link.before, link.lag_slots))
            self.after[link.before].append((link.after, link.lag_slots))
        self.reserved: dict[str, Booking] = {}
        self.booked: dict[str, Booking] = {}
        self.unplanned: set[str] = set()
        self.latest: dict[str, int] = {}

    def plan(self) -> Plan:
        tasks = self.problem.tasks
        return Plan(
            bookings=tuple(self.booked[task.id] for task in tasks if task.id in self.booked),
            unplanned=tuple(
                Unplanned(task=task.id, because=()) for task in tasks if task.id in self.unplanned
            ),
        )

    def reserve_fixed(self) -> None:
        """Keep the places of the fixed tasks as far as they are free."""
        for task in self.problem.tasks:
            if task.fixed is None:
                continue
            booking = None
            if self._may_be_at(task, task.fixed):
                booking = self._first_end(task, task.fixed.start, crew=task.fixed.crew)
            if booking is None or booking.start != task.fixed.start:
                self.unplanned.add(task.id)
                continue
            self._take(task, booking)
            self.reserved[task.id] = booking
        self.latest = self._latest_ends()

    def reserve_kept(self, keep: Plan) -> None:
        """Keep what is free of the places that another plan gave to tasks that are not fixed."""
        before = keep.by_task()
        for task in self.problem.tasks:
            was = before.get(task.id)
            if was is None or task.fixed or was.start > self.problem.half_days:
                continue
            if was.crew is not None and was.crew not in self.worked:
                continue
            if not self._may_be_at(task, Fixed(crew=was.crew, start=was.start)):
                continue
            booking = self._first_end(task, was.start, crew=was.crew)
            if booking and booking.start == was.start:
                self._take(task, booking)
                self.reserved[task.id] = booking
        self.latest = self._latest_ends()

    def place(self, task: Task) -> None:
        """Book the task where it ends first, if it can be."""
        if task.id in self.unplanned:
            return
        if any(before in self.unplanned for before, _ in self.before[task.id]):
            self._give_up(task)
            self.unplanned.add(task.id)
            return
        earliest = max(
            (self.booked[before].end + lag for before, lag in self.before[task.id]), default=0
        )
        earliest = max(earliest, task.not_before, 0)
        held = self.reserved.get(task.id)
        if held and earliest <= held.start:
            self.booked[task.id] = held
            return
        if held:
            self._give_up(task)
        if task.id in self.unplanned:
            return
        booking = self._first_end(task, earliest)
        while booking and booking.end > self.latest[task.id]:
            self._give_up_behind(task)
            booking = self._first_end(task, earliest)
        if booking:
            self._take(task, booking)
            self.booked[task.id] = booking
        else:
            self.unplanned.add(task.id)

    def _first_end(self, task: Task, earliest: int, *, crew: str | None = None) -> Booking | None:
        """The place from slot `earliest` on that ends first; on `crew` only, if it is given."""
        if task.skill is None:
            return self._first_without_crew(task, earliest)
        crews = [crew] if crew else self.skilled.get(task.skill, [])
        if not task.half_days:
            if crews and earliest <= self.problem.half_days:
                return Booking(task=task.id, crew=crews[0], start=earliest, slots=())
            return None
        if earliest >= self.problem.half_days:
            return None
        first, by, at = NEVER, None, 0
        ranks, ends, more = self.ranks, self.ends, task.half_days - 1
        for name in crews:
            rank = ranks[name][earliest]
            if ends[name][rank + more] < first:  # else it cannot end sooner
                rank, end = self._first_run(task, name, rank)
                if end < first:
                    first, by, at = end, name, rank
        if by is None:
            return None
        slots = self.worked[by][at : at + task.half_days]
        return Booking(task=task.id, crew=by, start=slots[0], slots=slots)

    def _first_without_crew(self, task: Task, earliest: int) -> Booking | None:
        start, days = earliest, task.half_days
        while start + days <= self.problem.half_days:
            short = self._last_short(task, start, start + days)
            if short < 0:
                slots = tuple(range(start, start + days))
                return Booking(task=task.id, crew=None, start=start, slots=slots)
            start = short + 1
        return None

    def _first_run(self, task: Task, crew: str, rank: int) -> tuple[int, int]:
        """From the crew's working half-day number `rank` on: that of a free run, its end slot."""
        worked, more = self.worked[crew], task.half_days - 1
        runs = self.free[crew] >> rank
        for _ in range(more):
            runs &= runs >> 1
        while runs:
            skip = (runs & -runs).bit_length() - 1
            rank += skip
            end = worked[rank + more] + 1
            short = self._last_short(task, worked[rank], end) if task.uses else -1
            if short < 0:
                return rank, end
            behind = bisect_left(worked, short + 1)
            runs >>= behind - rank + skip
            rank = behind
        return 0, NEVER

    def _last_short(self, task: Task, start: int, end: int) -> int:
        """The last slot in [start, end) in which a pool has too little left, or -1."""
        last = -1
        for pool, amount in task.uses:
            left = self.left[pool]
            for slot in range(end - 1, max(start, last + 1) - 1, -1):
                if left[slot] < amount:
                    last = slot
                    break
        return last

    def _take(self, task: Task, booking: Booking, *, back: bool = False) -> None:
        """Take what the booking holds, or give it back."""
        if not booking.slots:
            return
        if booking.crew:
            rank = bisect_left(self.worked[booking.crew], booking.start)
            self.free[booking.crew] ^= ((1 << task.half_days) - 1) << rank
        for pool, amount in task.uses:
            left = self.left[pool]
            for slot in range(booking.start, booking.end):
                left[slot] += amount if back else -amount

    def _give_up(self, task: Task) -> None:
        """Free the place of a task; one that is fixed has no other."""
        if task.fixed:
            self.unplanned.add(task.id)
        if booking := self.reserved.pop(task.id, None):
            self._take(task, booking, back=True)

    def _give_up_behind(self, task: Task) -> None:
        """Give up the places for whose sake `task` would have to end earlier."""
        tasks = {task.id: task for task in self.problem.tasks}
        behind = [task.id]
        for name in behind:
            behind += [after for after, _ in self.after[name] if after not in behind]
        for name in behind:
            if name in self.reserved:
                self._give_up(tasks[name])
        self.latest = self._latest_ends()

    def _latest_ends(self) -> dict[str, int]:
        """By when each task must end for the fixed ones behind it to start as fixed."""
        latest: dict[str, int] = {}
        starts: dict[str, int] = {}
        for task in reversed(self.order):
            latest[task.id] = min(
                (starts[after] - lag for after, lag in self.after[task.id]),
                default=NEVER,
            )
            held = self.reserved.get(task.id)
            starts[task.id] = held.start if held else latest[task.id] - task.half_days
        return latest

    def _may_be_at(self, task: Task, place: Fixed) -> bool:
        """Whether a task could be there, were nothing else planned."""
        crew, start = place.crew, place.start
        if (task.skill is None) != (crew is None) or start < max(task.not_before, 0):
            return False
        if crew is None:
            return True
        if task.skill not in self.skills[crew]:
            return False
        return not task.half_days or start in self.worked[crew]
