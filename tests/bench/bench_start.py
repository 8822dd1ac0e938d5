"""How long whole processes take from start to end: `python -m tests.bench.bench_start`.

Python alone, the help, the list of what is due and one reading run in turn, round after round, on the demo garage in a
home of their own; what is compared are medians, and their ratio to Python alone.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.house.tree import ROOT

ROUNDS = 7
COMMAND = (sys.executable, "-c", "from fleetcare.cli import main; main()")


def seconds_of(argv: tuple[str, ...], home: Path) -> float:
    """Wall time of one whole process, which has to end well."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "FLEETCARE_HOME": str(home),
        # As on a machine where fleetcare is installed: modules are compiled once and kept.
        "PYTHONDONTWRITEBYTECODE": "",
        "PYTHONPYCACHEPREFIX": str(home / "compiled"),
    }
    began = time.perf_counter()
    run = subprocess.run(argv, env=environment, cwd=home, capture_output=True, text=True, check=False)
    took = time.perf_counter() - began
    if run.returncode != 0:
        raise SystemExit(f"{' '.join(argv)} ended with {run.returncode}: {run.stderr}")
    return took


def measured(home: Path, rounds: int = ROUNDS) -> dict[str, float]:
    """Median seconds of each, run side by side."""
    # A dial that no round has read before: each reading is new and has to be stored.
    dial = iter(range(112_700, 113_700, 10))
    commands: dict[str, Callable[[], tuple[str, ...]]] = {
        "python -c pass": lambda: (sys.executable, "-c", "pass"),
        "--help": lambda: (*COMMAND, "--help"),
        "due": lambda: (*COMMAND, "due"),
        "reading": lambda: (*COMMAND, "reading", "Anvil", str(next(dial))),
    }
    took: dict[str, list[float]] = {what: [] for what in commands}
    for round_ in range(rounds + 1):
        for what, argv in commands.items():
            seconds = seconds_of(argv(), home)
            if round_:  # the first round compiles
                took[what].append(seconds)
    return {what: statistics.median(times) for what, times in took.items()}


def main() -> None:
    """Prints the medians and their ratios."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        seconds_of((*COMMAND, "import", str(ROOT / "demo_fleet")), home)
        medians = measured(home)
    bare = medians["python -c pass"]
    for what, median in medians.items():
        print(f"{what:<16}{median * 1000:8.0f} ms {median / bare:8.1f} x bare")


if __name__ == "__main__":
    main()
