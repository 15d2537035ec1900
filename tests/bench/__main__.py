"""`python -m tests.bench [name ...]`: run the benchmarks, each in a process of its own.

A benchmark is a module `bench_<name>.py` with `main() -> list[str]`, the lines of its report.
"""

import importlib
import platform
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path


def names() -> list[str]:
    here = Path(__file__).parent
    return sorted(path.stem.removeprefix("bench_") for path in here.glob("bench_*.py"))


def run(name: str) -> None:
    module = importlib.import_module(f"tests.bench.bench_{name}")
    print(f"## {name}\n")
    print("\n".join(module.main()), flush=True)
    print()


if __name__ == "__main__":
    if len(sys.argv) == 3 and sys.argv[1] == "--one":
        run(sys.argv[2])
        sys.exit()
    chosen = sys.argv[1:] or names()
    today = datetime.now(UTC).date()  # noqa: TID251 (a report says when it was made)
    print(f"# Measured on {today}, {platform.machine()}, Python {platform.python_version()}\n")
    sys.exit(
        max(
            subprocess.run([sys.executable, "-m", "tests.bench", "--one", name]).returncode
            for name in chosen
        )
    )
