"""How well the screen tells wrong readings from right ones, in both worlds: `python -m tests.worlds.screen_table`.

Every case is one car of a world with seven clean readings a month apart, then one that is as it should be or has gone
wrong in a known way, then a clean one. It is judged twice: as it comes in, and once the reading after it is there.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_walk import DialReading, Explanation, Judged, Verdict, walk_readings
from fleetcare.usage.single_clock import SingleClock
from tests.worlds import world_a, world_b
from tests.worlds.world import World

BEFORE = 7
"""Clean readings before the one that is looked at: six increments."""
PRIORS = Priors()
CLOCK = SingleClock.of(PRIORS.season)


@dataclass(frozen=True)
class Case:
    """What was written down: days and figures, the looked-at one at `BEFORE`; what it should have been, and how far
    the car went since the reading before. later: what is read a month after."""

    days: tuple[int, ...]
    figures: tuple[float, ...]
    truth: float
    increment: float
    later: float


@dataclass
class Row:
    """Shares over the cases of one kind: at entry, and with a later reading."""

    kind: str
    cases: int
    held: tuple[float, float]
    asked: tuple[float, float]
    named: tuple[float, float]
    repaired: tuple[float, float]


Spoil = Callable[[np.random.Generator, Case], Case | None]


def cases_of(world: World, count: int, *, seed: int) -> list[Case]:
    """So many clean cases; a car comes again with other days of reading."""
    found = []
    for turn in range(-(-count // world.vehicles)):
        days = world.read_on(BEFORE + 2, seed=seed + turn)
        dial = world.dial(np.arange(world.vehicles)[:, None], days)
        for row in range(world.vehicles):
            figures = tuple(float(v) for v in dial[row])
            found.append(
                Case(
                    tuple(int(d) for d in days[row]),
                    figures[: BEFORE + 1],
                    figures[BEFORE],
                    figures[BEFORE] - figures[BEFORE - 1],
                    figures[BEFORE + 1],
                )
            )
    return found[:count]


def _with(case: Case, figure: float, **more: float) -> Case | None:
    """The case with another last figure; None if that changes nothing."""
    figures = (*case.figures[:BEFORE], float(figure))
    if figure == case.figures[BEFORE]:
        return None
    return Case(case.days, figures, more.get("truth", case.truth), case.increment, more.get("later", case.later))


def _digits(case: Case) -> str:
    return str(int(case.figures[BEFORE]))


def digit_missing(rng: np.random.Generator, case: Case) -> Case | None:
    """One digit left out."""
    digits = _digits(case)
    at = int(rng.integers(len(digits)))
    rest = digits[:at] + digits[at + 1 :]
    return _with(case, float(rest)) if len(digits) > 1 else None


def digit_extra(rng: np.random.Generator, case: Case) -> Case | None:
    """One digit too many, any digit anywhere."""
    digits = _digits(case)
    at = int(rng.integers(len(digits) + 1))
    return _with(case, float(digits[:at] + str(rng.integers(10)) + digits[at:]))


def trip_meter(rng: np.random.Generator, case: Case) -> Case | None:
    """The trip meter instead: 500 km since it was set back, on average."""
    figure = round(float(rng.exponential(500.0)))
    return _with(case, figure) if figure < case.figures[BEFORE - 1] else None


def other_unit(rng: np.random.Generator, case: Case) -> Case | None:
    """Miles for km, or km for miles."""
    factor = 1.609344 if rng.random() < 0.5 else 1 / 1.609344
    return _with(case, round(case.figures[BEFORE] * factor))


def set_back(rng: np.random.Generator, case: Case) -> Case | None:
    """The dial was set back by 1 to 30 %, and counts on."""
    off = round(case.figures[BEFORE] * rng.uniform(0.01, 0.3))
    figure = case.figures[BEFORE] - off
    return _with(case, figure, later=case.later - off) if figure < case.figures[BEFORE - 1] else None


def rolled_over(rng: np.random.Generator, case: Case) -> Case | None:
    """A five-digit dial passed 99,999 since the reading before, and nobody said that it has five digits."""
    before, here = case.figures[BEFORE - 1], case.figures[BEFORE]
    if here - before < 1 or here - case.figures[0] > 60_000:
        return None
    lift = 100_000 - here + float(rng.integers(int(here - before)))
    figures = [v + lift for v in case.figures]
    if figures[0] < 0:
        return None
    turned = (*figures[:BEFORE], figures[BEFORE] % 100_000)
    return Case(case.days, turned, figures[BEFORE], case.increment, (case.later + lift) % 100_000)


def replaced(rng: np.random.Generator, case: Case) -> Case | None:
    """Another meter since some moment between the two readings, from nought on."""
    figure = round(case.increment * rng.random())
    spoilt = _with(case, figure, later=figure + case.later - case.figures[BEFORE])
    return spoilt if figure < case.figures[BEFORE - 1] else None


def exchanged(rng: np.random.Generator, case: Case) -> Case | None:
    """Two neighbours that differ, the other way round."""
    digits = _digits(case)
    pairs = [i for i in range(len(digits) - 1) if digits[i] != digits[i + 1] and (i or digits[1] != "0")]
    if not pairs:
        return None
    i = pairs[int(rng.integers(len(pairs)))]
    return _with(case, float(digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]))


def wrong_digit(rng: np.random.Generator, case: Case) -> Case | None:
    """Another digit in one place."""
    digits = _digits(case)
    at = int(rng.integers(len(digits)))
    other = str((int(digits[at]) + int(rng.integers(1, 10))) % 10)
    if at == 0 and other == "0":
        return None
    return _with(case, float(digits[:at] + other + digits[at + 1 :]))


def _large(spoil: Spoil) -> Spoil:
    """Only errors of more than one increment; smaller ones are hardly to be seen, and hardly matter."""

    def spoilt(rng: np.random.Generator, case: Case) -> Case | None:
        found = spoil(rng, case)
        return found if found is not None and abs(found.figures[BEFORE] - found.truth) > found.increment else None

    return spoilt


def _same(rng: np.random.Generator, case: Case) -> Case | None:
    return case


KINDS: dict[str, tuple[Spoil, tuple[Explanation, ...]]] = {
    "clean": (_same, ()),
    "digit missing": (digit_missing, (Explanation.DIGIT_MISSING,)),
    "digit extra": (digit_extra, (Explanation.DIGIT_EXTRA,)),
    "trip meter": (trip_meter, (Explanation.TRIP_METER,)),
    "miles/km": (other_unit, (Explanation.OTHER_UNIT,)),
    "set back": (set_back, (Explanation.UNEXPLAINED, Explanation.METER_CHANGED)),
    "rolled over": (rolled_over, (Explanation.ROLLED_OVER,)),
    "meter replaced": (replaced, (Explanation.METER_CHANGED,)),
    "exchanged, all": (exchanged, (Explanation.EXCHANGED,)),
    "exchanged, large": (_large(exchanged), (Explanation.EXCHANGED,)),
    "wrong digit, large": (_large(wrong_digit), (Explanation.WRONG_DIGIT,)),
}


def judged(case: Case, *, later: bool, with_age: tuple[int, float] | None = None) -> Judged:
    """What is thought of the last figure, alone or with the reading after it."""
    readings = [DialReading(day, figure) for day, figure in zip(case.days, case.figures, strict=False)]
    if later:
        readings.append(DialReading(case.days[BEFORE + 1], case.later))
    return walk_readings(readings, clock=CLOCK, priors=PRIORS, in_service=with_age).judged[BEFORE]


def row_of(kind: str, cases: list[Case]) -> Row:
    """Shares over these cases, which all went wrong in the same way."""
    _, names = KINDS[kind]
    counts = np.zeros((4, 2))
    for case in cases:
        for at, later in enumerate((False, True)):
            told = judged(case, later=later)
            counts[0, at] += told.verdict is Verdict.HELD
            counts[1, at] += told.verdict is not Verdict.ACCEPTED
            counts[2, at] += told.explanation in names
            near = told.guess is not None and abs(told.guess - case.truth) <= max(1.0, 0.25 * case.increment)
            counts[3, at] += near
    shares = [(float(a), float(b)) for a, b in counts / len(cases)]
    return Row(kind, len(cases), shares[0], shares[1], shares[2], shares[3])


def table_of(world: World, *, clean: int, spoilt: int, seed: int = 5) -> list[Row]:
    """A row for each kind."""
    rng = np.random.default_rng([seed, 3])
    rows = []
    for kind, (spoil, _) in KINDS.items():
        wanted = clean if kind == "clean" else spoilt
        found: list[Case] = []
        turn = 0
        while len(found) < wanted and turn < 40:
            for case in cases_of(world, world.vehicles, seed=seed + 100 * turn):
                broken = spoil(rng, case)
                if broken is not None and len(found) < wanted:
                    found.append(broken)
            turn += 1
        rows.append(row_of(kind, found))
    return rows


def main(arguments: list[str]) -> None:
    """Prints both tables. arguments: how many clean and how many spoilt readings of each kind, 3000 1000 if none."""
    clean, spoilt = (int(a) for a in arguments) if arguments else (3000, 1000)
    for make in (world_a, world_b):
        world = make.make_world(min(1500, max(clean, spoilt)))
        print(f"World {world.name}          cases   held            asked           named           repaired")
        print("                          entry  later    entry  later    entry  later    entry  later")
        for row in table_of(world, clean=clean, spoilt=spoilt):
            shares = "   ".join(f"{a:.4f} {b:.4f}" for a, b in (row.held, row.asked, row.named, row.repaired))
            print(f"{row.kind:18s} {row.cases:6d}  {shares}")


if __name__ == "__main__":
    main(sys.argv[1:])
