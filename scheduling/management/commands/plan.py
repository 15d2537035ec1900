"""Plan crews from a file: `manage.py plan problem.json plan.json --seconds 10 --seed 1`."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from scheduling.planner.check import violations
from scheduling.planner.format import plan_to, problem_from
from scheduling.planner.greedy import greedy
from scheduling.planner.problem import ProblemRefused


class Command(BaseCommand):
    help = "Read a planning problem, write the best plan found in the time."
    requires_system_checks = ()  # needs no database, no key

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("problem", type=Path)
        parser.add_argument("plan", type=Path)
        parser.add_argument("--seconds", type=float, default=10)
        parser.add_argument("--seed", type=int, default=1)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            problem = problem_from(json.loads(options["problem"].read_bytes()))
        except (OSError, UnicodeDecodeError, json.JSONDecodeError, ProblemRefused) as refused:
            raise CommandError(f"{options['problem']}: {refused}") from refused
        plan = greedy(problem)
        if found := violations(problem, plan):
            raise CommandError("\n".join(found))
        data = plan_to(plan, start=problem.start)
        options["plan"].write_text(json.dumps(data, ensure_ascii=False, indent=1))
