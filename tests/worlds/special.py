"""Cases of their own: a booked tow, a known lay-up, towing and track use, and whichever of km and hours comes first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from scipy import special

from fleetcare.fleet.duty import DAILY, TOWING, TRACK, DutySplit
from fleetcare.quantities import DateSpan
from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.mix import mix_forecast
from fleetcare.usage.priors import Priors
from fleetcare.usage.running_days import RunningDays, season_days
from fleetcare.usage.trips import days_with_trips
from tests.worlds.cells import SURVEY_KM_PER_DAY, Cell, Visible, cell_of, remaining_km
from tests.worlds.methods import Ours
from tests.worlds.scores import CAP_DAYS, ZS, Floats, Scored, scored
from tests.worlds.world import Ints, World

N = 12
"""Readings in sight in all of these cases."""

TOW_KM, TOW_IN_DAYS = 900.0, 40
LAY_UP_IN_DAYS, LAY_UP_DAYS = 20, 120
WEAR = {DAILY: 1.0, TOWING: 2.0, TRACK: 5.0}
"""Wear of a km as against a daily one. Twice when towing: common practice, no source (severe service halves the
interval); five times on a track: invented."""


def _with_days(world: World, daily: Floats) -> World:
    """The same cars with other days in the panel."""
    return World.of(world.name, daily.astype(np.float32), world.in_service, world.dial_at_first)


def booked_tow(world: World, seen: Visible, ours: Ours, h: int = 91) -> tuple[Scored, Scored]:
    """(told, not told) of a tow of 900 km on the fortieth day ahead, which nobody can see in the readings."""
    daily = world.daily_km.astype(float)
    daily[np.arange(world.vehicles), seen.last - world.first + TOW_IN_DAYS] += TOW_KM
    cell = cell_of(_with_days(world, daily), seen, N, h)
    plain = ours.days(cell.visible, cell.remaining)
    after_tow = ours.days(cell.visible, cell.remaining - TOW_KM)
    trip_days = np.array([0.0, TOW_IN_DAYS + 1.0])
    both = np.stack((plain, after_tow), axis=2)
    told = np.array([days_with_trips(both[:, row], trip_days) for row in range(world.vehicles)]).T
    return scored(told, cell.truth, h), scored(plain, cell.truth, h)


def known_lay_up(world: World, seen: Visible, ours: Ours, h: int = 91) -> tuple[Scored, Scored]:
    """(told, not told) of 120 days laid up from the twentieth day ahead on."""
    daily = world.daily_km.astype(float)
    begin = seen.last - world.first + LAY_UP_IN_DAYS
    places = np.arange(daily.shape[1])[None, :]
    daily[(places >= begin[:, None]) & (places < begin[:, None] + LAY_UP_DAYS)] = 0.0
    cell = cell_of(_with_days(world, daily), seen, N, h)
    operational = ours.law(cell.visible).days_to(cell.remaining, ZS)
    told = np.empty_like(operational)
    season = season_days(ours.priors.season)
    for row, last in enumerate(seen.last):
        first = date.fromordinal(int(last) + LAY_UP_IN_DAYS)
        clock = RunningDays.of(season, [DateSpan(first, date.fromordinal(first.toordinal() + LAY_UP_DAYS))])
        told[:, row] = clock.ordinals_at(clock.at(float(last)) + operational[:, row]) - last
    return scored(told, cell.truth, h), scored(ours.calendar_days(cell.visible, operational), cell.truth, h)


@dataclass(frozen=True, slots=True)
class Duties:
    """Km of each day by duty; towing comes in fortnights, a track day now and then; (vehicles, days) each."""

    daily: Floats
    towing: Floats
    track: Floats

    @classmethod
    def of(cls, world: World, seed: int = 31) -> Duties:
        """Duties laid over the days of a world: each car tows its own share of fortnights, a third go to the track."""
        rng = np.random.default_rng([seed, 3])
        count, days = world.daily_km.shape
        share = rng.beta(1.5, 4.0, (count, 1))
        fortnight = rng.random((count, days // 14 + 1)) < share
        tows = fortnight[:, np.arange(days) // 14]
        racer = rng.random((count, 1)) < 1 / 3
        track = np.where((rng.random((count, days)) < 0.6 / 30) & racer, rng.uniform(80.0, 220.0, (count, days)), 0.0)
        km = world.daily_km.astype(float)
        return cls(np.where(tows, 0.0, km), np.where(tows, km, 0.0), track)

    @property
    def km(self) -> Floats:
        """All km."""
        return np.asarray(self.daily + self.towing + self.track)

    @property
    def wear_km(self) -> Floats:
        """Equivalent km: each duty by its wear."""
        return np.asarray(WEAR[DAILY] * self.daily + WEAR[TOWING] * self.towing + WEAR[TRACK] * self.track)


def _sums(daily: Floats, first: int, ordinals: Ints) -> Floats:
    """(n, k) sums up to the start of these days."""
    through = np.zeros((daily.shape[0], daily.shape[1] + 1))
    np.cumsum(daily, axis=1, out=through[:, 1:])
    return np.asarray(through[np.arange(daily.shape[0])[None, :], ordinals - first])


def duty_mix(world: World, seen: Visible, ours: Ours, h: int = 365) -> dict[str, Scored]:
    """Ways to reckon with duties, for a service just done whose interval seems a year away.

    The split of every increment is in sight. An interval of r equivalent km ends when the wear reaches r.
    """
    duties = Duties.of(world)
    visible = seen.newest(N)
    by_duty = {
        duty: _sums(part, world.first, visible.ordinals)
        for duty, part in ((DAILY, duties.daily), (TOWING, duties.towing), (TRACK, duties.track))
    }
    km = Visible(visible.ordinals, sum(by_duty.values(), np.zeros_like(visible.km)), visible.in_service)
    worn = Visible(visible.ordinals, sum((WEAR[d] * v for d, v in by_duty.items()), 0 * visible.km), visible.in_service)
    mean_wear = float((worn.km[-1] - worn.km[0]).sum() / (km.km[-1] - km.km[0]).sum())
    remaining = remaining_km(worn, h, SURVEY_KM_PER_DAY * mean_wear)
    truth = _with_days(world, duties.wear_km).days_until(visible.last, remaining)

    def judged(days: Floats) -> Scored:
        return scored(days, truth, h)

    wear_meter = replace(ours, priors=replace(ours.priors, m0=ours.priors.m0 + float(np.log(mean_wear))))
    shares = _by_shares(by_duty, km, remaining, ours)
    return {
        "equivalent km as a meter": judged(wear_meter.days(worn, remaining)),
        "km, and the duties as uncertain shares": judged(shares),
        "duty ignored, the fleet's mean wear for all": judged(ours.days(km, remaining / mean_wear)),
        "duty ignored, plain km": judged(ours.days(km, remaining)),
    }


def _by_shares(by_duty: dict[str, Floats], km: Visible, remaining: Floats, ours: Ours) -> Floats:
    """Everyday km ahead, divided over duties by a Dirichlet law around what was seen and the fleet's own split."""
    seen = {duty: value[-1] - value[0] for duty, value in by_duty.items()}
    usual = DutySplit.from_parts({duty: float(value.sum()) for duty, value in seen.items()})
    count = len(remaining)
    mean, unsure = np.empty(count), np.empty(count)
    for row in range(count):
        mix = mix_forecast(usual, {duty: float(value[row]) for duty, value in seen.items()}, ours.priors)
        mean[row], unsure[row] = mix.wear_moments(WEAR)
    spread = np.log1p(unsure)
    law = DistanceLaw.of(ours.state(km), ours.priors, shift=-spread / 2.0, spread=spread)
    return ours.calendar_days(km, law.days_to(remaining / mean, ZS))


IDLING_H_PER_KM = 0.002
"""Hours that idling adds to each km, beside those of driving; invented, as are the speeds."""


def km_or_hours(world: World, seen: Visible, ours: Ours, h: int) -> tuple[Scored, Scored]:
    """(smaller quantile of the two meters, the two taken for independent) when the first of km and hours counts.

    Speed differs from car to car and wanders from month to month; the hour meter is read with the odometer. The
    limits are set so that each seems h days away.
    """
    rng = np.random.default_rng([41, h])
    count, days = world.daily_km.shape
    speed = rng.gamma(25.0, 35.0 / 25.0, (count, 1)) * rng.gamma(30.0, 1 / 30.0, (count, days // 30 + 1))
    daily_hours = world.daily_km * (1.0 / speed[:, np.arange(days) // 30] + IDLING_H_PER_KM)
    visible = seen.newest(N)
    hours = Visible(visible.ordinals, np.floor(_sums(daily_hours, world.first, visible.ordinals)), visible.in_service)
    by_km: Cell = cell_of(world, seen, N, h)
    hour_priors: Priors = replace(ours.priors, m0=ours.priors.m0 - float(np.log(ours.priors.mean_speed_km_per_h)))
    of_hours = replace(ours, priors=hour_priors)
    left_h = remaining_km(hours, h, SURVEY_KM_PER_DAY / ours.priors.mean_speed_km_per_h)
    unseen = _sums(daily_hours, world.first, visible.ordinals)[-1] - hours.km[-1]
    truth_h = _with_days(world, daily_hours).days_until(visible.last, left_h - unseen)
    truth = np.minimum(by_km.truth, truth_h)
    smaller = np.minimum(ours.days(visible, by_km.remaining), of_hours.days(hours, left_h))
    apart = _first_of_independent((ours.law(visible), by_km.remaining), (of_hours.law(hours), left_h), np.asarray(ZS))
    return scored(smaller, truth, h), scored(ours.calendar_days(visible, apart), truth, h)


def _first_of_independent(one: tuple[DistanceLaw, Floats], other: tuple[DistanceLaw, Floats], levels: Floats) -> Floats:
    """(levels, k) operational days at which 1 - (1 - F1)(1 - F2) reaches each level, by bisection."""
    wanted = special.ndtr(levels)[:, None]
    shape = (len(levels), len(one[1]))
    low, high = np.full(shape, np.log(0.1)), np.full(shape, np.log(4 * CAP_DAYS))
    for _ in range(24):
        middle = (low + high) / 2
        reached = np.empty(shape)
        for row in range(shape[0]):
            u = np.exp(middle[row])
            before = [special.ndtr(-law.z_at(u, distance)) for law, distance in (one, other)]
            reached[row] = 1.0 - before[0] * before[1]
        high = np.where(reached >= wanted, middle, high)
        low = np.where(reached >= wanted, low, middle)
    return np.asarray(np.exp((low + high) / 2))


def bias(result: Scored) -> float:
    """Median of likely less true, days."""
    return float(np.median(result.error))
