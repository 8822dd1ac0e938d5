"""A garage learns from its readings: which of them, when there are enough, and what comes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.learning import ENOUGH_MEDIAN, ENOUGH_VEHICLES, Lesson, in_fixed_order, learn, teaches
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.usage.fitting import Trial
from fleetcare.usage.learned import LEARNED, FleetNumbers
from fleetcare.usage.priors import Priors
from tests.usage.fleets import daily_km, spans_of, uses_of

FIRST = date(2023, 1, 2)
TODAY = date(2026, 4, 14)
FLAT = Priors(season=(1.0,) * 12)
"""A clock that runs like the calendar, so that days of the law are days."""
VANS = Priors(m0=4.6, s0=0.3, psi=0.5, sig=0.25, season=(1.0,) * 12)
"""An invented fleet of delivery vans: a hundred km a day, alike and even."""
ENTERED = datetime(2026, 4, 1, tzinfo=UTC)
KM_PER_MI = Decimal("1.609344")


def van(mark: str, *, unit: MeterUnit = MeterUnit.KM, meters: Sequence[Meter] | None = None, **more: object) -> Vehicle:
    return Vehicle(
        mark=mark,
        name=mark,
        kind=VehicleKind.LIGHT_TRUCK,
        called="van",
        unit=DistanceUnit(unit.value) if unit is not MeterUnit.HOURS else DistanceUnit.KM,
        meters=(Meter(ODOMETER, unit, 7),) if meters is None else tuple(meters),
        **more,  # type: ignore[arg-type]
    )


def read(mark: str, dial: Sequence[float | Decimal], days: Sequence[int], unit: MeterUnit) -> tuple[Reading, ...]:
    meter = HOUR_METER if unit is MeterUnit.HOURS else ODOMETER
    return tuple(
        Reading(mark, meter, FIRST + timedelta(days=int(day)), Decimal(value), unit, ENTERED)
        for day, value in zip(days, dial, strict=True)
    )


def garage(
    like: Priors, vehicles: int, spans: int, *, seed: int = 1, every: int = 30, unit: MeterUnit = MeterUnit.KM
) -> list[VehicleFacts]:
    """Vehicles read every so many days, `spans` + 1 times; whole miles on each dial, typed in the unit asked for."""
    gained, _ = spans_of(daily_km(like, vehicles, spans * every, seed=seed), every)
    found = []
    for row, marked in zip(gained, in_fixed_order(f"V{n:03}" for n in range(vehicles)), strict=True):
        miles = [Decimal(round(value)) for value in np.concatenate(([0.0], np.cumsum(row))) / float(KM_PER_MI)]
        dial = [value * KM_PER_MI if unit is MeterUnit.KM else value for value in miles]
        readings = read(marked, dial, range(0, (spans + 1) * every, every), unit)
        found.append(VehicleFacts(van(marked, unit=unit), readings))
    return found


def lesson(fleet: Sequence[VehicleFacts], priors: Priors = FLAT, **more: object) -> Lesson:
    return learn(fleet, priors, TODAY, **more)  # type: ignore[arg-type]


def figures(numbers: FleetNumbers | None) -> dict[str, float]:
    assert numbers is not None
    return {name: getattr(numbers, name) for name in LEARNED}


# When there is enough


@pytest.mark.parametrize(
    ("vehicles", "readings", "enough"),
    [
        (ENOUGH_VEHICLES, 3, True),
        (ENOUGH_VEHICLES - 1, 3, False),
        (ENOUGH_VEHICLES + 5, 2, False),
        (1, ENOUGH_MEDIAN, True),
        (1, ENOUGH_MEDIAN - 1, False),
        (0, 0, False),
    ],
)
def test_twenty_vehicles_with_three_readings_are_enough_or_twelve_readings_of_the_middle_one(
    vehicles: int, readings: int, enough: bool
) -> None:
    came = lesson(garage(VANS, vehicles, max(1, readings - 1)))
    assert came.at_hand.is_enough is enough
    assert (came.basis is not None) is enough
    if not enough:
        assert came.numbers is None


def test_the_middle_vehicle_is_one_of_all_that_have_an_odometer() -> None:
    fleet = garage(VANS, 3, 14)
    assert lesson(fleet).at_hand.is_enough
    unread = [VehicleFacts(van(f"N{n}")) for n in range(4)]
    without = [VehicleFacts(van(f"T{n}", meters=())) for n in range(9)]
    came = lesson(fleet + unread)
    assert (came.at_hand.vehicles, came.at_hand.median, came.at_hand.is_enough) == (7, 0.0, False)
    assert lesson(fleet + without).at_hand.is_enough, "what has no odometer is not waited for"


def test_what_it_rests_on_is_counted() -> None:
    came = lesson([*garage(VANS, 4, 15), VehicleFacts(van("NEW"))])
    assert came.at_hand.vehicles == 5
    assert came.basis is not None
    # 16 readings each; 15 spans of 30 days are 450 days, 14.8 months of 30.44 days.
    assert (came.basis.vehicles, came.basis.readings, came.basis.months) == (4, 64, 15)


# What counts


def test_hour_meters_and_distances_known_from_bookings_alone_take_no_part() -> None:
    fleet = garage(VANS, 6, 14)
    boat = van("HOURS", meters=(Meter(HOUR_METER, MeterUnit.HOURS),))
    hours = VehicleFacts(boat, read("HOURS", range(0, 320, 20), range(0, 480, 30), MeterUnit.HOURS))
    trailer = van("TRAILER", meters=())
    booked = [
        Booking(f"b{n}", "away", DateSpan.of_days(day, day), ("TRAILER",), Decimal(300), DistanceUnit.KM)
        for n, day in enumerate(FIRST + timedelta(days=30 * n) for n in range(16))
    ]
    towed = VehicleFacts(trailer, bookings=tuple(booked))
    assert [teaches(facts) for facts in (fleet[0], hours, towed)] == [True, False, False]
    assert lesson([hours, *fleet, towed]) == lesson(fleet)


def test_kilometres_and_miles_teach_the_same() -> None:
    km, miles = (lesson(garage(VANS, 8, 14, unit=unit)) for unit in (MeterUnit.KM, MeterUnit.MI))
    assert figures(km.numbers) == pytest.approx(figures(miles.numbers), rel=1e-6)
    assert km.basis is not None
    assert miles.basis is not None
    assert km.basis.after == pytest.approx(miles.basis.after, rel=1e-9)


def test_a_declared_lay_up_is_no_time_and_a_declared_trip_no_everyday_distance() -> None:
    """The same use as without: after the lay-up days come 120 days later, after the trip the dial is 900 km higher."""

    def changed(facts: VehicleFacts) -> VehicleFacts:
        stands = DateSpan(FIRST + timedelta(days=180), FIRST + timedelta(days=300))
        trip_on = FIRST + timedelta(days=100)
        trip = Booking(
            "b", "far away", DateSpan.of_days(trip_on, trip_on), (facts.vehicle.mark,), Decimal(900), DistanceUnit.KM
        )
        return VehicleFacts(
            replace(facts.vehicle, laid_up=(stands,)),
            tuple(
                replace(
                    reading,
                    on=reading.on + timedelta(days=120 if reading.on > stands.first else 0),
                    value=reading.value + (900 if reading.on > trip_on else 0),
                )
                for reading in facts.readings
            ),
            bookings=(trip,),
        )

    fleet = garage(VANS, 8, 14)
    plain, with_both = lesson(fleet), lesson([changed(facts) for facts in fleet])
    assert figures(with_both.numbers) == pytest.approx(figures(plain.numbers), rel=1e-6)


def test_readings_of_every_day_count_by_the_week() -> None:
    """Second method: the same dials read once in eight days; over 240 days spans of one day are joined to so many."""
    daily = garage(VANS, 4, 240, every=1)
    thinned = [replace(facts, readings=facts.readings[::8]) for facts in daily]
    assert figures(lesson(daily).numbers) == pytest.approx(figures(lesson(thinned).numbers), rel=1e-9)


def test_of_a_long_log_the_newest_spans_count_and_none_is_longer_than_a_month_needs() -> None:
    fleet = garage(VANS, 3, 38)
    came = lesson([replace(facts, readings=facts.readings[-31:]) for facts in fleet])
    assert figures(lesson(fleet).numbers) == pytest.approx(figures(came.numbers), rel=1e-9)


# What comes of it


def test_a_fleet_unlike_the_shipped_numbers_learns_its_own_and_others_like_it_are_better_foretold() -> None:
    came = lesson(garage(VANS, 25, 14))
    assert came.numbers is not None
    assert came.basis is not None
    assert came.basis.times_as_likely > 1.3
    assert came.basis.after < came.basis.before
    learned = replace(FLAT, **figures(came.numbers))  # type: ignore[arg-type]
    others = Trial(uses_of(*spans_of(daily_km(VANS, 200, 420, seed=2), 30)))
    assert others.score(learned) < others.score(FLAT) - 0.2


def test_numbers_that_do_not_help_vehicles_left_out_are_not_taken() -> None:
    """Fleets that are like the shipped numbers: what they teach is chance, and helps others about as often as not."""
    kept = []
    for seed in (12, 14):
        came = lesson(garage(FLAT, 6, 14, seed=seed))
        assert came.basis is not None
        assert (came.numbers is not None) is (came.basis.others_after < came.basis.others_before)
        kept.append(came.numbers is None)
    assert kept == [True, False]


def test_one_vehicle_alone_can_teach() -> None:
    came = lesson(garage(VANS, 1, 20))
    assert came.basis is not None
    assert (came.basis.others_before, came.basis.others_after) == (came.basis.before, came.basis.after)
    assert came.numbers is not None


def test_numbers_that_the_garage_set_itself_stay() -> None:
    came = lesson(garage(VANS, 8, 14), replace(FLAT, psi=3.0), fixed=frozenset({"psi", "season"}))
    assert figures(came.numbers)["psi"] == 3.0


def test_the_same_readings_teach_the_same_and_it_is_told_how_far_it_is() -> None:
    fleet = garage(VANS, 6, 14)
    told: list[tuple[int, int]] = []
    assert lesson(fleet, progress=lambda done, of: told.append((done, of))) == lesson(fleet)
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]


def test_the_order_of_vehicles_comes_from_their_marks_alone() -> None:
    marks = [f"V{n}" for n in range(40)]
    assert in_fixed_order(reversed(marks)) == in_fixed_order(marks) != sorted(marks)
    assert sorted(in_fixed_order(marks)) == sorted(marks)


def test_a_fleet_of_fifty_learns_its_season_first_if_that_foretells_better() -> None:
    """Coaches of a seaside place, invented: three times as far in summer as in winter."""
    factors = (0.5, 0.5, 0.7, 0.9, 1.2, 1.4, 1.5, 1.5, 1.2, 1.0, 0.8, 0.6)

    def in_season(like: Priors, seed: int) -> list[VehicleFacts]:
        day = np.array([(FIRST + timedelta(days=n)).month - 1 for n in range(420)])
        km = daily_km(like, 52, 420, seed=seed) * np.array(factors)[day]
        gained, _ = spans_of(km, 30)
        return [
            VehicleFacts(
                van(mark),
                read(
                    mark,
                    [Decimal(round(v)) for v in np.concatenate(([0.0], np.cumsum(row)))],
                    range(0, 450, 30),
                    MeterUnit.KM,
                ),
            )
            for mark, row in zip(in_fixed_order(f"V{n:03}" for n in range(52)), gained, strict=True)
        ]

    came = lesson(in_season(VANS, 3), Priors())
    assert came.basis is not None
    assert came.basis.season
    assert came.numbers is not None
    assert came.numbers.season[6] / came.numbers.season[0] > 1.7
    fixed = lesson(in_season(VANS, 3), Priors(), fixed=frozenset({"season"}))
    assert fixed.numbers is not None
    assert fixed.numbers.season == Priors().season
    assert fixed.basis is not None
    assert came.basis.after < fixed.basis.after


def test_only_as_many_vehicles_are_looked_at_as_teach_something_new() -> None:
    """A vehicle beyond the first 1 500 changes nothing; tried on a garage of vehicles with one span each."""
    first = [VehicleFacts(van(f"V{n:04}"), read(f"V{n:04}", [0, 900 + n], [0, 30], MeterUnit.KM)) for n in range(1500)]
    more = VehicleFacts(van("MORE"), read("MORE", [0, 9000], [0, 30], MeterUnit.KM))
    assert lesson([*first, more]).at_hand == lesson(first).at_hand
