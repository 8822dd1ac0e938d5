"""One reading typed by a person, against an empty write: `python -m tests.bench.bench_reading`.

On SQLite, in a folder of its own. A vehicle with ten lines and a history of monthly readings takes one more each round:
judged, stored, its meter walked again, all lines worked out, what moved written and logged, one transaction. Beside it,
in the same round, a write unit in which nothing is written. First nobody subscribes to a feed, then one person does.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from fleetcare.actions.links import make_key, publish_feed
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.record_reading import Given, Recorded, record_reading
from fleetcare.actions.settle import settle
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.people import Garage, Person
from fleetcare.meter.reading import Door
from fleetcare.quantities import DistanceUnit
from fleetcare.store.sql_store import open_store
from tests.bench.bench_refresh import BOOK, RULES
from tests.due.facts import MIXED, done, monthly, vehicle
from tests.stand_ins import NumberedKeys

ROUNDS = 25
LAST = date(2026, 4, 2)
BASE_URL = "https://bench.example"


def main() -> None:
    """Prints medians of CPU and wall time, and what a reading takes beyond the empty write."""
    for count in (12, 120):
        for readers in (0, 1):
            with (
                tempfile.TemporaryDirectory() as folder,
                closing(_garage(Path(folder) / "bench.sqlite3", count, readers)) as store,
            ):
                _rounds(store, count, readers)


def _rounds(store: Store, count: int, readers: int) -> None:
    took: dict[str, list[tuple[float, float]]] = {"reading": [], "empty": []}
    for number in range(1, ROUNDS + 1):
        now = datetime(LAST.year, LAST.month, LAST.day, 15, tzinfo=UTC) + timedelta(days=30 * number)
        given = Given("AN", Decimal(40_000 + 300 * number), "teo", Door.PHONE)

        def read(given: Given = given, now: datetime = now) -> None:
            came = record_reading(store, RULES, given, now=now, base_url=BASE_URL)
            assert isinstance(came, Recorded)

        def nothing(now: datetime = now) -> None:
            with store.write(Change("teo", "nothing", now)):
                pass

        took["reading"].append(_took(read))
        took["empty"].append(_took(nothing))
    cpu, wall = (
        {name: statistics.median(pair[place] for pair in pairs) * 1e3 for name, pairs in took.items()}
        for place in (0, 1)
    )
    print(
        f"{count:4} readings before, {readers} feed: CPU {cpu['reading']:.2f} ms, empty {cpu['empty']:.2f} ms, "
        f"{cpu['reading'] - cpu['empty']:.2f} ms more; wall {wall['reading']:.2f} ms, empty {wall['empty']:.2f} ms"
    )


def _garage(path: Path, count: int, readers: int) -> Store:
    store = open_store(f"sqlite:///{path}")
    now = datetime(2026, 4, 2, 12, tzinfo=UTC)
    with store.write(Change("bench", "set up", now)) as unit:
        unit.put_garage(Garage("Bench", "UTC", DistanceUnit.MI, "b3nch", "ines"))
        unit.put_person(Person("ines", "Ines", "ines@bench.example"))
        unit.put_vehicle(replace(vehicle(services=tuple(BOOK.rows)), entered_on=date(2024, 1, 1), keeper="ines"))
        readings = [replace(each, split=MIXED) for each in monthly(LAST, 40_000, 300, count)]
        unit.add_readings(readings)
        start = readings[-5]
        unit.add_work([done(start.on, int(start.value), service=service) for service in BOOK.rows])
        settle(unit, RULES, now=now, base_url=BASE_URL)
    if readers:
        make_key(store, NumberedKeys(), now=now, who="ines", purpose=Purpose.FEED, person="ines")
        publish_feed(store, RULES, "ines", now=now, base_url=BASE_URL)
    return store


def _took(work: Callable[[], None]) -> tuple[float, float]:
    cpu, wall = time.process_time(), time.perf_counter()
    work()
    return time.process_time() - cpu, time.perf_counter() - wall


if __name__ == "__main__":
    main()
