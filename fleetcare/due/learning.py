"""What a garage's own readings teach about its paces: how much there is to go by, and the numbers that follow."""

from __future__ import annotations

import hashlib
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from statistics import median

import numpy as np
import numpy.typing as npt

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.track import Track, distance_track
from fleetcare.quantities import DAYS_PER_YEAR, DateSpan
from fleetcare.usage.fitting import MOST_SPANS, Progress, Trial, Uses, fit_numbers
from fleetcare.usage.learned import FitBasis, FleetNumbers
from fleetcare.usage.priors import Priors
from fleetcare.usage.running_days import RunningDays, SeasonDays, season_days
from fleetcare.usage.season_fit import PLAIN_YEAR, Months, estimate_months

Floats = npt.NDArray[np.float64]

MOST_VEHICLES = 1500
"""More teach nothing new: on simulated cars 400 vehicles come within a half per cent of 1 500."""
ENOUGH_VEHICLES, ENOUGH_READINGS = 20, 3
"""So many vehicles with so many readings make a fit this garage's own ..."""
ENOUGH_MEDIAN = 12
"""... or so many readings of the middle vehicle. On simulated cars the shipped numbers are as good with fewer."""
MANY_VEHICLES, ONE_IN = 250, 5
"""Numbers are tried out on vehicles they were not learned from. Of so many, one in five is left out for that; of fewer,
each half is foretold with the numbers of the other half, and the numbers that count are learned from all."""
SHORTEST_DAYS, LONGEST_DAYS = 7.0, 28.0
"""Spans are joined until they last so long: the first always, because within a week it is the days of the week that
speak; up to the second where there are more spans than are looked at, so that they reach back two years."""

_MONTH_DAYS = DAYS_PER_YEAR / 12.0


@dataclass(frozen=True, slots=True)
class AtHand:
    """What there is to learn from. vehicles: with an odometer. learned_from: with a span at least.

    with_three: with `ENOUGH_READINGS` used readings or more. median: used readings of the middle vehicle. months: from
    the first reading to the last.
    """

    vehicles: int
    learned_from: int
    readings: int
    months: int
    with_three: int
    median: float

    @property
    def is_enough(self) -> bool:
        """A fit counts as this garage's own."""
        return self.learned_from > 0 and (self.with_three >= ENOUGH_VEHICLES or self.median >= ENOUGH_MEDIAN)


@dataclass(frozen=True, slots=True)
class Lesson:
    """What came of it. basis: None if there is not enough; then numbers is None as well.

    numbers: None with a basis if the shipped numbers serve as well. before: the numbers they were held against.
    """

    at_hand: AtHand
    before: FleetNumbers
    basis: FitBasis | None = None
    numbers: FleetNumbers | None = None


def in_fixed_order(marks: Iterable[str]) -> list[str]:
    """The marks in an order that says nothing about the vehicles and is always the same: by the hash of the mark."""
    return sorted(marks, key=lambda mark: (hashlib.sha256(mark.encode("utf-8")).digest(), mark))


def teaches(facts: VehicleFacts) -> bool:
    """True for vehicles that can be learned from: those with a meter that counts distance."""
    return facts.vehicle.odometer is not None


def learn(
    fleet: Sequence[VehicleFacts],
    shipped: Priors,
    today: date,
    *,
    fixed: frozenset[str] = frozenset(),
    progress: Progress | None = None,
) -> Lesson:
    """The numbers that foretell the later readings of these vehicles best from their earlier ones.

    fleet: in `in_fixed_order`; of those that teach, the first `MOST_VEHICLES` are looked at. shipped: the numbers to
    start from and to be drawn to. fixed: numbers that the garage set itself and that stay. First the season is
    learned, then the numbers on its clock. They count if they do better than `shipped` on vehicles whose readings took
    no part in learning them; where there is one vehicle only, on that one. Hour meters and distances known from
    bookings alone take no part. The same in, the same out.
    """
    plain = replace(shipped, fitted=False, fitted_words="")
    met = [each for each in fleet if teaches(each)][:MOST_VEHICLES]
    tracks = [(each, distance_track(each, plain, today)) for each in met]
    read = [
        len(track.checked.readings) if track is not None and track.checked is not None else 0 for _, track in tracks
    ]
    known = [(each, track) for each, track in tracks if track is not None and np.any(track.everyday > 0)]
    at_hand = _at_hand(read, known)
    before = FleetNumbers.of(plain)
    if not at_hand.is_enough:
        return Lesson(at_hand, before)
    tell = progress or (lambda done, of: None)

    before_uses = _uses(known, plain)
    season = None if "season" in fixed else estimate_months(_months(known), plain.season)
    ready = plain
    uses = before_uses
    if season is not None:
        seasonal = replace(plain, season=season)
        on_own_clock = _uses(known, seasonal)
        if Trial(on_own_clock).score(seasonal) < Trial(before_uses).score(plain):
            ready, uses = seasonal, on_own_clock
    found = _search(uses, ready, fixed, tell)
    score_before, score_after = Trial(before_uses).score(plain), Trial(uses).score(found.numbers)
    others_before = _mean_score([(before_uses.some(which), plain) for which, _ in found.on_others])
    others_after = _mean_score([(uses.some(which), numbers) for which, numbers in found.on_others])
    basis = FitBasis(
        vehicles=at_hand.learned_from,
        readings=at_hand.readings,
        months=at_hand.months,
        before=score_before,
        after=score_after,
        others_before=others_before,
        others_after=others_after,
        season=ready.season != plain.season,
    )
    is_better = others_after < others_before and score_after < score_before
    return Lesson(at_hand, before, basis, FleetNumbers.of(found.numbers) if is_better else None)


@dataclass(frozen=True, slots=True)
class _Found:
    """Numbers, and which vehicles are foretold by which numbers, learned without them (of one vehicle: with it)."""

    numbers: Priors
    on_others: tuple[tuple[npt.NDArray[np.bool_], Priors], ...]


def _search(uses: Uses, start: Priors, fixed: frozenset[str], tell: Progress) -> _Found:
    count = uses.vehicles
    place = np.arange(count)

    def fitted(which: npt.NDArray[np.bool_], search: int, of: int) -> Priors:
        part = uses.some(which)
        return fit_numbers(
            Trial(part),
            start,
            vehicles=part.vehicles,
            fixed=fixed,
            progress=lambda done, most: tell(search * most + done, of * most),
        )

    if count >= MANY_VEHICLES:
        left_out = place % ONE_IN == 0
        numbers = fitted(~left_out, 0, 1)
        return _Found(numbers, ((left_out, numbers),))
    everybody = np.full(count, True)
    if count < 2:
        numbers = fitted(everybody, 0, 1)
        return _Found(numbers, ((everybody, numbers),))
    half = place % 2 == 0
    return _Found(fitted(everybody, 0, 3), ((half, fitted(~half, 1, 3)), (~half, fitted(half, 2, 3))))


def _mean_score(parts: Sequence[tuple[Uses, Priors]]) -> float:
    trials = [(Trial(uses), priors) for uses, priors in parts]
    forecasts = sum(trial.forecasts for trial, _ in trials)
    return sum(trial.score(priors) * trial.forecasts for trial, priors in trials) / max(1, forecasts)


def _at_hand(read: Sequence[int], known: Sequence[tuple[VehicleFacts, Track]]) -> AtHand:
    days = [(int(track.ordinals[1 if track.anchored else 0]), track.last_ordinal) for _, track in known]
    covered = max((last for _, last in days), default=0) - min((first for first, _ in days), default=0)
    return AtHand(
        vehicles=len(read),
        learned_from=len(known),
        readings=sum(len(track.checked.readings) for _, track in known if track.checked is not None),
        months=round(covered / _MONTH_DAYS),
        with_three=sum(1 for count in read if count >= ENOUGH_READINGS),
        median=float(median(read)) if read else 0.0,
    )


def _uses(known: Sequence[tuple[VehicleFacts, Track]], priors: Priors) -> Uses:
    return Uses.of([_use(facts, track, priors) for facts, track in known])


def _use(facts: VehicleFacts, track: Track, priors: Priors) -> tuple[Floats, Floats, Floats, float]:
    """Km, operational days and widening of the spans that are looked at, and the mean log rate that was named."""
    running = np.diff(RunningDays.of(season_days(priors.season), facts.vehicle.laid_up).at(track.ordinals))
    counts = running > 0
    # As the forecast does: a spell of rest that is over says nothing of how the vehicle runs.
    counts[list(track.passed_over)] = False
    km, days = track.everyday[counts], running[counts]
    changed = np.zeros(len(running))
    changed[[index for index in track.new_hands if index < len(running)]] = 1.0
    km, days, changed = _joined(km, days, changed[counts], anchored=track.anchored)
    wider = changed * priors.new_hands_s0**2
    return km[-MOST_SPANS:], days[-MOST_SPANS:], wider[-MOST_SPANS:], track.m0 if track.is_named else math.nan


def _joined(km: Floats, days: Floats, changed: Floats, *, anchored: bool) -> tuple[Floats, Floats, Floats]:
    """The same way in longer spans; see `SHORTEST_DAYS`. A span from the in-service date stays by itself."""
    first = 1 if anchored else 0
    shortest = SHORTEST_DAYS
    if len(days) > MOST_SPANS:
        shortest = min(LONGEST_DAYS, max(SHORTEST_DAYS, float(days[first:].sum()) / MOST_SPANS))
    if not np.any(days[first:] < shortest):
        return km, days, changed
    begins = list(range(min(first, len(days))))
    length = math.inf
    for index in range(first, len(days)):
        if length >= shortest:
            begins.append(index)
            length = 0.0
        length += float(days[index])
    if length < shortest and len(begins) > first + 1:
        begins.pop()  # what is left over at the end goes to the span before it
    at = np.array(begins, dtype=np.intp)
    return np.add.reduceat(km, at), np.add.reduceat(days, at), np.minimum(np.add.reduceat(changed, at), 1.0)


def _months(known: Sequence[tuple[VehicleFacts, Track]]) -> Months:
    """Calendar days by month of every span between two readings: days of a clock that runs in that month alone."""
    clocks = [SeasonDays.of(tuple(1.0 if month == this else 0.0 for month in range(12))) for this in range(12)]
    # Most vehicles are never laid up, so that one clock serves them all at once.
    alike: defaultdict[tuple[DateSpan, ...], list[int]] = defaultdict(list)
    for column, (facts, _) in enumerate(known):
        alike[tuple(facts.vehicle.laid_up)].append(column)
    vehicle, km, days = [np.zeros(0, dtype=np.int64)], [np.zeros(0)], [np.zeros((0, 12))]
    for laid_up, columns in alike.items():
        tracks = [known[column][1] for column in columns]
        whose = np.repeat(columns, [len(track.ordinals) for track in tracks])
        ordinals = np.concatenate([track.ordinals for track in tracks])
        from_anchor = np.concatenate([np.arange(len(track.ordinals)) < track.anchored for track in tracks])
        is_span = (whose[1:] == whose[:-1]) & ~from_anchor[:-1]
        by_month = [np.diff(RunningDays.of(clock, laid_up).at(ordinals))[is_span] for clock in clocks]
        vehicle.append(whose[1:][is_span].astype(np.int64))
        km.append(np.concatenate([np.concatenate(([0.0], track.everyday)) for track in tracks])[1:][is_span])
        days.append(np.column_stack(by_month) * (PLAIN_YEAR / 365.0))
    return Months(np.concatenate(vehicle), np.concatenate(km), np.concatenate(days))
