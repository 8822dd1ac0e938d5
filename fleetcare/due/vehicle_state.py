"""What is said of a vehicle as a whole: reckoned dial, pace, readings wanted and held, whether it stands."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.limit import LAST_DAY
from fleetcare.due.outlook import ReadingWanted, StoodStill
from fleetcare.due.pace import TrackPace, paces_of
from fleetcare.due.track import Track, distance_track
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.checking import dial_from_true
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DateSpan
from fleetcare.usage.priors import Priors

YEAR_DAYS = 365
STILL_READINGS = 3
STILL_DAYS = 40
"""A dial that shows the same in so many readings over so many days is asked about. Common practice, no source: two
readings alike are often one that was copied, and a month without use is a holiday."""
UNTIL_FURTHER_NOTICE = LAST_DAY
"""End of a spell whose end nobody knows: where the forecast ends, so that no date by use comes before."""
OPEN_FROM_YEAR = LAST_DAY.year - 10
"""A spell that ends so late has an open end: files may have been moved by some years with everything in them."""


def reckoned_dial(pace: TrackPace | None, today: date) -> Decimal | None:
    """What the odometer shows today on the likely course, whole units of its own dial; None without a reading."""
    if pace is None or pace.track.checked is None:
        return None
    return dial_from_true(pace.track.checked, pace.reckoned(float(today.toordinal())), today)


def dial_by_reckoning(facts: VehicleFacts, priors: Priors, today: date) -> Decimal | None:
    """The same from the facts alone, without working any line out."""
    track = distance_track(facts, priors, today)
    return reckoned_dial(paces_of([track], priors).of[0], today) if track is not None else None


def pace_with_trips(pace: TrackPace | None) -> float | None:
    """Km a day: everyday use over the next quarter, and declared trips as in the year before the last reading."""
    if pace is None:
        return None
    track = pace.track
    if track.from_bookings:
        return pace.everyday_per_day
    begin = max(track.last_ordinal - YEAR_DAYS, int(track.ordinals[1 if track.anchored else 0]))
    days = track.last_ordinal - begin
    if days <= 0:
        return pace.everyday_per_day
    trips = sum(trip.km for trip in track.trips if begin < trip.ordinal <= track.last_ordinal)
    gained = float(track.amounts[-1]) - pace.amount_on(begin).value
    return pace.everyday_per_day + min(trips, gained) / days


def reading_wanted(facts: VehicleFacts, track: Track | None, priors: Priors, today: date) -> ReadingWanted | None:
    """Set if the last used reading of the odometer is older than the four weeks of the priors, or there is none.

    Not while the vehicle is laid up, nor once it is out of the fleet.
    """
    vehicle = facts.vehicle
    meter = vehicle.odometer
    gone = vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on <= today
    if meter is None or gone or any(today in spell for spell in vehicle.laid_up):
        return None
    last = track.checked.last if track is not None and track.checked is not None else None
    if last is None:
        return ReadingWanted(meter.key, min(vehicle.entered_on or today, today), None, None)
    since = last.on + timedelta(days=priors.reading_wanted_after_days + 1)
    # Nobody can read a dial of a vehicle that stands: the wait begins again when it is let out.
    let_out = [spell.end for spell in vehicle.laid_up if spell.first <= since and last.on < spell.end <= today]
    since = max([since, *let_out])
    return ReadingWanted(meter.key, since, last.on, last.value) if today >= since else None


def has_open_end(spell: DateSpan) -> bool:
    """True if nobody has said when the spell ends."""
    return spell.end.year >= OPEN_FROM_YEAR


def spell_on(vehicle: Vehicle, day: date) -> DateSpan | None:
    """The spell in which the vehicle is laid up on that day, None if it runs."""
    return next((spell for spell in sorted(vehicle.laid_up) if day in spell), None)


def laid_up_days(vehicle: Vehicle, begin: float, end: float) -> float:
    """Calendar days between two ordinals on which the vehicle is laid up; a day in two spells counts once."""
    days, until = 0.0, begin
    for spell in sorted(vehicle.laid_up):
        first, last = max(float(spell.first.toordinal()), until), min(float(spell.end.toordinal()), end)
        if last > first:
            days += last - first
            until = last
    return days


def stood_still(facts: VehicleFacts, tracks: Iterable[Track | None], today: date) -> StoodStill | None:
    """Set if a dial shows the same in three readings or more over 40 days, and nobody said that it is laid up.

    Readings before the end of a spell that was told do not count: that question is answered. Nor does a meter that
    stands while another one of the vehicle runs; such a vehicle is used where it stands. The odometer is asked first.
    """
    vehicle = facts.vehicle
    if spell_on(vehicle, today) or (vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on <= today):
        return None
    at_hand = [track for track in tracks if track is not None and track.checked is not None]
    for track in at_hand:
        found = _alike(track, vehicle)
        others = [other for other in at_hand if other is not track]
        if found is not None and not any(_gained_since(other, found.since) for other in others):
            return found
    return None


def moved_while_laid_up(facts: VehicleFacts, tracks: Iterable[Track | None], today: date) -> Reading | None:
    """The newest reading that gained inside the spell of today: then it runs, and somebody forgot to let it out."""
    spell = spell_on(facts.vehicle, today)
    if spell is None:
        return None
    for track in tracks:
        if track is None or track.checked is None:
            continue
        known = zip(track.checked.readings, track.checked.distances, strict=True)
        inside = [(reading, amount) for reading, amount in known if reading.on in spell]
        if inside and inside[-1][1] > inside[0][1]:
            return inside[-1][0]
    return None


def _alike(track: Track, vehicle: Vehicle) -> StoodStill | None:
    """The newest readings of the meter that show no gain, if they are enough."""
    checked, meter = track.checked, track.meter
    assert checked is not None  # the caller saw to it
    assert meter is not None
    alike = [
        reading
        for reading, amount in zip(checked.readings, checked.distances, strict=True)
        if amount >= checked.distances[-1]
    ]
    last = alike[-1]
    told = [spell.end for spell in vehicle.laid_up if spell.first <= last.on and spell.end > alike[0].on]
    asked = [reading for reading in alike if all(reading.on >= end for end in told)]
    if len(asked) < STILL_READINGS or (last.on - asked[0].on).days < STILL_DAYS:
        return None
    return StoodStill(meter.key, asked[0].on, last.on, len(asked), last.value, last.unit)


def _gained_since(track: Track, day: date) -> bool:
    before = [amount for on, amount in zip(track.ordinals, track.amounts, strict=True) if on <= day.toordinal()]
    return bool(before) and track.last_amount > float(before[-1])


def held_readings(facts: VehicleFacts, *tracks: Track | None) -> tuple[Reading, ...]:
    """Readings kept aside: those in state held, and those that count as used but do not fit the others; by day."""
    held = [reading for reading in facts.readings if reading.state is ReadingState.HELD]
    misfits = [
        finding.reading
        for track in tracks
        if track is not None and track.checked is not None
        for finding in track.checked.findings
    ]
    return tuple(sorted([*held, *misfits], key=lambda r: (r.on, r.meter, r.entered_at, r.id or 0)))
