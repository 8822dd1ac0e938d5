"""What the screen of readings costs beside the pace filter alone: `python -m tests.bench.bench_screen`.

A ratio measured in one run, so that it says the same on a slow machine: microseconds a clean reading, walked and
filtered; milliseconds for a walk whose last reading is in doubt; and a clean reading where a walk is short.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date

from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_walk import DialReading, walk_readings
from fleetcare.usage.single_clock import SingleClock
from fleetcare.usage.single_pace import start_pace, with_increment

PRIORS = Priors()
CLOCK = SingleClock.of(PRIORS.season)
DAY = date(2005, 1, 1).toordinal()
CLEAN = [DialReading(DAY + 30 * n, 80_000.0 + 1_000 * n) for n in range(200)]
SEVEN = CLEAN[:7]
DOUBTFUL = [*SEVEN, DialReading(DAY + 210, 97_000.0)]
WITH_LATER = [*DOUBTFUL, DialReading(DAY + 240, 88_000.0)]


def best_of(times: int, act: Callable[[], object]) -> float:
    """Seconds of the quickest of so many runs."""
    found = []
    for _ in range(times):
        begin = time.perf_counter()
        act()
        found.append(time.perf_counter() - begin)
    return min(found)


def walked(readings: list[DialReading]) -> Callable[[], object]:
    """One walk."""
    return lambda: walk_readings(readings, clock=CLOCK, priors=PRIORS)


def filtered() -> None:
    """The pace filter alone, over the same readings: the least that has to be done."""
    pace = start_pace(PRIORS)
    last = CLEAN[0]
    op = CLOCK.at(last.ordinal)
    for reading in CLEAN[1:]:
        here = CLOCK.at(reading.ordinal)
        pace = with_increment(pace, reading.value - last.value, here - op, PRIORS)
        last, op = reading, here


def main() -> None:
    """Prints the figures."""
    walk, alone = best_of(200, walked(CLEAN)) / len(CLEAN), best_of(200, filtered) / len(CLEAN)
    print(f"clean reading: walk {walk * 1e6:.1f} us, filter alone {alone * 1e6:.1f} us, ratio {walk / alone:.2f}")
    plain = best_of(200, walked(SEVEN))
    for name, readings in (("doubtful last reading", DOUBTFUL), ("the same with a later one", WITH_LATER)):
        print(f"{name}: {(best_of(200, walked(readings)) - plain) * 1e3:.2f} ms more than without it")
    short = best_of(200, walked(CLEAN[:24])) / 24
    print(f"clean reading in a walk of 24: {short * 1e6:.1f} us")


if __name__ == "__main__":
    main()
