"""The whole fleet is worked out by stretches: by columns where that can be, and always to the same dates."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fleetcare.actions.fleet_pass import FleetPass, pass_over_fleet
from fleetcare.actions.gather import Rules, facts_of, outlooks_from, rules_in_force
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.settle import settle, state_of
from fleetcare.book.rows import DutyFigure, IntervalBook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage
from fleetcare.quantities import DateSpan, DistanceUnit
from fleetcare.store.sql_store import open_store
from fleetcare.usage.learned import FitBasis, Fitted, FleetNumbers
from tests.due.facts import DUTIES, MIXED, PRIORS, done, miles, monthly, row, vehicle
from tests.stand_ins import MemoryStore

NOW = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
TODAY = date(2026, 4, 14)
VEHICLES = 7
BOOK = IntervalBook(
    {
        "fluid": row(mi=5_000, months=18, by_duty=(DutyFigure("towing", miles(2_500)),), key="fluid"),
        "look": row(mi=30_000, key="look"),
        "dated": row(months=6, key="dated"),
    }
)
RULES = Rules(BOOK, DUTIES, PRIORS)
BASIS = FitBasis(21, 340, 14, 1.2, 1.1, 1.2, 1.1, season=True)
LEARNED = FleetNumbers(3.2, 0.4, 3.0, 0.3, 55.0, 0.05, (0.7, 0.7, 0.9, 1, 1, 1.2, 1.3, 1.3, 1, 1, 1, 0.9))
BASE_URL = "https://garage.example"


def mark(number: int) -> str:
    return f"V{number:02}"


def filled(store: Store) -> Store:
    """Seven vehicles with three lines each; V03 has a trip ahead and V05 lies up, so both stand alone."""
    with store.write(Change("test", "set up", NOW)) as unit:
        unit.put_garage(Garage("Small garage", "UTC", DistanceUnit.MI, "g4rage", ""))
        for number in range(VEHICLES):
            own = mark(number)
            rest = (DateSpan(date(2026, 5, 1), date(2026, 7, 1)),) if number == 5 else ()
            unit.put_vehicle(
                replace(vehicle(services=tuple(BOOK.rows)), mark=own, entered_on=date(2024, 1, 1), laid_up=rest)
            )
            readings = monthly(date(2026, 4, 2), 40_000 + number, 500 + 150 * number, 4 + 3 * number)
            unit.add_readings([replace(each, mark=own, split=MIXED) for each in readings])
            first = readings[1]
            work = [done(first.on, int(first.value), service=service) for service in BOOK.rows]
            unit.add_work([replace(each, line=each.line._replace(mark=own)) for each in work])
        days = DateSpan(date(2026, 5, 2), date(2026, 5, 5))
        unit.put_booking(Booking("lake", "Hollow Lake", days, (mark(3),), Decimal(400), DistanceUnit.MI, "towing"))
        settle(unit, RULES, now=NOW, base_url=BASE_URL)
    return store


@pytest.fixture
def store(sqlite_url: str) -> Store:
    return filled(open_store(sqlite_url))


def run(
    store: Store, rules: Rules = RULES, *, now: datetime = NOW, why: str = "looked again", **more: Any
) -> FleetPass:
    return pass_over_fleet(store, rules, Change("fleetcare", why, now), base_url=BASE_URL, **more)


def learn(store: Store, *, at: datetime = NOW) -> None:
    with store.write(Change("teo", "learned", at)) as unit:
        unit.add_fit(Fitted(at, "teo", LEARNED, BASIS))


def the_long_way(store: Store, *, today: date = TODAY) -> dict[LineKey, object]:
    with store.read() as view:
        outlooks = outlooks_from(facts_of(view), rules_in_force(view, RULES), today)
    return {line.key: state_of(line) for outlook in outlooks for line in outlook.lines}


def windows(store: Store) -> dict[LineKey, object]:
    with store.read() as view:
        return dict(view.windows())


@pytest.mark.parametrize("fill", ["memory", "sqlite_url", pytest.param("postgres_url", marks=pytest.mark.postgres)])
def test_numbers_that_were_learned_move_every_date_as_the_long_way_does(
    fill: str, request: pytest.FixtureRequest
) -> None:
    store = filled(MemoryStore() if fill == "memory" else open_store(request.getfixturevalue(fill)))
    before = windows(store)
    learn(store)
    came = run(store)
    assert (came.by_columns, came.long_way, came.as_before) == (VEHICLES - 2, 2, 0)
    after = windows(store)
    assert after == the_long_way(store)
    assert came.moved == sum(before[key] != after[key] for key in after) > VEHICLES
    store.close()


def test_only_lines_that_moved_are_written_each_with_its_cause(store: Store) -> None:
    before = windows(store)
    learn(store)
    came = run(store, why="forecast fitted to this garage")
    with store.read() as view:
        entries = [entry for entry in view.log() if entry.change.why == "forecast fitted to this garage"]
    moved = {str(key) for key, state in windows(store).items() if before[key] != state}
    assert {entry.subject for entry in entries} == moved
    assert len(entries) == came.moved
    assert not any("dated" in subject for subject in moved), "a bare date does not move with the pace"


def test_a_new_day_leaves_what_is_packed_as_it_is_and_works_out_the_rest(store: Store) -> None:
    tomorrow = NOW + timedelta(days=1)
    came = run(store, now=tomorrow, why="a new day")
    assert (came.by_columns, came.long_way, came.as_before) == (0, 2, VEHICLES - 2)
    assert windows(store) == the_long_way(store, today=TODAY + timedelta(days=1))
    with store.read() as view:
        version = view.version()
    assert run(store, now=tomorrow, why="a new day").moved == 0
    with store.read() as view:
        assert view.version() == version, "the same day worked out twice writes nothing"


def test_another_book_is_worked_out_the_long_way_and_packed_again(store: Store) -> None:
    other = replace(RULES, book=IntervalBook({**BOOK.rows, "look": row(mi=12_000, key="look")}))
    came = run(store, other, why="the book was changed")
    assert (came.by_columns, came.long_way, came.as_before) == (0, VEHICLES, 0)
    again = run(store, other)
    assert (again.by_columns, again.long_way, again.as_before, again.moved) == (0, 2, VEHICLES - 2, 0)


def test_a_fact_written_without_working_it_out_is_found_by_the_next_pass(store: Store) -> None:
    with store.write(Change("test", "typed beside", NOW)) as unit:
        more = monthly(date(2026, 4, 13), 47_000, 500, 1)
        unit.add_readings([replace(each, mark=mark(1)) for each in more])
    came = run(store)
    assert (came.long_way, came.as_before) == (3, VEHICLES - 3)
    assert came.moved > 0
    assert windows(store) == the_long_way(store)


class Killed(BaseException):
    """The program is gone in the middle of its work."""


class DyingStore:
    """A store that dies when its n-th write unit is about to be committed."""

    def __init__(self, store: Store, at: int) -> None:
        self._store, self._left = store, at

    def __getattr__(self, name: str) -> object:
        return getattr(self._store, name)

    def write(self, change: Change, *, typed: bool = True) -> object:
        self._left -= 1
        return self._store.write(change, typed=typed) if self._left else _Dying(self._store, change)


class _Dying:
    def __init__(self, store: Store, change: Change) -> None:
        self._open = store.write(change)

    def __enter__(self) -> WriteUnit:
        return self._open.__enter__()

    def __exit__(self, *_: object) -> None:
        fault = Killed()
        self._open.__exit__(Killed, fault, None)
        raise fault


@pytest.mark.parametrize("dies_at", [1, 2, 3, 4, 5])
def test_killed_anywhere_and_run_again_it_comes_to_the_same_end(store: Store, dies_at: int) -> None:
    """Seven vehicles in stretches of two are four units, and a fifth for the feeds."""
    learn(store)
    dying: Store = DyingStore(store, dies_at)  # type: ignore[assignment]
    with pytest.raises(Killed):
        run(dying, stretch=2)
    came = run(store, stretch=2)
    assert came.as_before <= 2 * (dies_at - 1), "what was done before it died is not done again"
    assert windows(store) == the_long_way(store)
    assert run(store).moved == 0


def test_it_says_how_far_it_is(store: Store) -> None:
    told: list[tuple[int, int]] = []
    run(store, stretch=2, progress=lambda done, of: told.append((done, of)))
    assert told == [(2, 7), (4, 7), (6, 7), (7, 7)]
