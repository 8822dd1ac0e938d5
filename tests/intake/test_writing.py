"""What is written is read back as the same values, and written again as the same bytes."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import Component, History, LineKey, LineStart, TagFact
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.people import Garage, Light, Person, Role
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle, VehicleKind
from fleetcare.intake.garage_files import Incoming
from fleetcare.intake.known import KnownNames
from fleetcare.intake.text import clean_text
from fleetcare.intake.writing import distance_for, garage_as_files
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, km_from
from fleetcare.work.record import Finding, WorkDone
from tests.intake.garage_texts import BOOK, DUTIES, WHOLE, ZONES, taken

KNOWN = KnownNames(duties=DUTIES, book=BOOK)


def gated(text: str) -> str:
    try:
        return clean_text(text)
    except BadInput:
        return ""


texts = st.text(max_size=20).map(gated) | st.sampled_from(
    ["=1+1", "'tis", "'=x", '"', 'a "b", c', "\\", "#", "-", "é;,"]
)
names = texts.filter(bool)
keys = st.from_regex(r"[a-z0-9]{1,5}(-[a-z0-9]{1,3})?", fullmatch=True)
days = st.dates(date(1950, 1, 1), date(2150, 12, 31))
tenths = st.integers(0, 9_999_999).map(lambda tenth: Decimal(tenth) / 10)
decimals = st.decimals(0, 999_999, places=3)
units = st.sampled_from(DistanceUnit)
splits = st.dictionaries(st.sampled_from(sorted(DUTIES)), st.floats(1e-6, 1e6), min_size=1).map(DutySplit.from_parts)
spans = st.tuples(days, st.integers(1, 400)).map(
    lambda pair: DateSpan.of_days(pair[0], date.fromordinal(pair[0].toordinal() + pair[1]))
)
instants = st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001

people = st.builds(
    Person,
    key=keys,
    name=names,
    mail=st.sampled_from(["", "ines@karstridge.example"]),
    zone=st.sampled_from(sorted(ZONES)),
    unit=units,
    roles=st.lists(st.sampled_from(Role), max_size=3).map(tuple),
    letter_weekday=st.none() | st.integers(0, 6),
    letter_hour=st.integers(0, 23),
    light=st.sampled_from(Light),
)
components = st.builds(
    Component,
    key=keys,
    kind=st.sampled_from(["rear axle", "engine"]),
    title=names,
    fluid_grade=texts,
    fluid_capacity_l=st.none() | st.decimals(0, 100, places=3),
    facts=st.lists(
        st.builds(TagFact, names, texts, st.sampled_from(["stamped", "manual", "measured", "unknown"])), max_size=3
    ).map(tuple),
    lines=st.lists(
        st.builds(LineStart, st.sampled_from(["axle-fluid", "engine-oil"]), st.sampled_from(History), st.none() | days),
        max_size=2,
        unique_by=lambda line: line.service,
    ).map(tuple),
    fitted_on=st.none() | days,
)
meters = st.builds(
    Meter,
    key=keys,
    unit=st.sampled_from(MeterUnit),
    digits=st.integers(3, 9),
    rolls_over=st.booleans(),
    changes=st.lists(st.builds(MeterChange, days, decimals, decimals), max_size=2, unique_by=lambda c: c.on).map(
        lambda changes: tuple(sorted(changes, key=lambda change: change.on))
    ),
    delivery_value=decimals,
)


@st.composite
def vehicles(draw: st.DrawFn) -> Vehicle:
    unit = draw(units)
    in_service_on = draw(st.none() | days)
    yearly = draw(st.none() | decimals)
    return Vehicle(
        mark=draw(st.from_regex(r"[A-Z0-9]{2,6}", fullmatch=True)),
        name=draw(names),
        kind=draw(st.sampled_from(VehicleKind)),
        called=draw(texts),
        unit=unit,
        description=draw(texts),
        vin=draw(texts),
        in_service_on=in_service_on,
        entered_on=draw(st.none() | days),
        usual_split=draw(splits),
        yearly_km=None if yearly is None else km_from(yearly, unit),
        meters=tuple(draw(st.lists(meters, max_size=2, unique_by=lambda meter: meter.key))),
        components=tuple(draw(st.lists(components, max_size=2, unique_by=lambda component: component.key))),
        laid_up=tuple(draw(st.lists(spans, max_size=2))),
        out_of_fleet_on=draw(st.none() | days) if in_service_on is None else None,
        max_km_per_day=km_from(draw(st.decimals(1, 9999, places=1)), unit),
    )


@st.composite
def garages(draw: st.DrawFn) -> Incoming:
    """A whole garage in which everything that is named is there."""
    persons = tuple(sorted(draw(st.lists(people, max_size=3, unique_by=lambda p: p.key)), key=lambda p: p.key))
    fleet = draw(st.lists(vehicles(), max_size=3, unique_by=(lambda v: v.mark, lambda v: v.name.casefold())))
    marks = {vehicle.mark.casefold() for vehicle in fleet}
    fleet = [vehicle for vehicle in fleet if vehicle.name.casefold() not in marks]
    person_keys = [person.key for person in persons]
    if persons:
        fleet = [replace(v, keeper=draw(st.sampled_from(person_keys)), drivers=(person_keys[0],)) for v in fleet]
    if len(fleet) > 1:
        fleet[1] = replace(fleet[1], towed_by=(fleet[0].mark,))
    readings: list[Reading] = []
    work: list[WorkDone] = []
    events: list[UseEvent] = []
    for vehicle in fleet:
        for meter in vehicle.meters:
            odd = MeterUnit.HOURS if meter.unit is MeterUnit.HOURS else MeterUnit.MI
            readings += [
                Reading(vehicle.mark, meter.key, *reading)
                for reading in draw(
                    st.lists(
                        st.tuples(
                            days,
                            tenths,
                            st.sampled_from([meter.unit, odd]),
                            instants,
                            texts,
                            st.sampled_from(Door),
                            st.none() | splits,
                            st.sampled_from(ReadingState),
                            texts,
                            st.sampled_from(["", "noor"]),
                        ),
                        max_size=3,
                        unique_by=lambda r: (r[0], r[1], r[2]),
                    )
                )
            ]
        for component in vehicle.components:
            finding = st.builds(Finding, names, st.none() | days, st.none() | days)
            work += [
                WorkDone(LineKey(vehicle.mark, component.key, line.service), *done)
                for line in component.lines
                for done in draw(
                    st.lists(
                        st.tuples(
                            days,
                            st.none() | tenths,
                            st.sampled_from(MeterUnit),
                            texts,
                            texts,
                            st.lists(finding, max_size=2, unique=True).map(tuple),
                        ),
                        max_size=2,
                        unique_by=lambda done: (done[0], done[1]),
                    )
                )
            ]
        events += [
            UseEvent(vehicle.mark, kind, on, where, note)
            for kind, on, where, note in draw(
                st.lists(
                    st.tuples(
                        st.sampled_from(["immersion", "open evening at the barn"]),
                        days,
                        st.sampled_from(["", *(component.key for component in vehicle.components)]),
                        texts,
                    ),
                    max_size=2,
                    unique_by=lambda event: event[:3],
                )
            )
        ]
    bookings = (
        draw(
            st.lists(
                st.builds(
                    Booking,
                    key=keys,
                    title=names,
                    days=spans,
                    marks=st.just(tuple(vehicle.mark for vehicle in fleet)),
                    distance=st.none() | tenths,
                    unit=units,
                    duty=st.sampled_from(["", *sorted(DUTIES)]),
                    event=st.sampled_from(["", "immersion"]),
                ),
                max_size=2,
                unique_by=lambda booking: booking.key,
            )
        )
        if fleet
        else []
    )
    list_keeper = person_keys[0] if persons else ""
    return Incoming(
        garage=Garage(draw(names), draw(st.sampled_from(sorted(ZONES))), draw(units), draw(texts), list_keeper),
        people=persons,
        vehicles=tuple(fleet),
        readings=tuple(sorted(readings, key=lambda r: (r.mark, r.meter, r.on))),
        work=tuple(sorted(work, key=lambda w: (w.line, w.on))),
        bookings=tuple(sorted(bookings, key=lambda b: (b.days.first, b.key))),
        events=tuple(sorted(events, key=lambda e: (e.mark, e.on, e.kind, e.component))),
    )


def written(come: Incoming, book_text: str = "") -> dict[str, str]:
    return garage_as_files(
        come.garage, come.people, come.vehicles, come.readings, come.work, come.bookings, come.events, book_text
    )


@given(garages())
@settings(max_examples=60, deadline=None)
def test_a_garage_that_was_written_is_read_back_and_written_the_same(garage: Incoming) -> None:
    files = written(garage)
    come = taken(files, KNOWN)
    assert come.garage == garage.garage
    assert come.people == garage.people
    assert come.vehicles == garage.vehicles
    assert come.readings == garage.readings
    assert come.work == garage.work
    assert come.bookings == garage.bookings
    assert come.events == garage.events
    assert written(come) == files


def test_what_people_wrote_becomes_canonical_once_and_stays_so() -> None:
    row = '# ours\n[rows.winch]\ntitle = "Winch"\nshort = "winch"\ncomponents = ["winch"]\n'
    book = row + "[rows.winch.repeat]\nmonths=1\n"
    come = taken(WHOLE | {"book.toml": book})
    files = written(come, come.book_text or "")
    assert files["book.toml"] == book
    assert list(files) == ["garage.toml", "people.toml", "vehicles.toml", "book.toml", "readings.csv"]
    again = taken(files)
    assert written(again, again.book_text or "") == files
    assert replace(again, reading_places=(), files=()) == replace(come, reading_places=(), files=())
    assert (
        files["readings.csv"].splitlines()[2] == "AN,odometer,2026-04-14,84210.5,mi,,,file,used,,2026-04-14T07:00:00Z,"
    )


def test_the_order_of_vehicles_is_kept_and_that_of_the_rest_is_not_needed() -> None:
    come = taken(WHOLE)
    turned = replace(come, vehicles=come.vehicles[::-1], readings=come.readings[::-1])
    files = written(turned)
    assert [vehicle.mark for vehicle in taken(files).vehicles] == ["RA", "AN"]
    assert files["readings.csv"] == written(come)["readings.csv"]


def test_the_files_are_toml_to_another_reader_too() -> None:
    files = written(taken(WHOLE))
    tables = tomllib.loads(files["vehicles.toml"])
    assert tables["vehicle"][0]["usual_split"] == {"daily": 3, "towing": 5}
    assert tables["vehicle"][0]["component"][1]["services"] == [{"row": "engine-oil", "history": "unknown"}]


def test_no_cell_begins_like_a_formula() -> None:
    come = taken(WHOLE)
    odd = replace(come.readings[0], note='=HYPERLINK("x")', by="@cmd")
    text = written(replace(come, readings=(odd,)))["readings.csv"]
    assert "'=HYPERLINK" in text
    assert "'@cmd" in text
    assert taken(WHOLE | {"readings.csv": text}).readings == (odd,)


def test_a_reading_that_no_door_lets_in_is_not_written_as_another() -> None:
    come = taken(WHOLE)
    with pytest.raises(ValueError, match="one decimal"):
        written(replace(come, readings=(replace(come.readings[0], value=Decimal("84.210") + Decimal("0.001")),)))


@given(st.decimals(0, 1_000_000, places=3), units)
def test_a_distance_is_written_as_it_was_typed(typed: Decimal, unit: DistanceUnit) -> None:
    assert distance_for(km_from(typed, unit), unit) == typed


@given(st.floats(0, 1e6), units)
def test_a_distance_in_any_figure_of_its_unit_comes_back_exactly(figure: float, unit: DistanceUnit) -> None:
    km = km_from(figure, unit)
    assert km_from(distance_for(km, unit), unit) == km


@given(st.floats(0, 1e7), units)
def test_a_distance_settles_after_one_writing(km: float, unit: DistanceUnit) -> None:
    """Not every float in km is some figure in miles; the nearest one is taken, and then stays."""
    once = distance_for(km, unit)
    assert km_from(once, unit) == pytest.approx(km, rel=1e-15)
    assert distance_for(km_from(once, unit), unit) == once
