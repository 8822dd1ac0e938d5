"""The way of one meter through time: true distance by day with its duties, made ready for the pace filter."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fleetcare.due.facts import Trip, VehicleFacts, trips_of
from fleetcare.due.meter_walk import PaceStart, pace_start, read_meter
from fleetcare.fleet.booking import CHANGED_HANDS
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.meter.checking import CheckedMeter, dial_value
from fleetcare.quantities import DistanceUnit, MeterUnit, km_from
from fleetcare.usage.mix import MixForecast, mix_forecast
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_clock import NO_SEASON, SingleClock
from fleetcare.usage.standing import spells_passed_over
from fleetcare.wear.distance_limit import UsedSpan

Floats = npt.NDArray[np.float64]

TRIP_PART = 0.9
"""A declared trip explains at most this part of what the dial gained: the booking is a guess, the dial is not."""


@dataclass(frozen=True, slots=True)
class Track:
    """n points of one meter, at least one, oldest first.

    ordinals, amounts: (n,) day and true distance (km) or hours, never falling. splits: n, duties of the span that ends
    at the point. said: n, whether somebody said so. everyday: (n-1,) what each span gained without declared trips.
    running: (n-1,) its operational days. trips: declared ones, past and to come. from_bookings: no meter, the distance
    is that of its bookings. anchored: the first point is the in-service date, not a reading. is_named: m0 and s0 come
    from a yearly distance that its people named. new_hands: spans (their indices; n-1 is the one to come) before which
    the vehicle came into other hands. passed_over: spans of a spell in which it stood, which is over.
    """

    meter: Meter | None
    checked: CheckedMeter | None
    clock: SingleClock
    ordinals: npt.NDArray[np.int64]
    amounts: Floats
    splits: tuple[DutySplit, ...]
    said: tuple[bool, ...]
    everyday: Floats
    running: Floats
    trips: tuple[Trip, ...]
    m0: float
    s0: float
    from_bookings: bool = False
    anchored: bool = False
    is_named: bool = False
    new_hands: frozenset[int] = frozenset()
    passed_over: frozenset[int] = frozenset()

    @property
    def last_ordinal(self) -> int:
        """Day of the last point."""
        return int(self.ordinals[-1])

    @property
    def last_amount(self) -> float:
        """True distance or hours at the last point."""
        return float(self.amounts[-1])

    @property
    def is_hours(self) -> bool:
        """True if it counts running hours."""
        return self.meter is not None and self.meter.unit is MeterUnit.HOURS

    def running_since_last(self, ordinal: float) -> float:
        """Operational days from the last point to the start of that day; nought before it."""
        return max(0.0, self.clock.at(ordinal) - self.clock.at(self.last_ordinal))

    def trips_ahead(self) -> tuple[Trip, ...]:
        """Trips after the last point."""
        return tuple(trip for trip in self.trips if trip.ordinal > self.last_ordinal)

    def spans_since(self, amount: float, usual: DutySplit) -> list[tuple[int, UsedSpan]]:
        """(index of the point at its end, span) of what was gained after `amount`; index 0: before the first point."""
        amounts = self.amounts.tolist()
        first = bisect_right(amounts, amount)
        before = amount if first else min(amount, amounts[0])
        found = []
        for index in range(first, len(amounts)):
            gained = amounts[index] - max(before, amount)
            if gained > 0:
                found.append((index, UsedSpan(gained, self.splits[index] if index else usual)))
            before = amounts[index]
        return found

    def has_stood(self, days: int) -> bool:
        """True if the last three points or more, over so many days, show no gain at all."""
        last = float(self.amounts[-1])
        still = len(self.amounts)
        while still and self.amounts[still - 1] >= last:
            still -= 1
        alike = len(self.amounts) - still
        return alike >= 3 and self.last_ordinal - int(self.ordinals[still]) >= days and not self.trips_ahead()


def distance_track(facts: VehicleFacts, priors: Priors, today: date) -> Track | None:
    """The distance of a vehicle up to today, None if there is nothing to go by.

    From its odometer or hub odometer; without one from the bookings that name it and say a distance.
    """
    vehicle = facts.vehicle
    trips = trips_of(facts)
    start = pace_start(vehicle, priors)
    meter = vehicle.odometer
    if meter is None:
        return _track_of_bookings(vehicle, trips, priors, today, start)
    checked = read_meter(facts, meter, priors, as_of=today)
    return _track_of_readings(facts, meter, checked, trips, priors, start)


def hours_track(facts: VehicleFacts, priors: Priors, today: date) -> Track | None:
    """The running hours of a vehicle up to today; None without an hour meter or a reading of it."""
    vehicle = facts.vehicle
    meter = vehicle.hour_meter
    if meter is None:
        return None
    checked = read_meter(facts, meter, priors, as_of=today)
    return _track_of_readings(facts, meter, checked, (), priors, pace_start(vehicle, priors, is_hours=True))


def mix_of(track: Track | None, usual: DutySplit, priors: Priors) -> MixForecast:
    """How everyday distance ahead divides over duties: the splits of the last year, without declared trips."""
    seen: dict[str, float] = {}
    if track is not None:
        since = track.last_ordinal - priors.mix_memory_days
        for index in range(1, len(track.ordinals)):
            if track.said[index] and track.ordinals[index] > since:
                gained = float(track.amounts[index] - track.amounts[index - 1])
                for duty, share in track.splits[index].shares:
                    seen[duty] = seen.get(duty, 0.0) + gained * share
                if not track.from_bookings:
                    for trip in _within(track.trips, track.ordinals[index - 1], track.ordinals[index]):
                        for duty, share in trip.split.shares:
                            seen[duty] = max(0.0, seen.get(duty, 0.0) - trip.km * share)
    return mix_forecast(usual, seen, priors)


def _track_of_readings(
    facts: VehicleFacts,
    meter: Meter,
    checked: CheckedMeter,
    trips: Sequence[Trip],
    priors: Priors,
    begin: PaceStart,
) -> Track | None:
    if checked.last is None:
        return None
    vehicle = facts.vehicle
    usual = vehicle.usual_split
    ordinals, amounts = checked.ordinals, checked.distances
    splits = [split or usual for split in checked.splits]
    said = [split is not None for split in checked.splits]
    anchored = False
    delivery = delivery_amount(meter)
    if vehicle.in_service_on is not None:
        start = vehicle.in_service_on.toordinal()
        anchored = int(ordinals[0]) - start >= priors.anchor_min_days and delivery <= float(amounts[0])
        if anchored:
            ordinals = np.concatenate(([start], ordinals))
            amounts = np.concatenate(([delivery], amounts))
            splits = [usual, usual, *splits[1:]]
            said = [False, False, *said[1:]]
    clock = SingleClock.of(priors.season, vehicle.laid_up)
    everyday = np.diff(amounts)
    for index in range(1, len(ordinals)):
        if anchored and index == 1:
            continue
        inside = _within(trips, ordinals[index - 1], ordinals[index])
        if inside:
            gained = float(everyday[index - 1])
            declared = min(sum(trip.km for trip in inside), TRIP_PART * gained)
            everyday[index - 1] = gained - declared
            if not said[index] and gained > 0:
                splits[index] = _split_with_trips(inside, gained, usual)
                said[index] = any(trip.says_duty for trip in inside)
    running = np.diff([clock.at(day) for day in ordinals.tolist()])
    return Track(
        meter=meter,
        checked=checked,
        clock=clock,
        ordinals=ordinals,
        amounts=amounts,
        splits=tuple(splits),
        said=tuple(said),
        everyday=everyday,
        running=running,
        trips=tuple(trips),
        m0=begin.m0,
        s0=begin.s0,
        anchored=anchored,
        is_named=begin.is_named,
        new_hands=_new_hands(facts, ordinals),
        passed_over=spells_passed_over(everyday.tolist(), _days_at_hand(ordinals, vehicle)),
    )


def _days_at_hand(ordinals: npt.NDArray[np.int64], vehicle: Vehicle) -> list[float]:
    """Days of each span on which the vehicle was not laid up, every month alike."""
    clock = SingleClock.of(NO_SEASON, vehicle.laid_up)
    return [after - before for before, after in pairwise(clock.at(day) for day in ordinals.tolist())]


def _new_hands(facts: VehicleFacts, ordinals: npt.NDArray[np.int64]) -> frozenset[int]:
    """The spans before which the vehicle came into other hands; a change inside a span counts for the next one."""
    days = [event.on.toordinal() for event in facts.events if event.kind == CHANGED_HANDS and not event.component]
    inside = [day for day in days if day >= int(ordinals[0])]
    return frozenset(int(np.searchsorted(ordinals, day, side="left")) for day in inside)


def _track_of_bookings(
    vehicle: Vehicle, trips: tuple[Trip, ...], priors: Priors, today: date, begin: PaceStart
) -> Track | None:
    """Points at the ends of past bookings. The first of this month is one more, so that standing idle is seen."""
    if not trips:
        return None
    now = today.toordinal()
    past = [trip for trip in trips if trip.ordinal <= now]
    first = vehicle.entered_on.toordinal() if vehicle.entered_on else now
    first = min([first, now, *(trip.ordinal - 1 for trip in past[:1])])
    amounts_by_day: dict[int, float] = {first: 0.0}
    parts_by_day: dict[int, dict[str, float]] = {}
    said_by_day: dict[int, bool] = {}
    total = 0.0
    for trip in past:
        total += trip.km
        amounts_by_day[trip.ordinal] = total
        parts = parts_by_day.setdefault(trip.ordinal, {})
        for duty, share in trip.split.shares:
            parts[duty] = parts.get(duty, 0.0) + share * trip.km
        said_by_day[trip.ordinal] = said_by_day.get(trip.ordinal, False) or trip.says_duty
    month = today.replace(day=1).toordinal()
    if month - max(amounts_by_day) > priors.reading_wanted_after_days:
        amounts_by_day[month] = total
    days = sorted(amounts_by_day)
    ordinals = np.array(days, dtype=np.int64)
    amounts = np.array([amounts_by_day[day] for day in days])
    clock = SingleClock.of(priors.season, vehicle.laid_up)
    return Track(
        meter=None,
        checked=None,
        clock=clock,
        ordinals=ordinals,
        amounts=amounts,
        splits=tuple(
            DutySplit.from_parts(parts_by_day[day]) if day in parts_by_day else vehicle.usual_split for day in days
        ),
        said=tuple(said_by_day.get(day, False) for day in days),
        everyday=np.diff(amounts),
        running=np.diff([clock.at(day) for day in ordinals.tolist()]),
        trips=trips,
        m0=begin.m0,
        s0=begin.s0,
        from_bookings=True,
        is_named=begin.is_named,
    )


def delivery_amount(meter: Meter) -> float:
    """What the meter showed on the in-service date, km or hours."""
    dial = dial_value(meter.delivery_value, meter.unit, meter)
    distance = meter.unit.distance
    return dial if distance is None else km_from(dial, DistanceUnit(distance))


def km_by_duty(spans: Sequence[UsedSpan]) -> Mapping[str, float]:
    """Km under each duty, in order of duty."""
    found: dict[str, float] = {}
    for span in spans:
        for duty, share in span.split.shares:
            found[duty] = found.get(duty, 0.0) + share * span.km
    return dict(sorted(found.items()))


def _within(trips: Sequence[Trip], after: float, until: float) -> list[Trip]:
    return [trip for trip in trips if after < trip.ordinal <= until]


def _split_with_trips(trips: Sequence[Trip], gained: float, usual: DutySplit) -> DutySplit:
    """Declared trips by their own duty, the rest as usual."""
    declared = sum(trip.km for trip in trips)
    scale = min(1.0, gained / declared)
    parts = {duty: share * max(0.0, gained - declared) for duty, share in usual.shares}
    for trip in trips:
        for duty, share in trip.split.shares:
            parts[duty] = parts.get(duty, 0.0) + share * trip.km * scale
    return DutySplit.from_parts(parts)
