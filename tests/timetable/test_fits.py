"""The numbers of the forecast are learned by themselves: once a month, at night, by one process, and only if wanted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fleetcare.actions.ports import ReadView, Store
from fleetcare.timetable import Round
from fleetcare.usage.learned import Fitted
from tests.actions.garages import DEMO_NOW, demo, small
from tests.stand_ins import FixedClock, MemoryStore
from tests.timetable.test_round import parts_with

NIGHT = datetime(2026, 4, 15, 9, 10, tzinfo=UTC)
"""Ten past three in Denver, the night after the demo's own day."""

MakeRound = Callable[..., Round]


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock(DEMO_NOW)


@pytest.fixture
def round_on(clock: FixedClock, tmp_path: Path) -> MakeRound:
    """A round on that store; letters are off, they are not what this is about."""
    return lambda store, **environment: Round(
        parts_with(store, clock, tmp_path, FLEETCARE_LETTERS_ENABLED="false", **environment),
        ticks_s=lambda: clock.now().timestamp(),
    )


def newest(store: Store) -> Fitted | None:
    with store.read() as view:
        return view.newest_fit()


def fits(store: MemoryStore) -> int:
    with store.read() as view:
        return sum(entry.what == "forecast numbers" for entry in view.log())


def test_a_garage_learns_in_its_first_night_and_then_not_for_a_month(round_on: MakeRound, clock: FixedClock) -> None:
    store = demo().store
    round_ = round_on(store)
    round_.run()
    assert newest(store) is None, "not in the middle of the day on which the readings came in"
    for minutes in (0, 1, 60):
        clock.set(NIGHT + timedelta(minutes=minutes))
        round_.run()
    assert round_.troubles() == ()
    first = newest(store)
    assert first is not None
    assert (first.at, first.who, fits(store)) == (NIGHT, "timetable", 1)
    for days, count in ((1, 1), (29, 1), (30, 2), (31, 2)):
        clock.set(NIGHT + timedelta(days=days))
        round_.run()
        assert fits(store) == count, days


def test_a_machine_that_is_off_at_night_learns_when_it_is_started_the_day_after(
    round_on: MakeRound, clock: FixedClock
) -> None:
    store = demo().store
    round_on(store).run()
    clock.set(DEMO_NOW + timedelta(days=2))
    round_on(store).run()
    assert fits(store) == 1


def test_of_two_processes_one_learns(round_on: MakeRound, clock: FixedClock) -> None:
    store = demo().store
    both = [round_on(store), round_on(store)]
    clock.set(NIGHT)
    for round_ in both:
        round_.run()
    assert fits(store) == 1
    assert [round_.troubles() for round_ in both] == [(), ()]


def test_where_it_is_set_to_never_nothing_is_learned(round_on: MakeRound, clock: FixedClock) -> None:
    store = demo().store
    clock.set(NIGHT)
    round_on(store, FLEETCARE_FORECAST_FIT="never").run()
    assert newest(store) is None


class Counting(MemoryStore):
    """A store that counts how often it is asked for every mark: once for each time there is something to learn."""

    def __init__(self, inner: MemoryStore) -> None:
        super().__init__()
        self._memory = inner._memory
        self.looks = 0

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        """A view that is watched."""
        with super().read() as view:
            yield _Watched(view, self)


class _Watched:
    def __init__(self, view: ReadView, store: Counting) -> None:
        self._view = view
        self._store = store

    def __getattr__(self, name: str) -> Any:
        self._store.looks += name == "marks"
        return getattr(self._view, name)


def test_a_garage_with_too_little_to_go_by_is_looked_at_once_a_night(round_on: MakeRound, clock: FixedClock) -> None:
    store = Counting(small().store)
    clock.set(NIGHT)
    round_ = round_on(store)
    looks = []
    for minutes in (0, 1, 30, 24 * 60):
        clock.set(NIGHT + timedelta(minutes=minutes))
        round_.run()
        looks.append(store.looks)
    assert looks[0] == looks[1] == looks[2] < looks[3]
    assert newest(store) is None
    assert round_.troubles() == ()


def test_a_home_without_a_garage_is_no_trouble(round_on: MakeRound, clock: FixedClock) -> None:
    clock.set(NIGHT)
    round_ = round_on(MemoryStore())
    round_.run()
    assert round_.troubles() == ()
