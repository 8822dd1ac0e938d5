"""Laws that hold for every vehicle: order, monotony, units, and the rod that agrees with the calendar."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.book.rows import AfterEvent, BookRow, DutyFigure, IntervalBook, Limits, Mixing
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import LineOutlook
from fleetcare.due.reckon import reckon_vehicle
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import History
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, PrintedDistance
from tests.due.facts import DUTIES, PRIORS, TODAY, booking, done, event, reading, row, vehicle

SLOW = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
DUTY = st.sampled_from(["daily", "towing", "track"])


@st.composite
def splits(draw: st.DrawFn) -> DutySplit:
    return DutySplit.from_parts({"daily": draw(st.integers(1, 4)), draw(DUTY): draw(st.integers(1, 4))})


@st.composite
def driven(draw: st.DrawFn, unit: MeterUnit = MeterUnit.MI) -> tuple[Reading, ...]:
    """Readings that fit: up to ten, the last at most two months old."""
    count = draw(st.integers(0, 10))
    day = TODAY - timedelta(days=draw(st.integers(0, 60)))
    gaps = [draw(st.integers(3, 70)) for _ in range(count)]
    value, day = draw(st.integers(0, 50_000)), day - timedelta(days=sum(gaps))
    found = []
    for gap in gaps:
        day += timedelta(days=gap)
        value += draw(st.integers(0, 55)) * gap
        found.append(reading(day, value, unit=unit, split=draw(st.none() | splits())))
    return tuple(found)


@st.composite
def rows(draw: st.DrawFn) -> BookRow:
    mi = draw(st.none() | st.integers(200, 60_000))
    own = draw(st.dictionaries(DUTY, st.none() | st.integers(100, 50_000), max_size=2))
    figures = [
        DutyFigure(duty, PrintedDistance.of(figure, DistanceUnit.MI) if figure else None)
        for duty, figure in sorted(own.items())
    ]
    return row(
        mi=mi,
        months=draw(st.none() | st.integers(1, 120)),
        weeks=draw(st.none() | st.integers(1, 60)),
        hours=draw(st.none() | st.integers(10, 2000)),
        by_duty=figures,
        first=draw(st.none() | st.just(Limits(PrintedDistance.of(500, DistanceUnit.MI)))),
        after=draw(st.sampled_from([(), (AfterEvent("track day"),), (AfterEvent("track day", days=9),)])),
        mixing=draw(st.sampled_from(list(Mixing))),
        give_days=draw(st.none() | st.integers(0, 40)),
        look_first=draw(st.booleans()),
    )


@st.composite
def bookings(draw: st.DrawFn) -> tuple[Booking, ...]:
    found = []
    for _ in range(draw(st.integers(0, 4))):
        first = TODAY + timedelta(days=draw(st.integers(-200, 200)))
        found.append(
            booking(
                first,
                first + timedelta(days=draw(st.integers(0, 3))),
                draw(st.none() | st.integers(1, 1500)),
                duty=draw(st.sampled_from(["", "towing", "track"])),
                event=draw(st.sampled_from(["", "track day"])),
            )
        )
    return tuple(found)


@st.composite
def garages(draw: st.DrawFn) -> tuple[BookRow, VehicleFacts]:
    """Any line of any vehicle, with whatever may be known of it."""
    spells = draw(st.lists(st.tuples(st.integers(-300, 300), st.integers(1, 200)), max_size=2))
    meters = draw(
        st.sampled_from(
            [
                (Meter(ODOMETER, MeterUnit.MI),),
                (Meter(ODOMETER, MeterUnit.MI), Meter(HOUR_METER, MeterUnit.HOURS)),
                (),
            ]
        )
    )
    a_vehicle = vehicle(
        history=draw(st.sampled_from(list(History))),
        line_on=draw(st.none() | st.just(TODAY - timedelta(days=40))),
        meters=meters,
        usual_split=draw(splits()),
        in_service_on=draw(st.none() | st.just(date(2019, 6, 1))),
        entered_on=draw(st.none() | st.just(date(2025, 1, 1))),
        yearly_km=draw(st.none() | st.floats(10, 100_000)),
        laid_up=tuple(
            DateSpan(TODAY + timedelta(days=first), TODAY + timedelta(days=first + length)) for first, length in spells
        ),
    )
    hours = draw(driven(MeterUnit.HOURS)) if len(meters) == 2 else ()
    small = tuple(replace(r, value=r.value / 50) for r in hours)
    work = draw(st.lists(st.tuples(st.integers(0, 900), st.none() | st.integers(0, 60_000)), max_size=2))
    facts = VehicleFacts(
        vehicle=a_vehicle,
        readings=(*draw(driven()), *small),
        work=tuple(done(TODAY - timedelta(days=back), at) for back, at in work),
        events=tuple(
            event("track day", TODAY - timedelta(days=back)) for back in draw(st.lists(st.integers(0, 400), max_size=2))
        ),
        bookings=draw(bookings()),
    )
    return draw(rows()), facts


def line_of(a_row: BookRow, facts: VehicleFacts, today: date = TODAY) -> LineOutlook:
    book = IntervalBook({a_row.key: a_row})
    return reckon_vehicle(facts, book=book, duties=DUTIES, priors=PRIORS, today=today).lines[0]


@SLOW
@given(garages())
def test_every_line_has_a_window_in_order_or_a_reason(garage: tuple[BookRow, VehicleFacts]) -> None:
    line = line_of(*garage)
    assert (line.window is None) != (line.no_date is None)
    assert line.steps
    assert all(step.text.endswith(".") for step in line.steps)
    if line.window is not None:
        assert line.window.early <= line.window.likely <= line.window.late


@SLOW
@given(garages())
def test_the_rod_agrees_with_the_calendar(garage: tuple[BookRow, VehicleFacts]) -> None:
    line = line_of(*garage)
    if line.window is None:
        return
    assert line.q_now is not None
    assert line.q_read is not None
    assert line.per_day is not None
    assert line.q_early is not None
    assert line.q_late is not None
    # Wear never falls, and grows every day.
    assert 0 <= line.q_read <= line.q_now
    assert line.per_day > 0
    # Wear stands in the zone exactly when today lies in the window.
    assert (line.q_early <= line.q_now <= line.q_late) is line.window.is_open(TODAY)
    # Wear stands past the late notch exactly when the service is past late.
    assert (line.q_now > line.q_late) is line.window.is_past_late(TODAY)
    # The zone closes in on the hole: the likely date is where the wear is 1, to the day.
    ahead = (line.window.likely - TODAY).days
    if abs(ahead) >= 2:
        assert line.q_now + line.per_day * ahead == pytest.approx(1.0, abs=0.51 * line.per_day + 1e-6)


@SLOW
@given(garages(), st.randoms(use_true_random=False))
def test_the_order_in_which_facts_were_entered_does_not_matter(
    garage: tuple[BookRow, VehicleFacts], order: random.Random
) -> None:
    a_row, facts = garage
    if len({record.on for record in facts.work}) < len(facts.work):
        # Two works on one day: their order of entry is what tells which is the later one.
        return

    def mixed(items: tuple[object, ...]) -> tuple[object, ...]:
        return tuple(order.sample(items, len(items)))

    shuffled = VehicleFacts(
        facts.vehicle,
        mixed(facts.readings),  # type: ignore[arg-type]
        mixed(facts.work),  # type: ignore[arg-type]
        mixed(facts.events),  # type: ignore[arg-type]
        mixed(facts.bookings),  # type: ignore[arg-type]
    )
    assert line_of(a_row, shuffled) == line_of(a_row, facts)


def not_later(one: LineOutlook, other: LineOutlook, days: int = 0) -> None:
    """`one` is not later than `other`, date by date; a line without a date is later than any."""
    if other.window is None:
        return
    assert one.window is not None
    for mine, its in (
        (one.window.early, other.window.early),
        (one.window.likely, other.window.likely),
        (one.window.late, other.window.late),
    ):
        assert mine <= its + timedelta(days=days)


@SLOW
@given(garages(), st.integers(1, 200), st.integers(1, 1500), st.sampled_from(["", "towing", "track"]))
def test_a_booked_trip_never_makes_a_service_later(
    garage: tuple[BookRow, VehicleFacts], ahead: int, mi: int, duty: str
) -> None:
    a_row, facts = garage
    trip = booking(TODAY + timedelta(days=ahead), TODAY + timedelta(days=ahead + 1), mi, duty=duty)
    not_later(line_of(a_row, replace(facts, bookings=(*facts.bookings, trip))), line_of(a_row, facts))


@SLOW
@given(driven(), st.integers(200, 40_000), st.integers(1, 5000), st.integers(0, 300))
def test_a_longer_interval_never_makes_a_service_earlier(
    readings: tuple[Reading, ...], mi: int, more: int, back: int
) -> None:
    facts = VehicleFacts(vehicle(), readings, (done(TODAY - timedelta(days=back)),))
    # A day: the fast solver may be a twentieth of a day off, and days are rounded.
    not_later(line_of(row(mi=mi), facts), line_of(row(mi=mi + more), facts), days=1)


@SLOW
@given(driven(), st.integers(200, 40_000), st.integers(1, 2000))
def test_more_distance_since_the_work_never_makes_a_service_later(
    readings: tuple[Reading, ...], mi: int, more: int
) -> None:
    """The same pace, with the work done at a lower value of the dial."""
    if not readings:
        return
    at = int(readings[-1].value)
    fresh = VehicleFacts(vehicle(), readings, (done(readings[-1].on, at),))
    driven_more = VehicleFacts(vehicle(), readings, (done(readings[-1].on, max(0, at - more)),))
    not_later(line_of(row(mi=mi), driven_more), line_of(row(mi=mi), fresh), days=1)


@SLOW
@given(driven(), st.integers(200, 40_000), st.integers(1, 200), st.integers(1, 200))
def test_a_lay_up_to_come_never_makes_a_service_earlier(
    readings: tuple[Reading, ...], mi: int, ahead: int, length: int
) -> None:
    spell = DateSpan(TODAY + timedelta(days=ahead), TODAY + timedelta(days=ahead + length))
    work = (done(TODAY - timedelta(days=100)),)
    free, parked = VehicleFacts(vehicle(), readings, work), VehicleFacts(vehicle(laid_up=(spell,)), readings, work)
    not_later(line_of(row(mi=mi), free), line_of(row(mi=mi), parked))


@SLOW
@given(driven(), st.integers(300, 40_000), st.integers(0, 200))
def test_miles_and_kilometres_give_the_same_days(readings: tuple[Reading, ...], mi: int, back: int) -> None:
    in_mi = VehicleFacts(vehicle(), readings, (done(TODAY - timedelta(days=back)),))
    in_km = replace(
        in_mi,
        vehicle=vehicle(meters=[Meter(ODOMETER, MeterUnit.KM)]),
        readings=tuple(replace(r, value=r.value * Decimal("1.609344"), unit=MeterUnit.KM) for r in readings),
    )
    printed = PrintedDistance(DistanceUnit.KM, km=mi * Decimal("1.609344"))
    km_row = row()
    km_row = replace(km_row, rule=replace(km_row.rule, repeat=Limits(printed)))
    not_later(line_of(row(mi=mi), in_mi), line_of(km_row, in_km), days=1)
    not_later(line_of(km_row, in_km), line_of(row(mi=mi), in_mi), days=1)


@SLOW
@given(garages(), st.integers(1, 40))
def test_wear_reckoned_for_tomorrow_is_never_less(garage: tuple[BookRow, VehicleFacts], later: int) -> None:
    a_row, facts = garage
    facts = replace(facts, events=(), bookings=())
    now, then = line_of(a_row, facts), line_of(a_row, facts, TODAY + timedelta(days=later))
    if now.window is None or then.window is None or now.window.cause is not then.window.cause:
        return
    assert now.q_now is not None
    assert then.q_now is not None
    assert then.q_now >= now.q_now - 1e-9
