"""From entries of a calendar to bookings: what makes one, what keeps it the same, and what makes it go."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.fleet.booking import Booking
from fleetcare.fleet.busy import CalendarCopy, CalendarEvent, CalendarOwner, CalendarSource, days_to_see
from fleetcare.fleet.calendar_bookings import (
    LONGEST_TITLE,
    CalendarBookings,
    booking_changes,
    bookings_of,
    bookings_to_come,
    event_title,
    is_from,
    lean,
)
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.intake.numbers import parse_amount
from fleetcare.intake.text import clean_text
from fleetcare.intake.toml_models import is_key
from fleetcare.quantities import DateSpan, DistanceUnit

TODAY = date(2026, 4, 14)
DUTIES = {key: DutyCycle(key, key, severe=False) for key in ("daily", "towing", "track")}
VEHICLES = [
    Vehicle("AN", "Anvil", VehicleKind.LIGHT_TRUCK, "tow rig", DistanceUnit.MI),
    Vehicle("RA", "Raft", VehicleKind.TRAILER, "car trailer", DistanceUnit.MI, towed_by=("AN",)),
]


def entry(title: str, *, first: date = date(2026, 5, 1), days: int = 3, id_: str = "a", **how: bool) -> CalendarEvent:
    """A single entry over whole days."""
    return CalendarEvent(id_ * 32, DateSpan(first, first + timedelta(days)), title=title, **how)  # type: ignore[arg-type]


def anvils(*events: CalendarEvent, shown_from: date | None = None) -> CalendarSource:
    """Anvil's calendar with these entries in its copy."""
    copy = CalendarCopy(TODAY, days_to_see(TODAY), events, shown_from)
    return CalendarSource("an", CalendarOwner.VEHICLE, "AN", "https://calendar.example/x", copy=copy)


def made(source: CalendarSource) -> CalendarBookings:
    """The bookings it makes."""
    return bookings_of(source, vehicles=VEHICLES, duties=DUTIES, parse_amount=parse_amount)


def stays(source: CalendarSource, stored: Booking) -> bool:
    """Whether a stored booking is kept though the calendar makes no such one any more."""
    return stored not in booking_changes(source, [stored], made(source).bookings, today=TODAY).drop


def test_an_entry_with_a_distance_is_a_booking_for_the_vehicle_and_those_it_names() -> None:
    (booking,) = made(anvils(entry("Ridge run, 160 mi towing, with Raft"))).bookings
    assert replace(booking, key="") == Booking(
        "",
        "Ridge run, 160 mi towing, with Raft",
        DateSpan(date(2026, 5, 1), date(2026, 5, 4)),
        ("AN", "RA"),
        Decimal(160),
        DistanceUnit.MI,
        "towing",
    )


def test_several_duties_are_several_bookings() -> None:
    found = made(anvils(entry("900 km towing, 60 km track"))).bookings
    assert [(each.distance, each.duty) for each in found] == [(Decimal(900), "towing"), (Decimal(60), "track")]
    assert len({each.key for each in found}) == 2


def test_in_a_vehicles_calendar_every_busy_entry_is_a_booking_and_a_free_one_only_with_a_distance() -> None:
    busy, free = entry("Lent to Teo"), entry("Birthday", id_="b", is_busy=False)
    free_trip = entry("160 mi towing", id_="c", is_busy=False)
    found = made(anvils(busy, free, free_trip)).bookings
    assert {each.title: each.distance for each in found} == {"Lent to Teo": None, "160 mi towing": Decimal(160)}


def test_a_cancelled_entry_and_one_in_the_bays_calendar_make_none() -> None:
    assert made(anvils(entry("160 mi towing", is_cancelled=True))) == CalendarBookings((), ())
    bay = replace(anvils(entry("160 mi towing")), owner_kind=CalendarOwner.BAY, owner="bay")
    assert made(bay) == CalendarBookings((), ())
    assert made(replace(anvils(), copy=None)) == CalendarBookings((), ())


def test_a_persons_entry_needs_a_vehicle_and_a_distance() -> None:
    ines = replace(
        anvils(
            entry("Dentist"),
            entry("Anvil: 160 mi towing", id_="b"),
            entry("160 mi towing", id_="c"),
            entry("Anvil: wash", id_="d"),
        ),
        owner_kind=CalendarOwner.PERSON,
        owner="ines",
    )
    found = made(ines)
    assert [(each.title, each.marks) for each in found.bookings] == [("Anvil: 160 mi towing", ("AN",))]
    assert [(each.title, each.what) for each in found.notices] == [
        ("160 mi towing", "It names a distance but no vehicle. Begin it with the vehicle's name and a colon.")
    ]


def test_a_distance_that_nobody_drives_in_those_days_is_not_taken() -> None:
    """1600 km a day is the most that is believed; 3 days make 4800 km, and 4801 km is one too many."""
    most, too_far = made(anvils(entry("4800 km towing"))), made(anvils(entry("4801 km towing")))
    assert [each.distance for each in most.bookings] == [Decimal(4800)]
    assert [each.distance for each in too_far.bookings] == [None]
    assert "Anvil does not get that far" in too_far.notices[0].what


def test_a_vehicle_that_is_not_there_gets_no_booking() -> None:
    assert made(replace(anvils(entry("Away")), owner="ZZ")).bookings == ()


def test_a_moved_entry_keeps_its_key_and_another_calendar_with_it_has_another() -> None:
    (first,) = made(anvils(entry("160 mi towing"))).bookings
    (moved,) = made(anvils(entry("200 mi towing", first=date(2026, 6, 1)))).bookings
    (elsewhere,) = made(replace(anvils(entry("160 mi towing")), key="an-2")).bookings
    assert first.key == moved.key != elsewhere.key
    assert is_key(first.key), "it can be written to a file and brought back"
    assert is_from("an", first)
    assert not is_from("an-2", first)
    assert not is_from("a", first)


def test_only_what_changed_is_stored_and_what_is_not_ours_is_left() -> None:
    source = anvils(entry("160 mi towing"), entry("Away", id_="b"))
    wanted = made(source).bookings
    typed = Booking("ridge-run", "Ridge run", DateSpan(TODAY, TODAY + timedelta(1)), ("AN",))
    first = booking_changes(source, [typed], wanted, today=TODAY)
    assert (first.put, first.drop, first.marks) == (wanted, (), ("AN",))
    again = booking_changes(source, [typed, *wanted], wanted, today=TODAY)
    assert (again.put, again.drop, again.marks) == ((), (), ())
    gone = booking_changes(anvils(), [typed, *wanted], (), today=TODAY)
    assert set(gone.drop) == set(wanted)


def test_a_booking_that_is_over_stays_if_the_calendar_shows_nothing_that_old_any_more() -> None:
    """Many servers leave out what is past; then nobody took the trip back."""
    (over,) = made(anvils(entry("160 mi towing", first=date(2026, 4, 1)))).bookings
    assert stays(anvils(), over)
    assert stays(anvils(shown_from=date(2026, 4, 5)), over)
    assert not stays(anvils(shown_from=date(2026, 3, 1)), over), "older entries are shown, so this one was deleted"
    assert not stays(anvils(entry("160 mi towing", first=date(2026, 4, 1), is_cancelled=True)), over), "or cancelled"
    (running,) = made(anvils(entry("160 mi towing", first=date(2026, 4, 13)))).bookings
    assert not stays(anvils(), running), "what is not over goes with its entry"


def test_a_booking_before_the_days_looked_at_stays_whatever_the_calendar_shows() -> None:
    (old,) = made(anvils(entry("160 mi towing", first=date(2026, 1, 5)))).bookings
    assert stays(anvils(shown_from=date(2020, 1, 1)), old)


def test_taking_a_calendar_away_takes_what_is_not_over() -> None:
    source = anvils(
        entry("Was", first=date(2026, 4, 1)), entry("Is", first=date(2026, 4, 13), id_="b"), entry("Will", id_="c")
    )
    going = bookings_to_come("an", made(source).bookings, TODAY)
    assert [each.title for each in going] == ["Is", "Will"]


def test_no_more_of_peoples_words_is_kept_than_is_needed() -> None:
    events = (
        replace(entry("Dentist"), note="second floor"),
        replace(entry("Lake"), note="900 km towing"),
        replace(entry("900 km towing"), note="with Raft"),
    )
    copy = anvils(*events).copy
    assert copy is not None

    def kept(kind: CalendarOwner) -> list[tuple[str, str]]:
        return [(each.title, each.note) for each in lean(copy, kind).events]

    assert kept(CalendarOwner.PERSON) == [("", ""), ("Lake", "900 km towing"), ("900 km towing", "with Raft")]
    assert kept(CalendarOwner.VEHICLE) == [("Dentist", ""), ("Lake", "900 km towing"), ("900 km towing", "with Raft")]
    assert kept(CalendarOwner.BAY) == [("", "")] * 3


@given(st.lists(st.sampled_from(["Dentist", "Anvil: 90 km towing", "Walk, 12 km", "9 900 km", "Lake"]), max_size=4))
def test_leaving_words_out_changes_no_booking_and_no_notice(titles: list[str]) -> None:
    events = tuple(entry(title, id_="abcd"[place]) for place, title in enumerate(titles))
    for kind, owner in ((CalendarOwner.PERSON, "ines"), (CalendarOwner.VEHICLE, "AN"), (CalendarOwner.BAY, "bay")):
        whole = replace(anvils(*events), owner_kind=kind, owner=owner)
        assert whole.copy is not None
        assert made(replace(whole, copy=lean(whole.copy, kind))) == made(whole)


@given(st.text(max_size=300))
def test_any_title_becomes_one_that_a_file_takes_back_unchanged(title: str) -> None:
    kept = event_title(entry(title))
    assert clean_text(kept, field="title", required=True) == kept
    assert len(kept) <= LONGEST_TITLE
    assert event_title(entry(kept)) == kept
