"""What is said of a vehicle as a whole: reckoned dial, pace, readings wanted and readings held."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import ReadingWanted
from fleetcare.due.pace import TrackPace
from fleetcare.due.track import Track
from fleetcare.meter.checking import dial_from_true
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.usage.priors import Priors

YEAR_DAYS = 365


def reckoned_dial(pace: TrackPace | None, today: date) -> Decimal | None:
    """What the odometer shows today on the likely course, whole units of its own dial; None without a reading."""
    if pace is None or pace.track.checked is None:
        return None
    return dial_from_true(pace.track.checked, pace.reckoned(float(today.toordinal())), today)


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
