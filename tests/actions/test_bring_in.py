"""Taking over files: all of it, or nothing, at whatever step it breaks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleetcare.actions.bring_in import Arrivals, Place, bring_in
from fleetcare.errors import BadFile, BadInput, Clash
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.people import Garage
from fleetcare.meter.reading import Door, Reading
from fleetcare.quantities import MeterUnit
from tests.actions.garages import BASE_URL, DEMO_NOW, BreakingStore, Broken, Stage, demo
from tests.stand_ins import MemoryStore

TODAY = date(2026, 4, 14)


def arrivals_of_a_day() -> Arrivals:
    readings = tuple(
        Reading(mark, "odometer", TODAY, Decimal(value), MeterUnit("mi"), DEMO_NOW, "ines", Door.FILE)
        for mark, value in (("AN", 113_300), ("PO", 61_250), ("BE", 48_210))
    )
    places = tuple(Place("readings.csv", line) for line in (2, 3, 4))
    with demo().store.read() as view:
        people, vehicles, bookings, work = view.people(), view.vehicles(), view.bookings(), view.work()
    return Arrivals(
        garage=Garage("Renamed club", "America/Denver", vehicles[0].unit, list_keeper="ines"),
        people=(replace(people[0], letter_hour=9),),
        vehicles=(replace(vehicles[0], description="resprayed"),),
        readings=readings,
        reading_places=places,
        work=(replace(work[0], on=TODAY, at=None, unit=None, id=None),),
        bookings=(replace(bookings[0], title="Moved"),),
        events=(UseEvent("BE", "immersion", TODAY, "rear-axle"),),
    )


def taken_in(store: MemoryStore | BreakingStore, stage: Stage, arrivals: Arrivals) -> None:
    bring_in(store, stage.rules, stage.keys, arrivals, now=DEMO_NOW, base_url=BASE_URL, who="ines", why="brought in")


def test_an_exception_at_any_write_of_a_take_over_leaves_nothing() -> None:
    arrivals = arrivals_of_a_day()
    counting = BreakingStore(demo().store, breaks_at=0)
    taken_in(counting, demo(), arrivals)
    assert counting.writes >= 12
    for at in range(1, counting.writes + 1):
        stage = demo()
        before = stage.store._memory
        with pytest.raises(Broken):
            taken_in(BreakingStore(stage.store, at), stage, arrivals)
        assert stage.store._memory is before
    whole = demo()
    taken_in(whole.store, whole, arrivals)
    with whole.store.read() as view:
        assert view.version() == counting.inner._memory.version
        assert view.garage() is not None


def test_the_id_of_a_garage_stays_when_it_is_brought_in_again() -> None:
    stage = demo()
    with stage.store.read() as view:
        before = view.garage()
    taken_in(stage.store, stage, arrivals_of_a_day())
    with stage.store.read() as view:
        after = view.garage()
    assert before is not None
    assert after is not None
    assert (after.id, after.name) == (before.id, "Renamed club")


def test_a_name_that_two_vehicles_would_have_is_refused() -> None:
    stage = demo()
    with stage.store.read() as view:
        vehicle = replace(view.vehicles()[0], mark="ZZ")
    with pytest.raises(Clash, match="Anvil stands here already with the mark AN"):
        taken_in(stage.store, stage, Arrivals(vehicles=(vehicle,)))


def test_readings_to_come_are_named_with_their_lines() -> None:
    stage = demo()
    reading = Reading("AN", "odometer", TODAY, Decimal(90_000), MeterUnit("mi"), DEMO_NOW, "ines", Door.FILE)
    later = replace(reading, on=TODAY + timedelta(days=1))
    with pytest.raises(BadFile, match=r"late\.csv, line 7: 2026-04-15 is still to come"):
        taken_in(stage.store, stage, Arrivals(readings=(later,), reading_places=(Place("late.csv", 7),)))


def test_without_a_garage_nothing_can_be_added_to() -> None:
    with pytest.raises(BadInput, match="no garage here yet"):
        taken_in(MemoryStore(), demo(), Arrivals())
