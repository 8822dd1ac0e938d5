"""What a meter is expected to have gained by some day, for judging a reading before it is saved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.pace import paces_of
from fleetcare.due.track import distance_track, hours_track
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.usage.priors import Priors
from fleetcare.wording import counted, distance_words, whole

_Z_OUTER = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True, slots=True)
class ExpectedUse:
    """What a meter is expected to gain from its last used reading to a day, km or hours.

    low, high: 2.5 and 97.5 % of the forecast, declared trips in the high end; likely: the likely course.
    """

    low: float
    likely: float
    high: float
    days: int
    is_hours: bool

    def sentence(self, unit: DistanceUnit) -> str:
        """`Expected in 33 days: about 845 mi, between 400 and 1 700 mi.`"""

        def words(value: float) -> str:
            return f"{whole(value)} h" if self.is_hours else distance_words(value, unit)

        low = words(self.low).rsplit(" ", 1)[0]
        span = f"about {words(self.likely)}, between {low} and {words(self.high)}"
        return f"Expected in {counted(self.days, 'day')}: {span}."


def expected_use(facts: VehicleFacts, on: date, priors: Priors, meter: str = "") -> ExpectedUse | None:
    """What a meter is expected to gain until `on` since the last used reading on a day before.

    meter: its key; empty means the odometer, or the hour meter if there is none.
    None if there is no such reading.
    """
    vehicle = facts.vehicle
    usual = vehicle.odometer or vehicle.hour_meter
    chosen = next((m for m in vehicle.meters if m.key == meter), None) if meter else usual
    if chosen is None:
        return None
    alone = replace(facts, vehicle=replace(vehicle, meters=(chosen,)))
    until = on - timedelta(days=1)
    is_hours = chosen.unit is MeterUnit.HOURS
    track = hours_track(alone, priors, until) if is_hours else distance_track(alone, priors, until)
    if track is None or track.checked is None:
        return None
    pace = paces_of([track], priors).of[0]
    running = track.running_since_last(on.toordinal())
    trips = sum(trip.km for trip in track.trips_ahead() if trip.ordinal <= on.toordinal())
    return ExpectedUse(
        low=pace.gain(running, -_Z_OUTER),
        likely=pace.gain(running) + trips,
        high=pace.gain(running, _Z_OUTER) + trips,
        days=on.toordinal() - track.last_ordinal,
        is_hours=is_hours,
    )


def expected_gain(facts: VehicleFacts, on: date, priors: Priors, meter: str = "") -> tuple[float, float] | None:
    """(low, high) true distance in km (hours for an hour meter) for `judge_reading`: 2.5 and 97.5 % with a margin.

    None if no used reading lies before that day.
    """
    use = expected_use(facts, on, priors, meter)
    if use is None:
        return None
    extra = priors.gain_margin_km / (priors.mean_speed_km_per_h if use.is_hours else 1.0)
    return use.low / priors.gain_margin, use.high * priors.gain_margin + extra
