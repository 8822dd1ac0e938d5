"""Vehicles that a process has read before are what it would read now, whatever was written, by whomever."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.actions.ports import Change
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.quantities import DistanceUnit
from fleetcare.store.known_vehicles import KnownVehicles
from fleetcare.store.sql_store import SqlStore, open_store

NOW = datetime(2026, 4, 13, 9, tzinfo=UTC)


def car(mark: str, name: str) -> Vehicle:
    return Vehicle(mark=mark, name=name, kind=VehicleKind.CAR, called="car", unit=DistanceUnit.KM)


GARAGE = (car("AN", "Anvil"), car("BE", "Bellows"))


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[tuple[SqlStore, SqlStore]]:
    """Two processes' stores on one database."""
    url = f"sqlite:///{tmp_path / 'garage.sqlite3'}"
    with closing(open_store(url)) as one, closing(open_store(url)) as other:
        put(one, *GARAGE)
        yield one, other


def put(store: SqlStore, *vehicles: Vehicle) -> None:
    with store.write(Change("test", "written", NOW)) as unit:
        for each in vehicles:
            unit.put_vehicle(each)


def names(store: SqlStore) -> list[str]:
    with store.read() as view:
        return [each.name for each in view.vehicles()]


def test_a_write_by_another_process_shows_at_the_next_look(stores: tuple[SqlStore, SqlStore]) -> None:
    one, other = stores
    assert names(one) == ["Anvil", "Bellows"]
    put(other, replace(GARAGE[0], name="Anvil the second"))
    assert names(one) == ["Anvil the second", "Bellows"]


def test_what_was_undone_is_never_known(stores: tuple[SqlStore, SqlStore]) -> None:
    one, _ = stores

    def half_a_write() -> None:
        with one.write(Change("test", "undone", NOW)) as unit:
            unit.put_vehicle(replace(GARAGE[0], name="never"))
            assert [each.name for each in unit.vehicles()] == ["never", "Bellows"]
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half_a_write()
    # The next write takes the number that the undone one would have had.
    put(one, replace(GARAGE[0], name="Anvil the third"))
    assert names(one) == ["Anvil the third", "Bellows"]


def test_only_what_is_new_is_read() -> None:
    known, asked = KnownVehicles(), list[list[str] | None]()
    there = {each.mark: each for each in GARAGE}

    def read(marks: Iterable[str] | None) -> list[Vehicle]:
        asked.append(None if marks is None else list(marks))
        return _reader(there)(marks)

    for stamps, era in (
        ({"AN": 1, "BE": 1}, 0),
        ({"AN": 1, "BE": 1}, 0),
        ({"AN": 1, "BE": 2}, 0),
        ({"AN": 1, "BE": 2}, 1),
    ):
        known.vehicles(stamps, era, read)
    assert asked == [None, ["BE"], None]


@given(
    st.lists(st.dictionaries(st.sampled_from("ABCDE"), st.integers(0, 3), min_size=1), max_size=6),
    st.lists(st.integers(0, 1), min_size=6, max_size=6),
    st.integers(0, 6),
)
def test_what_is_known_is_what_is_there(gardens: list[dict[str, int]], eras: list[int], most: int) -> None:
    known = KnownVehicles(most)
    for stamps, era in zip(gardens, eras, strict=False):
        there = {m: car(m, f"{m} {stamp} {era}") for m, stamp in stamps.items()}
        assert known.vehicles(stamps, era, _reader(there)) == tuple(there.values())


def _reader(there: dict[str, Vehicle]) -> Callable[[Iterable[str] | None], list[Vehicle]]:
    return lambda marks: [there[mark] for mark in (there if marks is None else marks)]
