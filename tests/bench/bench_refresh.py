"""A whole fleet worked out again, database to database: `python -m tests.bench.bench_refresh [VEHICLES]`.

On SQLite, in a folder of its own. A garage of ten vehicles is worked out the long way and copied, row by row, until it
has so many vehicles of ten lines each. Then, round after round: the driver reads what the pass reads and does nothing
with it; the pass finds that nothing changed; the pass works everything out under other numbers (by turns two sets, so
that every line has a new answer and those that moved are written). Medians of CPU time; last, the same with a tenth of
the vehicles, for the growth. The long way itself is timed on the ten.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from fleetcare.actions.fleet_pass import pass_over_fleet
from fleetcare.actions.gather import Rules, facts_of, worked_out_from
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import settle
from fleetcare.book.rows import DutyFigure, IntervalBook
from fleetcare.fleet.people import Garage
from fleetcare.quantities import DistanceUnit
from fleetcare.store.sql_store import open_store
from fleetcare.usage.learned import FitBasis, Fitted, FleetNumbers
from tests.due.facts import DUTIES, MIXED, PRIORS, done, miles, monthly, row, vehicle

NOW = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
ROUNDS = 5
PATTERNS = 10
LINES = 10
BOOK = IntervalBook(
    {
        f"s{i}": row(
            mi=9_000 + 2_500 * i, months=14 + i, by_duty=(DutyFigure("towing", miles(6_000 + 900 * i)),), key=f"s{i}"
        )
        for i in range(LINES)
    }
)
RULES = Rules(BOOK, DUTIES, PRIORS)
BASIS = FitBasis(21, 340, 14, 1.2, 1.1, 1.2, 1.1, season=False)
SHIPPED = FleetNumbers.of(PRIORS)
SETS = (replace(SHIPPED, psi=2.4, s0=0.5), replace(SHIPPED, psi=2.0, s0=0.57))


def main(vehicles: int) -> None:
    """Builds the two garages, runs the rounds and prints the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        small, large = (
            _garage(Path(folder) / f"{count}.sqlite3", count) for count in (max(PATTERNS, vehicles // 10), vehicles)
        )
        took: dict[str, list[float]] = {name: [] for name in ("read", "unchanged", "anew", "tenth", "long")}
        moved = 0
        for number in range(ROUNDS):
            took["read"].append(_cpu_s(lambda: _read_all(large)))
            took["unchanged"].append(_cpu_s(lambda: _pass(large)))
            _learn(large, number)
            took["anew"].append(_cpu_s(lambda: _pass(large)))
            moved = _moved_last(large)
            _learn(small, number)
            took["tenth"].append(_cpu_s(lambda: _pass(small)))
            took["long"].append(_cpu_s(lambda: _long_way(small)))
        lines = vehicles * LINES
        medians = {name: statistics.median(values) for name, values in took.items()}
        print(f"{vehicles} vehicles, {lines} lines; {moved} lines moved in the last pass")
        print(f"driver reads packed inputs and dates        {medians['read'] * 1e6 / lines:8.2f} us a line   1.00")
        for name, words in (("unchanged", "pass, nothing changed"), ("anew", "pass, other numbers")):
            ratio = medians[name] / medians["read"]
            print(f"{words:43} {medians[name] * 1e6 / lines:8.2f} us a line {ratio:6.2f}")
        long_way = medians["long"] / (PATTERNS * LINES)
        ratio = long_way * lines / medians["read"]
        print(f"long way, vehicle by vehicle                {long_way * 1e6:8.2f} us a line {ratio:6.2f}")
        growth = medians["anew"] / medians["tenth"]
        print(f"{vehicles / max(PATTERNS, vehicles // 10):.0f} times the vehicles take {growth:.1f} times as long")


def _garage(path: Path, count: int) -> Path:
    """Ten vehicles worked out, and as many copies of them as are wanted; reading a copy is reading a vehicle."""
    store = open_store(f"sqlite:///{path}")
    with store.write(Change("bench", "set up", NOW)) as unit:
        unit.put_garage(Garage("Bench", "UTC", DistanceUnit.MI, "b3nch", ""))
        for number in range(PATTERNS):
            mark = f"V{number}"
            unit.put_vehicle(replace(vehicle(services=tuple(BOOK.rows)), mark=mark, entered_on=date(2024, 1, 1)))
            readings = monthly(date(2026, 4, 2), 40_000, 500 + 90 * number, 12)
            unit.add_readings([replace(each, mark=mark, split=MIXED) for each in readings])
            start = readings[-5]
            work = [done(start.on, int(start.value), service=service) for service in BOOK.rows]
            unit.add_work([replace(each, line=each.line._replace(mark=mark)) for each in work])
        settle(unit, RULES, now=NOW, base_url="https://bench.example")
    store.close()
    with closing(sqlite3.connect(path)) as raw, raw:
        for table, columns in (
            ("vehicle", _columns(raw, "vehicle")),
            ("due_window", _columns(raw, "due_window")),
            ("line_inputs", _columns(raw, "line_inputs")),
        ):
            others = ", ".join(f'"{column}"' for column in columns if column != "mark")
            raw.execute(
                f"WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?) "
                f'INSERT INTO {table} (mark, {others}) SELECT t.mark || "-" || n.i, {others} FROM {table} t, n',
                (count // PATTERNS - 1,),
            ) if count > PATTERNS else None
    return path


def _columns(raw: sqlite3.Connection, table: str) -> list[str]:
    return [str(name) for _, name, *_ in raw.execute(f"PRAGMA table_info({table})")]


def _read_all(path: Path) -> int:
    with closing(sqlite3.connect(path)) as raw:
        total = sum(len(numbers) for _, _, numbers in raw.execute("SELECT mark, rules, numbers FROM line_inputs"))
        return total + sum(
            1 for _ in raw.execute("SELECT mark, component, service, early, likely, late FROM due_window")
        )


def _pass(path: Path) -> None:
    with closing(open_store(f"sqlite:///{path}")) as store:
        pass_over_fleet(store, RULES, Change("bench", "pass", NOW), base_url="https://bench.example")


def _moved_last(path: Path) -> int:
    with closing(sqlite3.connect(path)) as raw:
        query = (
            "SELECT count(*) FROM log WHERE what = 'due window' AND id > (SELECT max(id) FROM log WHERE what = 'fit')"
        )
        return int(raw.execute(query).fetchone()[0])


def _learn(path: Path, number: int) -> None:
    with closing(open_store(f"sqlite:///{path}")) as store, store.write(Change("bench", "learned", NOW)) as unit:
        unit.add_fit(Fitted(NOW + timedelta(minutes=number), "bench", SETS[number % 2], BASIS))
        unit.log_change("forecast", "fit", "", str(number))


def _long_way(path: Path) -> None:
    with closing(open_store(f"sqlite:///{path}")) as store:
        _work_out(store)


def _work_out(store: Store) -> None:
    with store.read() as view:
        worked_out_from(facts_of(view, [f"V{number}" for number in range(PATTERNS)]), RULES, NOW.date())


def _cpu_s(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000)
