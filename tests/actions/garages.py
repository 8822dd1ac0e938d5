"""Garages in memory for tests of the actions: the demo as its files stand, and a small one for years of letters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from fleetcare.actions.gather import Rules
from fleetcare.actions.ports import Change, ReadView, WriteUnit
from fleetcare.actions.sheet_visits import Shop
from fleetcare.actions.write_letters import Desk
from fleetcare.assemble import Parts
from fleetcare.calendar_feed.values import FeedBody, FeedStamp
from fleetcare.cli.bringing import bring_in_files
from fleetcare.fleet.access import Fetch
from fleetcare.fleet.people import Person
from fleetcare.mailer.message import Envelopes
from fleetcare.quantities import DistanceUnit
from fleetcare.settings.garage_rules import RulesKept, load_rules
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_JOBS, shipped_config, shipped_demo
from fleetcare.settings.settings import load_settings
from tests.cli.small_garage import write_garage
from tests.stand_ins import FixedClock, MemoryStore, NumberedKeys

BASE_URL = "https://garage.example"
DEMO_NOW = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
"""Nine in the morning of the demo's own Tuesday, in its zone."""
SMALL_NOW = datetime(2021, 2, 3, 12, 0, tzinfo=UTC)
SHOP = Shop(load_jobs(shipped_config() / SHIPPED_JOBS), BASE_URL)
"""What a step of a sheet needs beside the store: the shipped jobs."""


@dataclass(frozen=True)
class Stage:
    """A store with a garage in it, and what actions are called with."""

    store: MemoryStore
    rules: Rules
    keys: NumberedKeys

    @property
    def desk(self) -> Desk:
        """What letters are written with."""
        return Desk(self.keys, Envelopes(from_name="Garage letter", from_address="garage@garage.example"), BASE_URL)


def demo() -> Stage:
    """The demo garage at `DEMO_NOW`."""
    return _copy(_filled("demo"))


def small(*people: Person) -> Stage:
    """One vehicle, last read on 1 February 2021, driven by these people (Noor alone if none is given)."""
    stage = _copy(_filled("small"))
    if people:
        with stage.store.write(Change("test", "people", SMALL_NOW)) as unit:
            (vehicle,) = unit.vehicles()
            for person in people:
                unit.put_person(person)
            unit.put_vehicle(replace(vehicle, keeper=people[0].key, drivers=tuple(p.key for p in people)))
            if not any(person.key == "noor" for person in people):
                noor = next(p for p in unit.people() if p.key == "noor")
                unit.put_person(replace(noor, mail="", letter_weekday=None))
    return stage


def person(key: str, zone: str = "UTC", *, mail: str | None = None, weekday: int | None = 0, hour: int = 7) -> Person:
    """A person with a mail address of their own."""
    address = f"{key}@small.example" if mail is None else mail
    name = key.title()
    return Person(key, name, address, zone, DistanceUnit.KM, letter_weekday=weekday, letter_hour=hour)


@cache
def _filled(which: str) -> Stage:
    with TemporaryDirectory() as folder:
        home = Path(folder)
        now = DEMO_NOW if which == "demo" else SMALL_NOW
        parts = Parts(
            settings=load_settings(home, {}),
            home=home,
            kept_rules=RulesKept(load_rules(home)),
            store=MemoryStore(),
            clock=FixedClock(now),
            keys=NumberedKeys(),
        )
        files = shipped_demo() if which == "demo" else write_garage(home / "files")
        rules = bring_in_files(parts, files).parts.rules
        assert isinstance(parts.store, MemoryStore)
        return Stage(parts.store, rules, NumberedKeys())


def _copy(stage: Stage) -> Stage:
    # A committed memory is never changed, so two stores can begin with the same one.
    store = MemoryStore()
    store._memory = stage.store._memory
    return Stage(store, stage.rules, NumberedKeys())


class Broken(Exception):
    """What a write raises that was told to break."""


WRITES = (
    *("put_garage", "put_person", "put_vehicle", "add_readings", "set_reading_state", "add_work", "add_events"),
    *("drop_bookings", "put_calendar", "drop_calendar"),
    *("put_booking", "put_windows", "drop_windows", "put_key", "revoke_keys", "use_up_key"),
    *("add_revisions", "drop_revisions", "put_feed", "put_shown_lines", "drop_shown_lines", "put_feed_choice"),
    *("put_feed_era", "put_farewell", "owe_feeds", "feeds_given"),
    *(
        "add_delivery",
        "set_delivery",
        "lease_delivery",
        "end_lease",
        "log_change",
        "log_changes",
        "put_line_inputs",
        "add_fit",
    ),
    *("put_receipt", "drop_receipts"),
    *("put_order", "add_found", "settle_found", "drop_found", "take_back_work", "take_back_events", "put_move"),
    *("add_delivery", "set_delivery", "lease_delivery", "log_change", "log_changes", "put_line_inputs", "add_fit"),
)


class _BreakingUnit:
    """A write unit whose n-th write raises."""

    def __init__(self, unit: WriteUnit, store: BreakingStore) -> None:
        self._unit = unit
        self._store = store

    def __getattr__(self, name: str) -> Any:
        if name in WRITES:
            self._store.writes += 1
            if self._store.writes == self._store.breaks_at:
                raise Broken(name)
        return getattr(self._unit, name)


class BreakingStore:
    """A store whose n-th write raises, counted over all its units; 0: none does."""

    def __init__(self, store: MemoryStore, breaks_at: int) -> None:
        self.inner = store
        self.breaks_at = breaks_at
        self.writes = 0

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        """A view, as it is."""
        with self.inner.read() as view:
            yield view

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[Any]:
        """A unit that breaks when its turn comes."""
        with self.inner.write(change, typed=typed) as unit:
            yield _BreakingUnit(unit, self)

    def feed_stamp(self, key_hash: str, now: datetime) -> FeedStamp | None:
        """As it is."""
        return self.inner.feed_stamp(key_hash, now)

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """As it is."""
        return self.inner.feed_by_key(key_hash, now)

    def note_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """As it is."""
        self.inner.note_fetch(key_hash, fetch)

    def close(self) -> None:
        """Nothing is held open."""


def log_of(store: MemoryStore, what: str) -> Sequence[Any]:
    """Entries of one kind, oldest first."""
    with store.read() as view:
        return [entry for entry in reversed(view.log()) if entry.what == what]


def pocket_leaves(stage: Stage, on: date) -> None:
    """Pocket is out of the fleet from that day on; its dates stand as they were worked out before."""
    with stage.store.write(Change("test", "Pocket is sold", DEMO_NOW)) as unit:
        pocket = next(vehicle for vehicle in unit.vehicles() if vehicle.mark == "PO")
        unit.put_vehicle(replace(pocket, out_of_fleet_on=on))
        unit.log_change("PO", "vehicle", "changed", "out of the fleet")
