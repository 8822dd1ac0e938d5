"""Due windows of single lines: each kind of limit, each kind of beginning, each reason for having no date."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.book.rows import AfterEvent, DutyFigure, IntervalBook, Limits, Mixing
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import Cause, DueWindow, LineOutlook, NoDate, ReadingWanted
from fleetcare.due.reckon import reckon_fleet, reckon_vehicle
from fleetcare.fleet.component import Component, History
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, MeterChange, Vehicle
from fleetcare.meter.reading import ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, PrintedDistance
from tests.due.facts import (
    DUTIES,
    FLAT,
    MIXED,
    PRIORS,
    TODAY,
    booking,
    done,
    event,
    miles,
    monthly,
    outlook_of,
    reading,
    row,
    vehicle,
)

GOLDEN = json.loads((Path(__file__).parents[1] / "usage" / "golden.json").read_text())
LAST_ON = date(2026, 3, 31)
MONTHLY = monthly(LAST_ON, 112640, 880, 24)
AXLE = row(mi=50000, months=60, by_duty=[DutyFigure("towing", miles(30000))])


def days(window: DueWindow) -> tuple[date, date, date]:
    return (window.early, window.likely, window.late)


def texts(line: LineOutlook) -> str:
    return "\n".join(step.text for step in line.steps).replace("\u2009", " ")


@pytest.mark.parametrize("name", ["two readings a month apart", "steady year", "parked for three months"])
def test_dates_are_those_of_the_worked_cases(name: str) -> None:
    # Worked cases computed by an independent implementation, without a season.
    case = next(c for c in GOLDEN["cases"] if c["name"] == name)
    km = Meter(ODOMETER, MeterUnit.KM)
    readings = [
        reading(LAST_ON + timedelta(days=int(t)), int(50000 + d), unit=MeterUnit.KM)
        for t, d in zip(case["t"], case["d"], strict=True)
    ]
    # Work done on the day of the last reading: the whole interval is left.
    interval = row(by_duty=[DutyFigure("daily", PrintedDistance.of(int(case["r"]), DistanceUnit.KM))])
    line = outlook_of(
        interval, vehicle(meters=[km]), readings=readings, work=[done(LAST_ON)], today=LAST_ON, priors=FLAT
    )
    assert line.window is not None
    for day, expected in zip(days(line.window), case["due"], strict=True):
        assert abs((day - LAST_ON).days - expected) <= 0.55


def test_a_date_only_line_is_spread_by_the_rows_own_give() -> None:
    line = outlook_of(row(months=6, give_days=21), vehicle(), readings=MONTHLY, work=[done(date(2025, 11, 4))])
    assert line.window is not None
    assert days(line.window) == (date(2026, 4, 13), date(2026, 5, 4), date(2026, 5, 25))
    assert line.window.cause is Cause.DATE
    assert line.q_now == pytest.approx(161 / 181)


def test_a_date_only_line_is_spread_by_four_per_cent_of_its_interval() -> None:
    line = outlook_of(row(months=12), vehicle(), work=[done(date(2025, 3, 25))])
    assert line.window is not None
    assert days(line.window) == (date(2026, 3, 11), date(2026, 3, 25), date(2026, 4, 8))
    assert line.window.days_past_late(TODAY) == 6
    assert line.q_now == pytest.approx(1.0541, abs=1e-3)


def test_a_short_date_limit_has_a_week_of_give() -> None:
    line = outlook_of(row(weeks=6), vehicle(), work=[done(date(2026, 4, 1))])
    assert line.window is not None
    assert days(line.window) == (date(2026, 5, 6), date(2026, 5, 13), date(2026, 5, 20))


def test_wear_by_distance_adds_up_over_the_duties() -> None:
    car = vehicle(usual_split=MIXED)
    line = outlook_of(AXLE, car, readings=MONTHLY, work=[done(date(2023, 6, 3), 79000)])
    # 33 640 mi at 5 : 3; 21 025/30 000 + 12 615/50 000.
    assert line.q_read == pytest.approx(21025 / 30000 + 12615 / 50000, rel=1e-9)
    assert line.window is not None
    assert line.window.cause is Cause.DISTANCE
    assert line.last_done_on == date(2023, 6, 3)


def test_the_split_of_a_reading_counts_for_its_span() -> None:
    plain = [reading(date(2026, 1, 1), 1000), reading(date(2026, 3, 1), 3000)]
    towed = [plain[0], reading(date(2026, 3, 1), 3000, split=MIXED)]
    work = [done(date(2026, 1, 1))]
    assert outlook_of(AXLE, vehicle(), readings=plain, work=work).q_read == pytest.approx(2000 / 50000)
    assert outlook_of(AXLE, vehicle(), readings=towed, work=work).q_read == pytest.approx(
        1250 / 30000 + 750 / 50000, rel=1e-9
    )


def test_work_with_a_dial_value_counts_from_it_and_not_from_its_day() -> None:
    by_value = outlook_of(AXLE, vehicle(), readings=MONTHLY, work=[done(date(2025, 10, 2), 110000)])
    by_day = outlook_of(AXLE, vehicle(), readings=MONTHLY, work=[done(date(2025, 10, 2))])
    assert by_value.q_read == pytest.approx(2640 / 50000)
    # 2 October lies on a reading: 112 640 less six times 880.
    assert by_day.q_read == pytest.approx(6 * 880 / 50000)


def test_the_last_work_counts_and_work_to_come_does_not() -> None:
    work = [done(date(2025, 10, 2)), done(date(2024, 11, 6)), done(TODAY + timedelta(days=9))]
    assert outlook_of(AXLE, vehicle(), readings=MONTHLY, work=work).last_done_on == date(2025, 10, 2)


def test_work_past_the_last_reading_starts_the_wear_at_nought() -> None:
    line = outlook_of(AXLE, vehicle(), readings=MONTHLY, work=[done(TODAY, 113100)])
    assert line.q_read == 0.0
    assert line.q_now == pytest.approx(0.0, abs=0.002)
    assert line.window is not None
    later = outlook_of(AXLE, vehicle(), readings=MONTHLY, work=[done(TODAY, 113400)])
    assert later.window is not None
    assert later.window.likely >= line.window.likely


def test_unknown_history_makes_a_look_the_first_thing_due() -> None:
    line = outlook_of(AXLE, vehicle(line_on=date(2026, 4, 10)), readings=MONTHLY)
    assert line.window is not None
    assert days(line.window) == (date(2026, 4, 10), date(2026, 4, 24), date(2026, 5, 10))
    assert line.window.cause is Cause.UNKNOWN_HISTORY
    assert "look" in texts(line)


def test_unknown_history_without_a_reading_still_asks_for_the_look() -> None:
    line = outlook_of(row(mi=5000), vehicle(entered_on=date(2026, 4, 1)))
    assert line.window is not None
    assert line.window.early == date(2026, 4, 1)


def test_a_row_that_needs_no_look_counts_from_the_day_it_was_set_up() -> None:
    line = outlook_of(row(months=12, look_first=False), vehicle(line_on=date(2026, 4, 10)))
    assert line.window is not None
    assert line.window.likely == date(2027, 4, 10)


def test_after_the_look_the_interval_counts_from_it() -> None:
    line = outlook_of(row(months=12), vehicle(line_on=date(2026, 1, 1)), work=[done(date(2026, 1, 20))])
    assert line.window is not None
    assert line.window.likely == date(2027, 1, 20)


def test_a_new_component_counts_from_its_first_day_and_the_first_interval() -> None:
    new = vehicle(history=History.NEW, in_service_on=date(2025, 1, 1))
    first = row(mi=30000, first=Limits(miles(5000)))
    readings = [reading(date(2025, 7, 1), 3000), reading(date(2025, 12, 1), 4800)]
    assert outlook_of(first, new, readings=readings).q_read == pytest.approx(4800 / 5000)
    again = outlook_of(first, new, readings=readings, work=[done(date(2025, 12, 1))])
    assert again.q_read == 0.0
    assert again.window is not None
    assert (again.window.likely - TODAY).days > 500


def test_the_delivery_value_is_where_a_new_vehicle_begins() -> None:
    meter = Meter(ODOMETER, MeterUnit.MI, delivery_value=Decimal(300))
    new = vehicle(history=History.NEW, in_service_on=date(2025, 1, 1), meters=[meter])
    assert outlook_of(row(mi=5000), new, readings=[reading(date(2025, 7, 1), 3300)]).q_read == pytest.approx(0.6)


def test_a_component_fitted_later_counts_from_the_distance_of_that_day() -> None:
    new = vehicle(history=History.NEW, fitted_on=date(2025, 10, 2), in_service_on=date(2014, 5, 2))
    assert outlook_of(AXLE, new, readings=MONTHLY).q_read == pytest.approx(6 * 880 / 50000)


def test_overdue_by_reading_says_since_when() -> None:
    # 880 mi in 30 days: 5 000 mi after the reading of 2 October are reached between the fifth and the sixth month.
    line = outlook_of(row(mi=5000), vehicle(), readings=MONTHLY, work=[done(date(2025, 10, 2))], priors=FLAT)
    assert line.window is not None
    crossed = date(2025, 10, 2) + timedelta(days=round(5000 / 880 * 30))
    assert abs((line.window.likely - crossed).days) <= 1
    assert date(2026, 3, 1) <= line.window.early <= line.window.late <= LAST_ON
    assert line.window.is_past_late(TODAY)
    assert line.q_read == pytest.approx(5280 / 5000)
    assert "reached by reading" in texts(line)


def test_a_strict_line_is_on_its_severe_figure_once_a_severe_use_was_met() -> None:
    strict = row(mi=50000, by_duty=[DutyFigure("towing", miles(25000))], mixing=Mixing.STRICT)
    towed = [*MONTHLY[:-1], reading(LAST_ON, 112640, split=MIXED)]
    work = [done(date(2025, 10, 2))]
    assert outlook_of(strict, vehicle(), readings=MONTHLY, work=work).q_read == pytest.approx(5280 / 50000)
    assert outlook_of(strict, vehicle(), readings=towed, work=work).q_read == pytest.approx(5280 / 25000)


def test_a_booked_severe_trip_puts_a_strict_line_on_its_severe_figure_from_its_day_on() -> None:
    strict = row(mi=10000, by_duty=[DutyFigure("towing", miles(5500))], mixing=Mixing.STRICT)
    work = [done(date(2025, 10, 2))]
    trip = booking(date(2026, 5, 1), date(2026, 5, 3), 300, duty="towing")
    without = outlook_of(strict, vehicle(), readings=MONTHLY, work=work)
    booked = outlook_of(strict, vehicle(), readings=MONTHLY, work=work, bookings=[trip])
    assert without.window is not None
    assert booked.window is not None
    assert without.window.likely > date(2026, 8, 1)
    # 5 280 mi are on it already: with the trip the severe figure is passed, but not before the trip.
    assert booked.window.likely == date(2026, 5, 3)
    assert booked.q_now is not None
    assert booked.q_now < 1


def test_whichever_of_distance_hours_and_date_comes_first() -> None:
    car = vehicle(meters=[Meter(ODOMETER, MeterUnit.MI), Meter(HOUR_METER, MeterUnit.HOURS)])
    hours = monthly(LAST_ON, 2000, 30, 12, unit=MeterUnit.HOURS)
    work = [done(date(2026, 1, 30))]
    both = [*MONTHLY, *hours]
    assert outlook_of(row(mi=2500, hours=500), car, readings=both, work=work).window.cause is Cause.DISTANCE  # type: ignore[union-attr]
    by_hours = outlook_of(row(mi=9000, hours=100), car, readings=both, work=work)
    assert by_hours.window is not None
    assert by_hours.window.cause is Cause.HOURS
    assert by_hours.q_read == pytest.approx(0.6)
    assert outlook_of(row(mi=9000, months=4), car, readings=both, work=work).window.cause is Cause.DATE  # type: ignore[union-attr]


def test_a_window_of_several_limits_takes_each_date_from_the_earliest() -> None:
    work = [done(date(2025, 10, 2))]
    by_distance = outlook_of(row(mi=7000), vehicle(), readings=MONTHLY, work=work).window
    by_date = outlook_of(row(months=9), vehicle(), readings=MONTHLY, work=work).window
    both = outlook_of(row(mi=7000, months=9), vehicle(), readings=MONTHLY, work=work).window
    assert by_distance is not None
    assert by_date is not None
    assert both is not None
    assert days(both) == tuple(min(a, b) for a, b in zip(days(by_distance), days(by_date), strict=True))


def test_due_at_once_after_each_use() -> None:
    after_track = row(after=[AfterEvent("track day")])
    work = [done(date(2025, 8, 2))]
    events = [event("track day", date(2025, 8, 1)), event("track day", date(2026, 4, 11))]
    line = outlook_of(after_track, vehicle(), work=work, events=events)
    assert line.window is not None
    assert days(line.window) == (date(2026, 4, 11), date(2026, 4, 11), date(2026, 4, 18))
    assert line.window.cause is Cause.EVENT


def test_a_booking_with_an_event_makes_the_line_due_on_its_last_day() -> None:
    line = outlook_of(
        row(after=[AfterEvent("track day")]),
        vehicle(),
        work=[done(date(2025, 8, 2))],
        bookings=[booking(date(2026, 5, 16), date(2026, 5, 17), event="track day")],
    )
    assert line.window is not None
    assert line.window.early == line.window.likely == date(2026, 5, 17)


def test_within_five_days_after_an_immersion() -> None:
    # US Army TM 5-3825-229-14&P, p. 2-41: bearings after every fording, within five days.
    line = outlook_of(row(after=[AfterEvent("immersion", days=5)]), vehicle(), events=[event("immersion", TODAY)])
    assert line.window is not None
    assert days(line.window) == (TODAY, TODAY + timedelta(days=5), TODAY + timedelta(days=5))


def test_within_a_distance_after_new_gears() -> None:
    # 500 mi after new gears: common practice, no source.
    line = outlook_of(
        row(after=[AfterEvent("gears renewed", distance=miles(500))]),
        vehicle(),
        readings=MONTHLY,
        events=[event("gears renewed", date(2026, 3, 26), "rear-axle")],
        priors=FLAT,
    )
    assert line.q_read == pytest.approx(5 * 880 / 30 / 500)
    assert line.window is not None
    assert line.window.cause is Cause.EVENT


def test_an_event_on_another_component_does_not_count() -> None:
    line = outlook_of(row(after=[AfterEvent("immersion")]), vehicle(), events=[event("immersion", TODAY, "front-axle")])
    assert line.no_date is NoDate.NO_EVENT
    assert line.q_now is None


def test_every_reason_for_having_no_date() -> None:
    work = [done(date(2026, 1, 30))]
    assert outlook_of(row(mi=5000), vehicle(), work=work).no_date is NoDate.NO_READING
    gone = vehicle(out_of_fleet_on=TODAY)
    assert outlook_of(row(mi=5000, months=1), gone, readings=MONTHLY, work=work).no_date is NoDate.OUT_OF_FLEET
    assert outlook_of(row(after=[AfterEvent("immersion")]), vehicle(), work=work).no_date is NoDate.NO_EVENT
    unused = row(by_duty=[DutyFigure("track", miles(500))])
    assert outlook_of(unused, vehicle(), readings=MONTHLY, work=work).no_date is NoDate.NO_USE
    never = outlook_of(row(mi=9_000_000), vehicle(), readings=MONTHLY, work=work)
    assert never.no_date is NoDate.BEYOND
    assert never.q_now is not None


def test_without_a_reading_date_limits_still_work() -> None:
    line = outlook_of(row(mi=5000, months=6), vehicle(), work=[done(date(2026, 1, 30))])
    assert line.window is not None
    assert line.window.likely == date(2026, 7, 30)
    assert "cannot be counted" in texts(line)


def test_a_dial_that_has_not_moved_for_half_a_year_has_no_use_in_sight() -> None:
    still = [reading(date(2025, 8, 1) + timedelta(days=60 * i), 5000) for i in range(4)]
    assert outlook_of(row(mi=5000), vehicle(), readings=still, work=[done(date(2025, 8, 1))]).no_date is NoDate.NO_USE
    trip = booking(date(2026, 5, 1), date(2026, 5, 3), 300)
    booked = outlook_of(row(mi=5000), vehicle(), readings=still, work=[done(date(2025, 8, 1))], bookings=[trip])
    assert booked.window is not None


def test_a_service_that_left_the_book_does_not_disappear() -> None:
    facts = VehicleFacts(vehicle(services=["gone"], line_on=TODAY))
    line = reckon_vehicle(facts, book=IntervalBook({}), duties=DUTIES, priors=PRIORS, today=TODAY).lines[0]
    assert line.window is not None
    assert line.window.cause is Cause.UNKNOWN_HISTORY
    assert "not in the interval book" in texts(line)


def test_the_book_proposes_the_lines_of_a_component_that_has_none() -> None:
    car = vehicle(in_service_on=date(2026, 1, 1), entered_on=date(2026, 1, 10))
    bare = Component("rear-axle", "rear axle", "Rear axle")
    car = replace(car, components=(bare,))
    line = reckon_vehicle(
        VehicleFacts(car), book=IntervalBook({"service": row(months=6)}), duties=DUTIES, priors=PRIORS, today=TODAY
    ).lines[0]
    # Entered when it was new: counted from new.
    assert line.window is not None
    assert line.window.likely == date(2026, 7, 1)


def test_distance_runs_on_over_a_replaced_dial() -> None:
    meter = Meter(ODOMETER, MeterUnit.MI, changes=(MeterChange(date(2026, 2, 1), Decimal(81200), Decimal(0)),))
    readings = [reading(date(2026, 1, 1), 80000), reading(date(2026, 3, 1), 800)]
    facts = VehicleFacts(vehicle(meters=[meter]), tuple(readings), (done(date(2026, 1, 5), 80200),))
    seen = reckon_vehicle(
        facts, book=IntervalBook({"service": row(mi=4000)}), duties=DUTIES, priors=PRIORS, today=TODAY
    )
    assert seen.lines[0].q_read == pytest.approx((81000 - 80200 + 200 + 800) / 4000)
    assert seen.reckoned_dial is not None
    assert 800 < seen.reckoned_dial < 6000


def test_a_trailer_without_a_meter_lives_on_its_bookings() -> None:
    trailer = vehicle(meters=[], entered_on=date(2025, 6, 1))
    trips = [booking(date(2025, m, 10), date(2025, m, 12), 400) for m in (7, 8, 9, 10)]
    work = [done(date(2025, 6, 1))]
    line = outlook_of(row(mi=2000), trailer, bookings=trips, work=work)
    assert line.q_read == pytest.approx(0.8)
    assert line.window is not None
    ahead = booking(date(2026, 5, 1), date(2026, 5, 3), 400)
    booked = outlook_of(row(mi=2000), trailer, bookings=[*trips, ahead], work=work)
    assert booked.window is not None
    assert booked.window.late <= date(2026, 5, 3)
    assert outlook_of(row(mi=2000), trailer, work=work).no_date is NoDate.NO_READING
    assert outlook_of(row(mi=2000, months=12), trailer, work=work).window is not None


def test_a_past_booking_tells_the_duty_of_a_span_nobody_split() -> None:
    readings = [reading(date(2026, 1, 1), 1000), reading(date(2026, 3, 1), 2000)]
    tow = booking(date(2026, 2, 1), date(2026, 2, 3), 600, duty="towing")
    axle = row(mi=50000, by_duty=[DutyFigure("towing", miles(30000))])
    line = outlook_of(axle, vehicle(), readings=readings, work=[done(date(2026, 1, 1))], bookings=[tow])
    assert line.q_read == pytest.approx(600 / 30000 + 400 / 50000)


def test_what_its_people_say_it_runs_counts_until_readings_know_better() -> None:
    one = [reading(LAST_ON, 5000)]
    work = [done(LAST_ON)]
    plain = outlook_of(row(mi=5000), vehicle(), readings=one, work=work, priors=FLAT).window
    busy = outlook_of(row(mi=5000), vehicle(yearly_km=40000.0), readings=one, work=work, priors=FLAT).window
    assert plain is not None
    assert busy is not None
    assert busy.likely < plain.likely
    # 5 000 mi at 40 000 km a year are 73 days, and the window is narrower than that of a vehicle nobody knows.
    assert abs((busy.likely - LAST_ON).days - 73) <= 5
    assert (busy.late - busy.early) < (plain.late - plain.early) / 2


def test_the_in_service_date_counts_as_a_reading() -> None:
    one = [reading(LAST_ON, 100000)]
    work = [done(LAST_ON)]
    plain = outlook_of(row(mi=5000), vehicle(), readings=one, work=work).window
    known = outlook_of(row(mi=5000), vehicle(in_service_on=date(2016, 3, 31)), readings=one, work=work).window
    fresh = outlook_of(row(mi=5000), vehicle(in_service_on=date(2026, 3, 10)), readings=one, work=work).window
    assert plain is not None
    assert known is not None
    assert (known.late - known.early) < (plain.late - plain.early)
    assert fresh == plain


def test_the_vehicle_as_a_whole() -> None:
    held = reading(date(2026, 4, 2), 12640, state=ReadingState.HELD)
    wild = reading(date(2025, 12, 15), 999999)
    facts = VehicleFacts(vehicle(usual_split=MIXED, in_service_on=date(2014, 5, 2)), (*MONTHLY, held, wild))
    seen = reckon_vehicle(facts, book=IntervalBook({"service": AXLE}), duties=DUTIES, priors=FLAT, today=TODAY)
    assert seen.last_reading == MONTHLY[-1]
    assert seen.readings_used == 24
    assert seen.held == (wild, held)
    assert seen.pace_km_per_day == pytest.approx(880 / 30 * 1.609344, rel=0.03)
    assert seen.reckoned_dial is not None
    assert abs(float(seen.reckoned_dial) - (112640 + 14 * 880 / 30)) < 25
    assert (
        seen.basis
        == "from 24 readings since 10 May 2024 and the in-service date 2 May 2014; not yet fitted to this garage"
    )
    assert seen.mix == MIXED
    assert seen.wanted is None


def test_a_reading_is_wanted_after_four_weeks() -> None:
    facts = VehicleFacts(vehicle(), MONTHLY)
    book = IntervalBook({})

    def wanted(today: date, a_vehicle: Vehicle = facts.vehicle) -> ReadingWanted | None:
        given = replace(facts, vehicle=a_vehicle)
        return reckon_vehicle(given, book=book, duties=DUTIES, priors=PRIORS, today=today).wanted

    assert wanted(LAST_ON + timedelta(days=28)) is None
    day = LAST_ON + timedelta(days=40)
    assert wanted(day) == ReadingWanted(ODOMETER, LAST_ON + timedelta(days=29), LAST_ON, Decimal(112640))
    assert wanted(day, vehicle(laid_up=(DateSpan(LAST_ON, day + timedelta(days=5)),))) is None
    assert wanted(day, vehicle(out_of_fleet_on=day)) is None
    assert wanted(day, vehicle(meters=[])) is None
    let_out = wanted(day, vehicle(laid_up=(DateSpan(LAST_ON, day),)))
    assert let_out is not None
    assert let_out.since == day


def test_steps_lead_from_readings_to_dates_with_figures_that_add_up() -> None:
    car = vehicle(usual_split=MIXED)
    told = texts(outlook_of(AXLE, car, readings=MONTHLY, work=[done(date(2023, 6, 3), 79000)]))
    assert "33 640 mi" in told
    assert "12 615 mi daily over 50 000 mi and 21 025 mi towing over 30 000 mi: 95.3 % used up by reading." in told
    assert "Left: 4.7 %" in told
    assert "Counted from the work of 3 June 2023, when the dial showed 79 000 mi." in told
    assert "Source: a test (common practice, no source)." in told


def test_one_vehicle_and_many_take_the_same_answer() -> None:
    fleet = [
        VehicleFacts(vehicle(usual_split=MIXED), MONTHLY[start:], (done(date(2025, 10, 2)),), (), ())
        for start in (0, 10, 22)
    ]
    book = IntervalBook({"service": AXLE})
    together = reckon_fleet(fleet, book=book, duties=DUTIES, priors=PRIORS, today=TODAY)
    alone = [reckon_vehicle(facts, book=book, duties=DUTIES, priors=PRIORS, today=TODAY) for facts in fleet]
    assert [one.lines[0].window for one in together] == [one.lines[0].window for one in alone]
    assert reckon_fleet([], book=book, duties=DUTIES, priors=PRIORS, today=TODAY) == ()


def test_declared_trips_of_the_past_are_not_taken_for_everyday_use() -> None:
    # 880 mi in 30 days, 440 of them on a trip each time; none is booked to come, so half the pace is left.
    trips = [booking(day - timedelta(days=9), day - timedelta(days=8), 440) for day in (r.on for r in MONTHLY[1:])]
    work = [done(LAST_ON)]
    alone = outlook_of(row(mi=3000), vehicle(), readings=MONTHLY, work=work, priors=FLAT)
    declared = outlook_of(row(mi=3000), vehicle(), readings=MONTHLY, work=work, bookings=trips, priors=FLAT)
    assert alone.window is not None
    assert declared.window is not None
    stretch = (declared.window.likely - LAST_ON) / (alone.window.likely - LAST_ON)
    assert stretch == pytest.approx(2.0, rel=0.08)
    seen = reckon_vehicle(
        VehicleFacts(vehicle(), MONTHLY, bookings=tuple(trips)),
        book=IntervalBook({}),
        duties=DUTIES,
        priors=FLAT,
        today=TODAY,
    )
    # The pace that is told holds the trips as well.
    assert seen.pace_km_per_day == pytest.approx(880 / 30 * 1.609344, rel=0.05)


def test_a_severe_trip_since_the_last_reading_counts_by_reckoning() -> None:
    strict = row(mi=10000, by_duty=[DutyFigure("towing", miles(5500))], mixing=Mixing.STRICT)
    work = [done(date(2025, 10, 2))]
    trip = booking(date(2026, 4, 8), date(2026, 4, 10), 300, duty="towing")
    line = outlook_of(strict, vehicle(), readings=MONTHLY, work=work, bookings=[trip], priors=FLAT)
    # 5 280 mi, 300 on the trip and two weeks of everyday use, all of it over 5 500 mi since the trip.
    assert line.q_read == pytest.approx(0.528)
    assert line.q_now == pytest.approx((5280 + 300 + 14 * 880 / 30) / 5500, rel=0.01)
    assert line.window is not None
    assert line.window.likely == date(2026, 4, 10)


def test_a_trip_in_a_lay_up_brings_nothing_before_the_last_reading() -> None:
    spell = DateSpan(date(2026, 3, 1), date(2026, 6, 1))
    trip = booking(date(2026, 4, 20), date(2026, 4, 21), 900)
    line = outlook_of(
        row(mi=6000),
        vehicle(laid_up=(spell,)),
        readings=MONTHLY,
        work=[done(date(2025, 10, 2))],
        bookings=[trip],
    )
    assert line.window is not None
    assert line.window.early >= LAST_ON
