"""Plan crews from a file: `manage.py plan problem.json plan.json --seconds 10 --seed 1`."""

import json
import signal
import threading
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from scheduling.planner.format import plan_to, problem_from
from scheduling.planner.problem import Problem, ProblemRefused


class Command(BaseCommand):
    help = "Read a planning problem, write the best plan found in the time. Ctrl-C ends it early."
    requires_system_checks = ()  # needs no database, no key

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("problem", type=Path)
        parser.add_argument("plan", type=Path)
        parser.add_argument("--seconds", type=float, default=10)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--steps", type=int, help="instead of seconds: repeatable anywhere")
        parser.add_argument("--frozen-days", type=int, default=0)
        parser.add_argument(
            "--lateness-first",
            action="store_true",
            help="with a previous plan: spend no lateness on fewer moves",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        from scheduling.planner.solve import Progress, solve  # the solvers take a while to load

        problem = self._read(options["problem"])
        stopped = threading.Event()
        signal.signal(signal.SIGINT, lambda *_: stopped.set())

        def tell(progress: Progress) -> None:
            self.stdout.write(f"{progress}")

        solved = solve(
            problem,
            seconds=options["seconds"],
            seed=options["seed"],
            steps=options["steps"],
            frozen_days=options["frozen_days"],
            lateness_first=options["lateness_first"],
            report=tell,
            stopped=stopped.is_set,
        )
        data = plan_to(solved.plan, start=problem.start)
        options["plan"].write_text(json.dumps(data, ensure_ascii=False, indent=1))
        self.stdout.write(
            f"{solved.score} bound {solved.late_bound} optimal {solved.optimal} {solved.steps}"
        )

    def _read(self, path: Path) -> Problem:
        try:
            return problem_from(json.loads(path.read_bytes()))
        except (OSError, UnicodeDecodeError, json.JSONDecodeError, ProblemRefused) as refused:
            raise CommandError(f"{path}: {refused}") from refused
