"""From somebody's calendar to the dates of a vehicle: over real HTTP, on real databases, and back again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from fleetcare.actions.gather import Rules
from fleetcare.actions.keep_calendars import add_calendar, remove_calendar
from fleetcare.actions.ports import Change
from fleetcare.actions.read_calendars import (
    CalendarDesk,
    CalendarRead,
    calendar_stands,
    read_calendar,
    read_due_calendars,
)
from fleetcare.assemble import Parts, assemble
from fleetcare.cli.bringing import bring_in_files
from fleetcare.due.outlook import DueWindow
from fleetcare.errors import BadInput, CalendarTrouble, Clash, NotFound
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.busy import CalendarAnswer, CalendarEvent, CalendarOwner, CalendarSource, busy_spells
from fleetcare.fleet.component import LineKey
from fleetcare.intake.numbers import parse_amount
from fleetcare.quantities import DateSpan, DistanceUnit
from tests.actions.garages import SMALL_NOW, BreakingStore, Broken, small
from tests.calendar_in.texts import calendar, event, trip
from tests.cli.small_garage import write_garage
from tests.faults.calendar_server import CalendarServer
from tests.stand_ins import FixedClock, HandedCalendars, MemoryStore, NumberedKeys

OIL = LineKey("PO", "engine", "engine-oil")
HOUR = timedelta(hours=1)
TRIP = trip("Lake, 900 km towing", first="20210206", end="20210209")
"""6 to 8 February 2021, some days after `SMALL_NOW`."""


@pytest.fixture
def server() -> Iterator[CalendarServer]:
    with CalendarServer(body=TRIP) as running:
        yield running


@pytest.fixture
def parts(tmp_path: Path, database_url: str) -> Iterator[Parts]:
    """A home with one car, last read on 1 February 2021, that may call this machine; once on each database."""
    settings = {"FLEETCARE_CALENDARS_ALLOW": "127.0.0.1", "FLEETCARE_DATABASE": database_url}
    opened = assemble(tmp_path / "home", {}, clock=FixedClock(SMALL_NOW), keys=NumberedKeys(), overrides=settings)
    filled = bring_in_files(opened, write_garage(tmp_path / "files")).parts
    yield filled
    filled.close()


def add(parts: Parts, server: CalendarServer, owner: str = "Pocket", fault: str = "good") -> CalendarSource:
    """Takes on the calendar that the server plays."""
    return add_calendar(parts.store, owner, server.url(fault), now=parts.clock.now(), who="test")


def read(parts: Parts, key: str = "po") -> CalendarRead:
    """Reads one calendar now."""
    return read_calendar(
        parts.store, parts.rules, parts.calendar_desk, key, clock=parts.clock, base_url=parts.base_url, who="test"
    )


def stored(parts: Parts) -> tuple[tuple[Booking, ...], DueWindow]:
    """The bookings there are, and when the oil is due."""
    with parts.store.read() as view:
        window = view.windows()[OIL]
        assert isinstance(window, DueWindow)
        return view.bookings(), window


def test_a_trip_in_a_vehicles_calendar_moves_its_dates_and_a_cancelled_one_moves_them_back(
    parts: Parts, server: CalendarServer
) -> None:
    _, before = stored(parts)
    add(parts, server)
    assert stored(parts) == ((), before), "adding reads nothing yet"
    came = read(parts)
    (booking,), after = stored(parts)
    assert (booking.title, booking.days) == ("Lake, 900 km towing", DateSpan(date(2021, 2, 6), date(2021, 2, 9)))
    assert (booking.marks, booking.distance, booking.unit, booking.duty) == (
        ("PO",),
        Decimal(900),
        DistanceUnit.KM,
        "towing",
    )
    assert after.likely < before.likely
    assert (came.put, came.dropped, came.source.trouble) == (1, 0, "")
    assert came.settled is not None
    assert [moved.line.key for moved in came.settled.moved] == [OIL]
    server.body = server.body.replace(b"END:VEVENT", b"STATUS:CANCELLED\r\nEND:VEVENT")
    gone = read(parts)
    assert (gone.put, gone.dropped) == (0, 1)
    assert stored(parts) == ((), before)


def test_an_event_that_is_deleted_takes_its_booking_along(parts: Parts, server: CalendarServer) -> None:
    _, before = stored(parts)
    add(parts, server)
    read(parts)
    server.body = calendar()
    assert read(parts).dropped == 1
    assert stored(parts) == ((), before)


def test_an_event_that_moves_keeps_its_booking_and_moves_it(parts: Parts, server: CalendarServer) -> None:
    add(parts, server)
    read(parts)
    (first,), _ = stored(parts)
    server.body = trip("Lake, 560 mi towing", first="20210306", end="20210307")
    assert (read(parts).put, read(parts).put) == (1, 0)
    (moved,), _ = stored(parts)
    assert moved.key == first.key
    assert (moved.days.first, moved.distance, moved.unit) == (date(2021, 3, 6), Decimal(560), DistanceUnit.MI)


def test_every_change_of_a_date_by_a_calendar_has_its_cause_in_the_log(parts: Parts, server: CalendarServer) -> None:
    add(parts, server)
    read(parts)
    server.body = calendar()
    read(parts)
    with parts.store.read() as view:
        entries = view.log()
    causes = [(e.what, e.change.why, e.before, e.after) for e in entries if e.what == "booking"]
    said = "Lake, 900 km towing, 2021-02-06 to 2021-02-08, 900 km towing"
    assert causes == [("booking", "calendar po read", said, "no longer"), ("booking", "calendar po read", "", said)]
    windows = [e for e in entries if e.subject == str(OIL) and e.change.why == "calendar po read"]
    assert len(windows) == 2
    assert "s3cret" not in repr(entries), "the address is in no line of it"


def test_the_last_good_copy_stays_with_its_age_while_the_calendar_fails(parts: Parts, server: CalendarServer) -> None:
    add(parts, server)
    read(parts)
    kept = stored(parts)
    clock = parts.clock
    assert isinstance(clock, FixedClock)
    for count, body in enumerate((b"", TRIP[:-30], b"<html>", trip()[:100]), start=1):
        clock.move(HOUR)
        server.body = body
        failed = read(parts)
        assert (failed.source.failures, failed.source.good_at) == (count, SMALL_NOW)
        assert failed.source.trouble
        assert stored(parts) == kept
    server.body = TRIP
    good = read(parts)
    assert (good.source.failures, good.source.trouble, good.source.good_at) == (0, "", clock.now())


def test_a_persons_calendar_gives_busy_spells_and_bookings_for_the_vehicles_it_names(
    parts: Parts, server: CalendarServer
) -> None:
    server.body = calendar(
        *event("DTSTART:20210210T080000", "DTEND:20210210T120000", uid="dentist", title="Dentist, second floor"),
        *event("DTSTART;VALUE=DATE:20210206", uid="trip", title="Pocket: Lake, 300 km towing"),
        *event("DTSTART;VALUE=DATE:20210220", uid="walk", title="Walk, 12 km"),
    )
    add(parts, server, owner="Noor")
    came = read(parts, "noor")
    bookings, _ = stored(parts)
    assert [(each.title, each.marks, each.distance) for each in bookings] == [
        ("Pocket: Lake, 300 km towing", ("PO",), Decimal(300))
    ]
    assert [(each.title, "no vehicle" in each.what) for each in came.notices] == [("Walk, 12 km", True)]
    with parts.store.read() as view:
        sources = view.calendars()
    spells = busy_spells(sources)
    assert [(spell.owner_kind, spell.owner, spell.days.first.day) for spell in spells] == [
        (CalendarOwner.PERSON, "noor", 6),
        (CalendarOwner.PERSON, "noor", 10),
        (CalendarOwner.PERSON, "noor", 20),
    ]
    # Eight in the morning as the garage's clock shows it: Berlin is an hour ahead of UTC in February.
    assert spells[1].begins_at is not None
    assert spells[1].begins_at.isoformat() == "2021-02-10T07:00:00+00:00"
    assert "Dentist" not in repr(sources), "what somebody does on a busy day is not kept"


def test_taking_a_calendar_away_takes_bookings_to_come_and_leaves_what_was_driven(
    parts: Parts, server: CalendarServer
) -> None:
    server.body = calendar(
        *event("DTSTART;VALUE=DATE:20210120", uid="was", title="Lake, 200 km towing"),
        *event("DTSTART;VALUE=DATE:20210220", uid="will", title="Lake, 300 km towing"),
    )
    add(parts, server)
    read(parts)
    gone = remove_calendar(parts.store, parts.rules, "PO", now=parts.clock.now(), base_url=parts.base_url, who="test")
    assert gone == 1
    assert [each.distance for each in stored(parts)[0]] == [Decimal(200)]
    with parts.store.read() as view:
        assert view.calendars() == ()
    with pytest.raises(NotFound):
        read(parts)


def test_a_calendar_that_was_changed_while_it_was_read_is_left_alone(parts: Parts, server: CalendarServer) -> None:
    """What was read belongs to an address that somebody has just given up."""
    source = add(parts, server)
    elsewhere = replace(source, url="https://calendar.example/other.ics")

    class Meddling:
        """Somebody points the calendar elsewhere while it is being read."""

        def read(self, asked: CalendarSource, *, zone: str, today: date) -> CalendarAnswer:
            answer = parts.calendar_desk.reader.read(asked, zone=zone, today=today)
            with parts.store.write(Change("test", "meddling", SMALL_NOW)) as unit:
                unit.put_calendar(elsewhere)
            return answer

    desk = CalendarDesk(Meddling(), parse_amount)
    came = read_calendar(parts.store, parts.rules, desk, "po", clock=parts.clock, base_url="https://g.example", who="x")
    assert came.overtaken
    with parts.store.read() as view:
        assert (view.calendars(), view.bookings()) == ((elsewhere,), ())


def test_only_calendars_whose_time_has_come_are_read_and_a_failing_one_holds_up_nobody() -> None:
    stage = small()
    clock = FixedClock(SMALL_NOW)
    calendars = HandedCalendars({"bad": CalendarTrouble("It cannot be reached.")})
    desk = CalendarDesk(calendars, parse_amount)
    with stage.store.write(Change("test", "x", SMALL_NOW)) as unit:
        for key in ("bad", "good", "new"):
            unit.put_calendar(CalendarSource(key, CalendarOwner.BAY, "bay", f"https://{key}.example/x"))

    def look() -> list[str]:
        calendars.asked.clear()
        read_due_calendars(stage.store, stage.rules, desk, clock=clock, base_url="https://g.example", every=HOUR)
        return sorted(calendars.asked)

    assert look() == ["bad", "good", "new"]
    assert look() == []
    clock.move(timedelta(minutes=73))  # an hour and the fifth that may be added
    assert look() == ["good", "new"], "after a failure it takes twice as long"
    clock.move(timedelta(minutes=73))
    assert look() == ["bad", "good", "new"]
    with stage.store.read() as view:
        assert {source.key: source.failures for source in view.calendars()} == {"bad": 2, "good": 0, "new": 0}


def test_an_exception_at_any_write_of_a_reading_leaves_everything_as_it_was() -> None:
    """Each write in turn breaks; then the reading is done again and gives what it would have given."""
    days = DateSpan(date(2021, 2, 6), date(2021, 2, 9))

    def begin() -> tuple[MemoryStore, CalendarDesk, Rules]:
        stage, reader = small(), HandedCalendars()
        reader.events["po"] = (CalendarEvent("a" * 32, days, title="Lake, 900 km towing"),)
        with stage.store.write(Change("test", "x", SMALL_NOW)) as unit:
            unit.put_calendar(CalendarSource("po", CalendarOwner.VEHICLE, "PO", "https://calendar.example/x"))
        return stage.store, CalendarDesk(reader, parse_amount), stage.rules

    def took(store: Any, desk: CalendarDesk, rules: Rules) -> CalendarRead:
        clock = FixedClock(SMALL_NOW)
        return read_calendar(store, rules, desk, "po", clock=clock, base_url="https://g.example", who="x")

    store, desk, rules = begin()
    counting = BreakingStore(store, breaks_at=0)
    assert took(counting, desk, rules).put == 1
    assert counting.writes >= 4
    for breaks_at in range(1, counting.writes + 1):
        store, desk, rules = begin()
        with store.read() as view:
            before = (view.version(), view.calendars(), view.bookings(), view.windows(), view.log())
        with pytest.raises(Broken):
            took(BreakingStore(store, breaks_at), desk, rules)
        with store.read() as view:
            assert (view.version(), view.calendars(), view.bookings(), view.windows(), view.log()) == before
        assert took(store, desk, rules).put == 1


def test_a_calendar_stands_with_its_bookings_and_what_was_not_taken(parts: Parts, server: CalendarServer) -> None:
    server.body = trip("Lake, 2 900 km towing", first="20210206", end="20210209")
    add(parts, server)
    read(parts)
    (stand,) = calendar_stands(parts.store, parts.rules, parts.calendar_desk)
    assert [(each.title, each.distance) for each in stand.bookings] == [("Lake, 2 900 km towing", None)]
    assert ["two ways" in notice.what for notice in stand.notices] == [True]


def test_what_cannot_be_a_calendar_is_refused_and_changes_nothing(parts: Parts, server: CalendarServer) -> None:
    def refused(owner: str, address: str, error: type[Exception], words: str, key: str = "") -> None:
        with pytest.raises(error, match=words):
            add_calendar(parts.store, owner, address, key=key, now=SMALL_NOW, who="test")

    refused("Pockt", "https://calendar.example/x.ics", NotFound, "Did you mean Pocket")
    refused("Pocket", "calendar.example", BadInput, "no address")
    add(parts, server)
    refused("Pocket", "https://calendar.example/x.ics", Clash, "--key")
    refused("Pocket", server.url("good"), Clash, "there already", key="other")
    with parts.store.read() as view:
        assert [source.key for source in view.calendars()] == ["po"]
