"""Finding things by words in a garage of 5,000 vehicles: `python -m tests.bench.bench_find [VEHICLES]`.

Each search is measured against an empty read of the same database, on SQLite; medians of 200.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fleetcare.actions.look_for import look_for
from fleetcare.actions.ports import Change, Store
from fleetcare.book.rows import IntervalBook
from fleetcare.fleet.component import LineKey
from fleetcare.settings.book_files import load_book
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config
from fleetcare.store.sql_store import open_store
from fleetcare.work.order import OrderedService, WorkOrder
from tests.contracts import karst_ridge as kr

NOW = datetime(2026, 4, 14, 15, tzinfo=UTC)
ROUNDS = 200
NAMES = ("Anvil", "Bellows", "Nettle", "Thistle", "Bramble", "Lantern", "Pocket", "Raft", "Plank", "Ferry")


def filled(store: Store, vehicles: int, book: IntervalBook) -> None:
    """Vehicles with eight services each; every one has two findings and every second a sheet."""
    services = sorted(book.rows)[:8]
    with store.write(Change("bench", "a large garage", NOW)) as unit:
        unit.put_garage(kr.GARAGE)
        unit.put_person(kr.INES)
        for number in range(vehicles):
            mark = f"V{number}"
            axle = replace(kr.AXLE, lines=tuple(replace(kr.AXLE.lines[0], service=each) for each in services))
            name = f"{NAMES[number % 10]} {number}"
            unit.put_vehicle(replace(kr.ANVIL, mark=mark, name=name, components=(axle,)))
            line = LineKey(mark, "rear-axle", services[0])
            unit.add_work([kr.work(line=line, on=kr.TODAY - timedelta(days=number % 900))])
            if number % 2 == 0:
                unit.put_order(WorkOrder(number + 1, mark, (OrderedService(line),), kr.TODAY, title=name))


def median_ms(act: Callable[[], object]) -> float:
    """Median time of one call."""
    took = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        act()
        took.append(time.perf_counter() - began)
    return 1000 * statistics.median(took)


def main() -> None:
    """Prints milliseconds and the ratio to an empty read."""
    vehicles = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    book = load_book(shipped_config() / SHIPPED_BOOK)
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(f"sqlite:///{Path(folder) / 'fleetcare.sqlite3'}")
        began = time.perf_counter()
        filled(store, vehicles, book)
        print(f"{vehicles} vehicles written in {time.perf_counter() - began:.1f} s")

        def empty() -> object:
            with store.read() as view:
                return view.garage()

        base = median_ms(empty)
        print(f"{'an empty read':<28}{base:8.2f} ms")
        for typed in ("V4711", "lantern 4715", "anvil axle fluid", "magnet", "2001", "a", "tow rear", "xylophone"):
            took = median_ms(lambda typed=typed: look_for(store, book, typed, with_people=True, now=NOW))  # type: ignore[misc]
            print(f"{typed:<28}{took:8.2f} ms {took / base:8.1f}")
        store.close()


if __name__ == "__main__":
    main()
