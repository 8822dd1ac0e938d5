"""What the store adds to the driver: `python -m tests.bench.bench_store [READINGS]`.

On SQLite, in a folder of its own. Four things run in turn, round after round: `add_readings` and a raw `executemany` of
the same rows into the same table; `readings()` and a raw cursor over the same rows. What is compared are medians of CPU
time. Last, one reading typed by a person, against one 4 kB write that is brought to the disk beside it (wall time).
"""

from __future__ import annotations

import os
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from fleetcare.store import translate_facts
from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, settle_in

ROUNDS = 5
COLUMNS = (
    '"mark", "meter", "day", "value_tenths", "unit", "entered_at", "by", "door", "split", "state", "note", "vouched_by"'
)


def cpu_s(work: Callable[[], object]) -> float:
    """CPU time of one call."""
    began = time.process_time()
    work()
    return time.process_time() - began


def wall_s(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def bulk(folder: Path, count: int) -> dict[str, list[float]]:
    """CPU seconds by what was done, once a round."""
    many = [kr.reading(str(number)) for number in range(count)]
    rows = [tuple(translate_facts.reading_columns(one).values()) for one in many]
    took: dict[str, list[float]] = {"add_readings": [], "executemany": [], "readings()": [], "cursor": []}
    for number in range(ROUNDS):
        ours, bare = folder / f"ours-{number}.sqlite3", folder / f"bare-{number}.sqlite3"
        for path in (ours, bare):
            store = open_store(f"sqlite:///{path}")
            settle_in(store)
            store.close()
        store = open_store(f"sqlite:///{ours}")

        def add() -> None:
            with store.write(CHANGE) as unit:  # noqa: B023 - called before the loop goes on
                assert unit.add_readings(many) == count

        def load() -> None:
            with store.read() as view:  # noqa: B023
                assert len(view.readings()) == count

        with closing(sqlite3.connect(bare, isolation_level=None)) as raw:

            def add_raw() -> None:
                raw.execute("BEGIN IMMEDIATE")
                raw.executemany(f"INSERT INTO reading ({COLUMNS}) VALUES (?,?,?,?,?,?,?,?,?,?,?)", rows)
                raw.execute("COMMIT")

            def load_raw() -> None:
                found = raw.execute("SELECT * FROM reading ORDER BY mark, meter, day, id").fetchall()
                assert len(found) == count

            for name, work in zip(took, (add, add_raw, load, load_raw), strict=True):
                took[name].append(cpu_s(work))
        store.close()
    return took


def typed(folder: Path, count: int = 200) -> dict[str, list[float]]:
    """Wall seconds of one typed reading, and of one bare write to the same disk."""
    store = open_store(f"sqlite:///{folder / 'typed.sqlite3'}")
    settle_in(store)
    took: dict[str, list[float]] = {"one reading": [], "one 4 kB write": []}
    with (folder / "bare").open("wb", buffering=0) as bare:

        def write_bare() -> None:
            bare.write(b"x" * 4096)
            os.fdatasync(bare.fileno())

        for number in range(count):
            reading = kr.reading(str(number))

            def add() -> None:
                with store.write(CHANGE) as unit:
                    unit.add_readings([reading])  # noqa: B023

            took["one reading"].append(wall_s(add))
            took["one 4 kB write"].append(wall_s(write_bare))
    store.close()
    return took


def main() -> None:
    """Prints medians and ratios."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        medians = {name: statistics.median(times) for name, times in bulk(Path(folder), count).items()}
        for name, seconds in medians.items():
            print(f"{name:14} {seconds / count * 1e6:8.2f} us a reading")
        print(f"storing: {medians['add_readings'] / medians['executemany']:.2f} times the driver")
        print(f"loading: {medians['readings()'] / medians['cursor']:.2f} times the driver")
        for name, times in (one := typed(Path(folder))).items():
            print(f"{name:14} {statistics.median(times) * 1e6:8.0f} us")
        ours, disk = (statistics.median(times) for times in one.values())
        print(f"one reading: {ours / disk:.2f} times the disk")


if __name__ == "__main__":
    main()
