"""Plan crews from a file: `manage.py plan problem.json plan.json --seconds 10 --seed 1`."""

import json
import os
import signal
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from scheduling.planner.format import plan_to, problem_from
from scheduling.planner.objective import Score, job_ends
from scheduling.planner.places import why_moved
from scheduling.planner.problem import Plan, Problem, ProblemRefused

START_UP_SHARE = 0.3  # of the time limit: start-up counts up to this
WORDS_SHARE = 0.1  # of it, up to twice that for large problems: for writing and explaining
EXPLAINED_JOBS = 5
EXPLAINING_S_PER_TASK = 2e-4  # about what it takes to explain one job
SECONDS_BETWEEN_LINES = 0.25


class Command(BaseCommand):
    help = "Read a planning problem, write the best plan found in the time. Ctrl-C ends it early."
    requires_system_checks = ()  # needs no database, no key

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("problem", type=Path)
        parser.add_argument("plan", type=Path)
        parser.add_argument("--seconds", type=float, default=10)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--steps", type=int, help="instead of seconds: repeatable anywhere")
        parser.add_argument(
            "--frozen-days", type=int, default=0, help="days of the previous plan that stay"
        )
        parser.add_argument(
            "--lateness-first",
            action="store_true",
            help="with a previous plan: spend no lateness on fewer moves",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["seconds"] <= 0 or (options["steps"] or 0) < 0 or options["frozen_days"] < 0:
            raise CommandError("Give seconds above 0, and steps and frozen days of 0 or more.")
        if not options["plan"].parent.is_dir():
            raise CommandError(f"There is no folder {options['plan'].parent} for the plan.")
        problem = _read(options["problem"])
        interrupted = False

        def interrupt(*_: object) -> None:  # takes no lock: what it interrupts may hold that
            nonlocal interrupted
            interrupted = True

        signal.signal(signal.SIGINT, interrupt)
        from scheduling.planner.solve import load, solve  # these take a while to load

        load()
        limit = options["seconds"]
        one_job = EXPLAINING_S_PER_TASK * len(problem.tasks)
        words = min(max(WORDS_SHARE * limit, one_job), 2 * WORDS_SHARE * limit)
        started_up = min(_seconds_old(), START_UP_SHARE * limit)
        ends_at = time.monotonic() + limit - started_up
        solved = solve(
            problem,
            seconds=limit - words - started_up,
            seed=options["seed"],
            steps=options["steps"],
            frozen_days=options["frozen_days"],
            lateness_first=options["lateness_first"],
            report=self._teller(),
            stopped=lambda: interrupted,
        )
        data = plan_to(solved.plan, start=problem.start)
        options["plan"].write_text(json.dumps(data, ensure_ascii=False, indent=1))
        self.stdout.write(f"Plan: {_words(solved.score)}; {_proof(solved.late_bound, solved)}.")
        self._tell_moves(problem, solved.plan)
        left = (lambda: float("inf")) if options["steps"] else (lambda: ends_at - time.monotonic())
        self._tell_why(problem, solved.plan, left=lambda: 0.0 if interrupted else left())

    def _teller(self) -> Any:
        said_at = -SECONDS_BETWEEN_LINES

        def tell(progress: Any) -> None:
            nonlocal said_at
            if progress.seconds >= said_at + SECONDS_BETWEEN_LINES:
                said_at = progress.seconds
                self.stdout.write(
                    f"{progress.seconds:7.2f} s  {progress.layer}: {_words(progress.score)}"
                )

        return tell

    def _tell_moves(self, problem: Problem, plan: Plan) -> None:
        if problem.previous is None:
            return
        before, now = problem.previous.by_task(), plan.by_task()
        for task, because in why_moved(problem, plan).items():
            self.stdout.write(
                f"Moved: {task} from {before[task].crew} to {now[task].crew}, "
                f"{now[task].start - before[task].start:+d} half-days: {'; '.join(because)}."
            )

    def _tell_why(self, problem: Problem, plan: Plan, *, left: Callable[[], float]) -> None:
        """The latest jobs, as many as there is time for if each takes as long as the longest."""
        from scheduling.planner.reasons import why_late

        ends = job_ends(problem, plan)
        late = sorted(
            (job.weight * (ends[job.id] - job.due_slot), job.id)
            for job in problem.jobs
            if ends[job.id] > job.due_slot
        )
        longest = EXPLAINING_S_PER_TASK * len(problem.tasks) / 2
        for _, job in late[::-1][:EXPLAINED_JOBS]:
            if left() <= longest:
                break
            began = time.monotonic()
            why = why_late(problem, plan, job)
            self.stdout.write(f"{job} is late: {'; '.join(why.because)}.")
            longest = max(longest, time.monotonic() - began)


def _seconds_old() -> float:
    """How long this process has been there; where nobody tells, what it has computed."""
    try:
        fields = Path("/proc/self/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return time.process_time()
    began = int(fields[19]) / os.sysconf("SC_CLK_TCK")  # since the machine's start: proc(5)
    return time.clock_gettime(time.CLOCK_BOOTTIME) - began


def _read(path: Path) -> Problem:
    try:
        return problem_from(json.loads(path.read_bytes()))
    except (OSError, UnicodeDecodeError, json.JSONDecodeError, RecursionError) as wrong:
        raise CommandError(f"{path} cannot be read as JSON: {wrong}") from wrong
    except ProblemRefused as refused:
        raise CommandError(f"{path}: {refused}") from refused


def _words(score: Score) -> str:
    planned = "all planned" if not score.unplanned else f"{score.unplanned:,} unplanned"
    return (
        f"{planned}, {score.late:,} weighted half-days late, {score.moved:,} moved, "
        f"job ends {score.ends:,}"
    )


def _proof(bound: int, solved: Any) -> str:
    if solved.optimal:
        return "proven optimal"
    gap = solved.score.late - bound
    if not gap:
        return "no plan is less late; its job ends are not proven"
    return f"no plan is less than {bound:,} late, so at most {gap:,} can be gained"
