"""A vehicle on one line: worked cases, what is counted from where, and laws of the dates."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from fleetcare.due.vehicle_lines import NEVER, Dates, ServiceLine, VehicleLine, vehicle_dates
from fleetcare.quantities import KM_PER_MILE, DateSpan, MeterUnit
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_walk import DialReading

GOLDEN = json.loads((Path(__file__).parents[1] / "usage" / "golden.json").read_text())
SHIPPED = Priors()
STEADY = Priors(season=(1.0,) * 12)
"""Without season, so that a day is an operational day and worked cases can be read off the calendar."""
TODAY = date(2026, 3, 31)
AS_OF = TODAY.toordinal()


def vehicle(*services: ServiceLine, **more: object) -> VehicleLine:
    return VehicleLine("v", MeterUnit.KM, AS_OF, services, **more)  # type: ignore[arg-type]


def dial(*rows: tuple[int, float]) -> tuple[DialReading, ...]:
    """Readings by days before the day of the question."""
    return tuple(DialReading(AS_OF - before, shown) for before, shown in rows)


def dates(line: VehicleLine, priors: Priors = SHIPPED) -> Dates:
    """The dates of its only service."""
    ((_, found),) = vehicle_dates(line, priors).services
    return found


def days(found: Dates) -> list[int]:
    """Days from the day of the question."""
    return [(day - TODAY).days for day in found if day is not None]


MONTHLY = dial((120, 80_000), (90, 81_100), (60, 82_000), (30, 83_200), (0, 84_210))


# Left out: one with a reading that is rightly held, and an anchor, which is no plain reading.
PLAIN = [c for c in GOLDEN["cases"] if c["name"] not in ("one wild reading", "ten-year anchor and one reading")]


@pytest.mark.parametrize("case", PLAIN, ids=lambda case: case["name"])
def test_dates_meet_the_worked_cases(case: dict[str, list[float]]) -> None:
    # Worked cases computed by an independent implementation; without season an operational day is a calendar day.
    shown = [500_000.0 + km for km in case["d"]]
    readings = tuple(DialReading(AS_OF + int(day), km) for day, km in zip(case["t"], shown, strict=True))
    left = float(case["r"])  # type: ignore[arg-type]
    ask = ServiceLine("a", due_at=500_000.0 + left) if readings else ServiceLine("a", remaining=left)
    for got, due in zip(days(dates(vehicle(ask, readings=readings), STEADY)), case["due"], strict=True):
        assert abs(got - due) <= 0.5 + 0.05


def test_ten_years_and_one_reading_meet_the_worked_case() -> None:
    line = vehicle(ServiceLine("a", due_at=158_000.0), readings=dial((0, 150_000)), in_service=AS_OF - 3650)
    # Worked case "ten-year anchor and one reading".
    due = next(case["due"] for case in GOLDEN["cases"] if case["name"] == "ten-year anchor and one reading")
    for got, wanted in zip(days(dates(line, STEADY)), due, strict=True):
        assert abs(got - wanted) <= 0.55


def test_an_in_service_date_of_the_last_weeks_says_nothing() -> None:
    young = vehicle(ServiceLine("a", due_at=9_000.0), readings=dial((0, 1_000)), in_service=AS_OF - 29)
    assert dates(young) == dates(replace(young, in_service=None))
    assert dates(young) != dates(replace(young, in_service=AS_OF - 30))


def test_what_is_on_the_dial_is_counted_from_the_last_reading_and_what_remains_from_today() -> None:
    by_dial = vehicle(ServiceLine("a", due_at=92_210.0), readings=MONTHLY)
    remaining = vehicle(ServiceLine("a", remaining=8_000.0), readings=MONTHLY)
    assert dates(by_dial) == dates(remaining)
    later = replace(remaining, as_of=AS_OF + 60)
    assert [b - a for a, b in zip(days(dates(remaining)), days(dates(later)), strict=True)] == pytest.approx(
        [60] * 3, abs=12
    )
    assert dates(replace(by_dial, as_of=AS_OF + 60)) == dates(by_dial)


def test_without_a_reading_the_dial_is_counted_from_nought_on_the_in_service_date() -> None:
    new = vehicle(ServiceLine("a", due_at=20_000.0), in_service=AS_OF)
    assert dates(new) == dates(vehicle(ServiceLine("a", remaining=20_000.0)))
    assert dates(vehicle(ServiceLine("a", due_at=20_000.0))) == NEVER
    limit = AS_OF + 90
    cut = dates(vehicle(ServiceLine("a", due_at=20_000.0, not_after=limit)))
    assert cut == (date.fromordinal(limit),) * 3


def test_where_the_dial_is_not_known_what_remains_stands_in() -> None:
    both = ServiceLine("a", due_at=20_000.0, remaining=8_000.0)
    assert dates(vehicle(both)) == dates(vehicle(ServiceLine("a", remaining=8_000.0)))
    assert dates(vehicle(both, readings=dial((0, 15_000)))) == dates(
        vehicle(ServiceLine("a", due_at=20_000.0), readings=dial((0, 15_000)))
    )


def test_what_is_past_is_due_today() -> None:
    for at in (84_210.0, 80_000.0, 0.0):
        assert dates(vehicle(ServiceLine("a", due_at=at), readings=MONTHLY)) == (TODAY,) * 3
    assert dates(vehicle(ServiceLine("a", remaining=-1.0))) == (TODAY,) * 3
    # The last reading is ten weeks old, and what is left was surely driven since.
    old = vehicle(ServiceLine("a", due_at=84_230.0), readings=MONTHLY)
    assert dates(replace(old, as_of=AS_OF + 70)) == (TODAY + timedelta(days=70),) * 3


def test_a_calendar_limit_cuts_each_date_even_one_that_is_past() -> None:
    free = dates(vehicle(ServiceLine("a", due_at=92_210.0), readings=MONTHLY))
    early, likely, late = (day.toordinal() for day in free if day is not None)
    limit = (likely + late) // 2
    cut = dates(vehicle(ServiceLine("a", due_at=92_210.0, not_after=limit), readings=MONTHLY))
    assert cut == (date.fromordinal(early), date.fromordinal(likely), date.fromordinal(limit))
    yesterday = date.fromordinal(AS_OF - 1)
    assert dates(vehicle(ServiceLine("a", not_after=AS_OF - 1, due_at=92_210.0))) == (yesterday,) * 3


def test_a_date_past_the_year_2200_is_never() -> None:
    assert dates(vehicle(ServiceLine("a", remaining=1e11), readings=MONTHLY)) == NEVER
    still = vehicle(ServiceLine("a", remaining=100.0), laid_up=(DateSpan(TODAY, date(2205, 1, 1)),))
    assert dates(still) == NEVER
    assert dates(vehicle(ServiceLine("a", not_after=date(2200, 12, 31).toordinal())))[0] == date(2200, 12, 31)
    assert dates(vehicle(ServiceLine("a", not_after=date(2201, 1, 1).toordinal()))) == NEVER


def test_a_reading_that_cannot_be_is_named_and_not_used() -> None:
    wrong = (*MONTHLY[:3], DialReading(AS_OF - 30, 8_320.0), MONTHLY[4])
    found = vehicle_dates(vehicle(ServiceLine("a", due_at=92_210.0), readings=wrong), SHIPPED)
    without = vehicle_dates(vehicle(ServiceLine("a", due_at=92_210.0), readings=(*MONTHLY[:3], MONTHLY[4])), SHIPPED)
    assert found.suspect == (3,)
    assert found.services == without.services


def test_more_than_it_can_do_in_a_day_is_doubted_unless_the_line_says_so() -> None:
    # A machine known to do 1,200 km a day did 1,700 on each of two days.
    known = tuple(replace(one, vouched=True) for one in dial((90, 0), (60, 36_000), (30, 72_000), (2, 105_600)))
    line = vehicle(ServiceLine("a", due_at=200_000.0), readings=(*known, *dial((0, 109_000))))
    assert vehicle_dates(line, SHIPPED).suspect == (4,)
    assert vehicle_dates(replace(line, max_per_day=2500.0), SHIPPED).suspect == ()


def test_a_reading_somebody_vouches_for_is_used() -> None:
    doubted = (*MONTHLY[:4], DialReading(AS_OF, 852_100.0))
    assert vehicle_dates(vehicle(readings=doubted), SHIPPED).suspect == (4,)
    vouched = (*MONTHLY[:4], DialReading(AS_OF, 852_100.0, vouched=True))
    line = vehicle(ServiceLine("a", due_at=850_000.0), readings=vouched)
    assert vehicle_dates(line, SHIPPED).suspect == ()
    assert dates(line) == (TODAY,) * 3


def test_hours_begin_at_the_mean_speed() -> None:
    # The hour meter of a vehicle that nobody knows: km a day over the mean speed.
    km = vehicle(ServiceLine("a", remaining=8_000.0))
    hours = VehicleLine(
        "v", MeterUnit.HOURS, AS_OF, (ServiceLine("a", remaining=8_000.0 / SHIPPED.mean_speed_km_per_h),)
    )
    assert dates(hours) == dates(km)


def test_a_dial_that_begins_anew_after_its_digits_goes_on() -> None:
    turned = dial((90, 97_800), (60, 98_900), (30, 99_900), (0, 1_000))
    line = vehicle(ServiceLine("a", due_at=3_000.0), readings=turned, digits=5, rolls_over=True)
    assert vehicle_dates(line, SHIPPED).suspect == ()
    assert 30 < days(dates(line))[1] < 90


GAINS = st.lists(st.tuples(st.integers(7, 60), st.floats(5.0, 120.0)), max_size=8)


def test_a_winter_in_the_shed_is_passed_over_once_it_is_driven_again() -> None:
    """Months of 1 000 km, four without any, and driven on: as if the four had been said, to within some days."""
    months = [1000] * 8 + [0] * 4 + [1000] * 2
    dials = [sum(months[:count]) + 40_000 for count in range(len(months) + 1)]
    rows = [(30 * (len(months) - count), value) for count, value in enumerate(dials)]
    line = vehicle(ServiceLine("x", due_at=dials[-1] + 6000.0), readings=dial(*rows))
    spell = DateSpan(date.fromordinal(AS_OF - 180), date.fromordinal(AS_OF - 60))
    silent, said = days(dates(line)), days(dates(replace(line, laid_up=(spell,))))
    assert silent[1] == pytest.approx(said[1], abs=6)
    still = vehicle(ServiceLine("x", due_at=dials[12] + 6000.0), readings=dial(*rows[:13]))
    assert days(dates(still))[1] > 1.5 * silent[1], "while it stands nobody knows that it will be driven again"


@st.composite
def lines(draw: st.DrawFn) -> VehicleLine:
    """A vehicle with 0 to 9 readings at a pace that changes, trips, a lay-up, and one service."""
    on, shown = AS_OF - 500, float(draw(st.integers(20_000, 90_000)))
    readings = [DialReading(on, shown)]
    for gap, rate in draw(GAINS):
        on, shown = on + gap, float(round(shown + gap * rate))
        readings.append(DialReading(on, shown))
    trips = draw(st.lists(st.tuples(st.integers(-100, 500), st.floats(0, 3000)), max_size=4))
    spells = draw(st.lists(st.tuples(st.integers(1, 300), st.integers(1, 150)), max_size=2))
    left = math.exp(draw(st.floats(math.log(50.0), math.log(30_000.0))))
    service = ServiceLine("a", due_at=shown + left, not_after=draw(st.none() | st.integers(AS_OF - 50, AS_OF + 900)))
    return vehicle(
        service,
        readings=tuple(readings),
        trips=tuple((AS_OF + after, far) for after, far in trips),
        laid_up=tuple(
            DateSpan(TODAY + timedelta(days=first), TODAY + timedelta(days=first + long)) for first, long in spells
        ),
        in_service=draw(st.none() | st.just(AS_OF - 2000)),
    )


def ordinals(found: Dates) -> list[float]:
    return [math.inf if day is None else day.toordinal() for day in found]


@settings(max_examples=50, deadline=None)
@given(lines())
def test_early_likely_and_late_come_in_that_order(line: VehicleLine) -> None:
    early, likely, late = ordinals(dates(line))
    assert early <= likely <= late


@settings(max_examples=50, deadline=None)
@given(lines(), st.integers(1, 600), st.floats(0, 4000))
def test_another_trip_never_makes_a_service_later(line: VehicleLine, after: int, far: float) -> None:
    more = replace(line, trips=(*line.trips, (AS_OF + after, far)))
    assert all(b <= a for a, b in zip(ordinals(dates(line)), ordinals(dates(more)), strict=True))


@settings(max_examples=50, deadline=None)
@given(lines(), st.floats(0, 5000))
def test_more_to_go_is_never_due_earlier(line: VehicleLine, more: float) -> None:
    (service,) = line.services
    further = replace(line, services=(replace(service, due_at=(service.due_at or 0.0) + more),))
    assert all(b >= a for a, b in zip(ordinals(dates(line)), ordinals(dates(further)), strict=True))


@settings(max_examples=50, deadline=None)
@given(lines(), st.integers(0, 500), st.integers(1, 200))
def test_another_spell_without_use_never_makes_a_service_earlier(line: VehicleLine, first: int, long: int) -> None:
    spell = DateSpan(TODAY + timedelta(days=first), TODAY + timedelta(days=first + long))
    still = replace(line, laid_up=(*line.laid_up, spell))
    assert all(b >= a for a, b in zip(ordinals(dates(line)), ordinals(dates(still)), strict=True))


@settings(max_examples=50, deadline=None)
@given(lines())
def test_the_unit_moves_no_date_by_more_than_a_day(line: VehicleLine) -> None:
    (service,) = line.services
    in_miles = replace(
        line,
        unit=MeterUnit.MI,
        readings=tuple(replace(one, value=one.value / KM_PER_MILE) for one in line.readings),
        trips=tuple((on, far / KM_PER_MILE) for on, far in line.trips),
        services=(replace(service, due_at=(service.due_at or 0.0) / KM_PER_MILE),),
    )
    km, mi = vehicle_dates(line, SHIPPED), vehicle_dates(in_miles, SHIPPED)
    event(f"the same readings are doubted: {km.suspect == mi.suspect}")
    if km.suspect == mi.suspect:  # slips are looked for in the digits, and those differ
        for a, b in zip(ordinals(km.services[0][1]), ordinals(mi.services[0][1]), strict=True):
            assert a == b or abs(a - b) <= 1


@settings(max_examples=50, deadline=None)
@given(lines(), st.integers(1, 400))
def test_time_alone_moves_only_what_is_past(line: VehicleLine, later: int) -> None:
    """Without a new reading no date moves until its day has come, and what has fallen due stays due."""
    (service,) = line.services
    line = replace(line, services=(replace(service, not_after=None),))
    moved = replace(line, as_of=AS_OF + later)
    for before, after in zip(ordinals(dates(line)), ordinals(dates(moved)), strict=True):
        assert after == max(before, AS_OF + later)
