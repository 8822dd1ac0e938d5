"""Cheap changes to the forecast that were tried on all three grounds: `python -m tests.worlds.ideas`.

Each is laid over the program's own forecast, with fleet-fitted numbers; a change is worth making if it helps in one
world and harms in none.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetcare.quantities import DAYS_PER_YEAR
from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.pace_filter import assimilate, start
from tests.worlds import aircraft
from tests.worlds.aircraft import Flown
from tests.worlds.cells import READINGS, Cell
from tests.worlds.grid import Asked, Result
from tests.worlds.methods import Method, Ours
from tests.worlds.scores import CAP_DAYS, ZS, Floats
from tests.worlds.tables import figure, markdown


@dataclass(frozen=True, slots=True)
class LessWithAge:
    """Use falls by this share a year, from the middle of the last increment to the middle of what is ahead."""

    ours: Ours
    a_year: float

    def __call__(self, train: Cell, test: Cell) -> Floats:
        state = self.ours.state(test.visible)
        law = DistanceLaw.of(state, self.ours.priors)
        ahead = np.minimum(law.days_to(test.remaining, (0.0,))[0], CAP_DAYS)
        falling = replace(law, shift=-self.a_year * (state.back + ahead / 2.0) / DAYS_PER_YEAR)
        return self.ours.calendar_days(test.visible, falling.days_to(test.remaining, ZS))


@dataclass(frozen=True, slots=True)
class StoodLeftOut:
    """A span in which the vehicle stood (less than `share` of its own mean) and after which it was driven again is
    passed over by the filter, as if the vehicle had been laid up and nobody had said so."""

    ours: Ours
    share: float

    def __call__(self, train: Cell, test: Cell) -> Floats:
        visible, priors = test.visible, self.ours.priors
        days = np.diff(self.ours.clock.at(visible.ordinals), axis=0)
        km = np.diff(visible.km, axis=0)
        count = visible.ordinals.shape[1]
        mean = km.sum(axis=0) / np.maximum(days.sum(axis=0), 1.0)
        stood = km < self.share * mean * days
        driven_later = np.cumsum(~stood[::-1], axis=0)[::-1] > 0
        state = start(priors, m0=np.full(count, priors.m0), s0=np.full(count, priors.s0))
        for gained, span, left_out in zip(km, days, stood & driven_later, strict=True):
            state = assimilate(state, gained, np.where(left_out, 0.0, span), priors)
            state = replace(state, back=state.back + np.where(left_out & (state.n > 0), span, 0.0))
        law = DistanceLaw.of(state, priors)
        return self.ours.calendar_days(visible, law.days_to(test.remaining, ZS))


IDEAS: Mapping[str, Callable[[Ours], Method]] = {
    "as it is": lambda ours: ours,
    "no spell of rest passed over": lambda ours: replace(ours, passing_over=False),
    "use falls by 2 % a year": lambda ours: LessWithAge(ours, 0.02),
    "use falls by 3.5 % a year": lambda ours: LessWithAge(ours, 0.035),
    "the same, with in-service date": lambda ours: LessWithAge(replace(ours, in_service=True), 0.035),
    "no fall, with in-service date": lambda ours: replace(ours, in_service=True),
    "every span in which it stood left out": lambda ours: StoodLeftOut(ours, 0.05),
    "own dispersion drawn half as much to the fleet's (nu 6)": lambda ours: _with(ours, nu=6.0),
    "wild increments tamed earlier (clip 1.8)": lambda ours: _with(ours, clip=1.8),
    "wild increments tamed later (clip 3.5)": lambda ours: _with(ours, clip=3.5),
}


def _with(ours: Ours, **numbers: float) -> Ours:
    return replace(ours, priors=replace(ours.priors, **numbers))  # type: ignore[arg-type]


def report(vehicles: int) -> str:
    """CRPS over horizon by readings in sight for each idea in both worlds and on aircraft."""
    parts = []
    for world in ("A", "B"):
        asked = Asked.of(world, vehicles)
        rows = []
        for name, made in IDEAS.items():
            result = Result.of(made(Ours(asked.numbers)), asked.cells)
            scores = [figure(float(result.per_vehicle([n]).mean()), 4) for n in READINGS]
            rows.append([name, *scores, figure(float(result.per_vehicle().mean()), 4), figure(result.coverage())])
        head = [f"world {world}", *(f"n={n}" for n in READINGS), "all", "coverage"]
        parts.append(markdown(head, rows))
    flown = Flown.of()
    rows = []
    for name, made in IDEAS.items():
        if "in-service" not in name:
            scores_by_place = flown.scores(made(Ours(flown.fitted)))
            by_n = [
                np.mean([scores_by_place[n, h].crps_by_horizon for h in aircraft.HORIZONS]) for n in aircraft.READINGS
            ]
            held = np.mean([one.coverage for one in scores_by_place.values()])
            whole = figure(float(np.mean(by_n)), 4)
            rows.append([name, *(figure(float(score), 4) for score in by_n), whole, figure(float(held))])
    parts.append(markdown(["aircraft", *(f"n={n}" for n in aircraft.READINGS), "all", "coverage"], rows))
    return "\n\n".join(parts)


def main(arguments: Sequence[str]) -> int:
    """Prints the tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.worlds.ideas")
    parser.add_argument("--vehicles", type=int, default=1500, help="cars to learn from, and as many to be judged on")
    print(report(parser.parse_args(arguments).vehicles))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
