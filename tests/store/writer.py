"""A process of its own that writes to a store, for tests of many at once and of sudden ends.

`python -m tests.store.writer count URL TIMES` raises the number in the garage's name by one, so many times.
`python -m tests.store.writer readings URL` adds readings until it is killed, and says each once it is stored.
`python -m tests.store.writer open URL` opens the store and closes it.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from fleetcare.actions.ports import Store
from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE

ROOT = Path(__file__).parents[2]


def start(*arguments: str) -> subprocess.Popen[str]:
    """Runs this module in a process of its own."""
    command = [sys.executable, "-W", "error", "-m", "tests.store.writer", *arguments]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def count_up(store: Store, times: int) -> None:
    """Reads the number, adds one and writes it back, so many times."""
    for _ in range(times):
        with store.write(CHANGE) as unit:
            there = unit.garage()
            unit.put_garage(replace(kr.GARAGE, name=str(1 + (int(there.name) if there else 0))))


def add_readings(store: Store, already: int) -> None:
    """Two readings a unit, the second one half a unit up; each unit is said after it is committed."""
    number = already
    while True:
        day = kr.TODAY + timedelta(days=number)
        with store.write(CHANGE) as unit:
            unit.add_readings([kr.reading(str(number), on=day)])
            unit.add_readings([kr.reading(f"{number}.5", on=day)])
        print(number, flush=True)
        number += 1


def main() -> None:
    """Does what the command line says."""
    what, url = sys.argv[1:3]
    store = open_store(url, busy_timeout_s=30)
    if what == "count":
        count_up(store, int(sys.argv[3]))
    elif what == "readings":
        with store.read() as view:
            already = len(view.readings()) // 2
        add_readings(store, already)
    store.close()


if __name__ == "__main__":
    main()
