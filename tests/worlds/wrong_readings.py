"""Cars of which one reading is grossly wrong: what that does to the forecast once the readings are judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass

import numpy as np

from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.pace_filter import PaceState
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_walk import DialReading, walk_readings
from fleetcare.usage.single_clock import SingleClock
from tests.worlds.cells import HORIZONS, Cell, Visible
from tests.worlds.grid import Asked
from tests.worlds.methods import Ours, bare, year_average_days
from tests.worlds.scores import ZS, Floats, Scored, scored
from tests.worlds.slips_made import SlipMade, slipped
from tests.worlds.world import Ints

N = 12
CARS = 600
"""At most so many are walked through, one after the other."""
GROSS = (
    SlipMade.DIGIT_MISSING,
    SlipMade.DIGIT_EXTRA,
    SlipMade.TRIP_METER,
    SlipMade.OTHER_UNIT,
    SlipMade.TRANSPOSED,
    SlipMade.WRONG_DIGIT,
)
"""Slips of hand and eye; of the last two only those that are off by more than one increment."""


@dataclass(frozen=True, slots=True)
class Spoilt:
    """The readings of some cars with one of them wrong. rows: which cars of the world. values: (n, k) as written."""

    rows: Ints
    values: Ints


def spoilt(visible: Visible, most: int, *, seed: int = 51) -> Spoilt:
    """One gross slip in each of the first `most` cars in which one can be made; at any place but the first."""
    rng = np.random.default_rng(seed)
    rows, columns = [], []
    for row in range(min(most, visible.ordinals.shape[1])):
        ordinals, dial = visible.ordinals[:, row], visible.km[:, row].astype(np.int64)
        for _ in range(20):
            made = slipped(GROSS[int(rng.integers(len(GROSS)))], ordinals, dial, int(rng.integers(1, N)), rng)
            if made is not None and made.increments > 1.0:
                rows.append(row)
                columns.append(made.values)
                break
    return Spoilt(np.array(rows), np.array(columns).T)


def walked(visible: Visible, values: Ints, priors: Priors) -> tuple[DistanceLaw, Ints, Floats]:
    """(law after the last used reading, its ordinal, what its dial showed) of each car, by the program's own walk."""
    clock = SingleClock.of(priors.season)
    states, ordinals, km = [], [], []
    for row in range(values.shape[1]):
        written = [
            DialReading(int(on), float(value))
            for on, value in zip(visible.ordinals[:, row], values[:, row], strict=True)
        ]
        walk = walk_readings(written, clock=clock, priors=priors)
        states.append(astuple(walk.pace))
        ordinals.append(written[walk.used[-1]].ordinal)
        km.append(walk.true[-1] - walk.offset)
    state = PaceState(*np.array(states).T)
    return DistanceLaw.of(state, priors), np.array(ordinals), np.array(km)


def with_one_wrong(
    asked: Asked, ours: Ours, horizons: Sequence[int] = HORIZONS, cars: int = CARS
) -> dict[str, list[Scored]]:
    """Scores at each horizon: ours with one wrong reading a car, ours without it, and the average with it."""
    visible = asked.test_seen.newest(N)
    bad = spoilt(visible, cars)
    seen = visible.rows(bad.rows)
    law, last_used, shown = walked(seen, bad.values, ours.priors)
    found: dict[str, list[Scored]] = {"judged": [], "clean": [], "average": []}
    for h in horizons:
        cell = asked.cells[N, h][1]
        remaining, truth = cell.remaining[bad.rows], cell.truth[bad.rows]
        due_at = seen.km[-1] + remaining
        operational = law.days_to(np.maximum(due_at - shown, 0.0), ZS)
        on = ours.clock.ordinals_at(ours.clock.at(last_used) + operational)
        found["judged"].append(scored(np.maximum(on - seen.last, 0.0), truth, h))
        found["clean"].append(scored(ours.days(seen, remaining), truth, h))
        written = Visible(seen.ordinals, bad.values.astype(float), seen.in_service)
        left = np.maximum(due_at - written.km[-1], 0.0)
        cell_as_written = Cell(N, h, written, left, truth)
        found["average"].append(scored(bare(year_average_days)(cell_as_written, cell_as_written), truth, h))
    return found
