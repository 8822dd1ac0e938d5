"""Starts the program again and again without loading it anew: one process loads everything, and has each as a child.

`python -m tests.faults.forked_servers` reads one line of JSON for each start (words of the command, environment), and
answers with the process id of the child, which leads a group of its own. What runs there is the program's own main.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from importlib import import_module

LOADED = (
    "fleetcare.assemble",
    "fleetcare.cli",
    "fleetcare.cli.serving",
    "fleetcare.planner",
    "fleetcare.store.sql_store",
    "fleetcare.timetable",
    "fleetcare.web.app",
    "fleetcare.web.server",
)


def main() -> None:
    """Until its standard input ends."""
    for name in LOADED:
        import_module(name)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the children are not waited for, and leave nothing behind
    print("loaded", flush=True)
    for line in sys.stdin:
        words, environment = json.loads(line)
        number = os.fork()
        if number == 0:
            _serve(words, environment)
        print(number, flush=True)


def _serve(words: list[str], environment: dict[str, str]) -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    os.setsid()
    nowhere = os.open(os.devnull, os.O_RDWR)
    for standard in (0, 1, 2):
        os.dup2(nowhere, standard)
    os.environ.update(environment)
    sys.argv = ["fleetcare", *words]
    try:
        from fleetcare.cli import main as program

        program()
    finally:
        os._exit(0)


if __name__ == "__main__":
    main()
