"""Which set-ups the services of a garage share: those their jobs name, and the fluid that several of them take."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from fleetcare.bayplan.problem import SetUp
from fleetcare.fleet.component import LineKey

SAME_FLUID = "same fluid"
"""The row of workshop.toml for opening a pail and filling a pump, once for all that takes the same fluid."""
USUAL_SET_UP_MIN = 15
"""A set-up that a job names and workshop.toml does not. Judgement, no source."""


@dataclass(frozen=True, slots=True)
class SharedSetUps:
    """The set-ups of a garage. of: what each service needs first; own_minutes: what a service needs of a fluid that
    nothing else on its vehicle takes, so that there is nothing to share; unpriced: set-ups without a row, by name."""

    setups: tuple[SetUp, ...]
    of: dict[LineKey, tuple[str, ...]]
    own_minutes: dict[LineKey, int] = field(default_factory=dict)
    unpriced: tuple[str, ...] = ()


def shared_set_ups(asked: Sequence[tuple[LineKey, Sequence[str], str]], rows: Sequence[SetUp]) -> SharedSetUps:
    """The set-ups of these services (its line, the set-ups its job names, the fluid it takes or nothing).

    A set-up without a row is none for nothing: it takes `USUAL_SET_UP_MIN`, once a visit, and no money. A fluid counts
    only where there is a row `SAME_FLUID`.
    """
    known = {row.name for row in rows}
    unpriced = sorted({name for _, names, _ in asked for name in names} - known)
    pump = next((row for row in rows if row.name == SAME_FLUID), None)
    takers = Counter((line.mark, fluid) for line, _, fluid in asked if fluid)
    poured: dict[str, SetUp] = {}
    of: dict[LineKey, tuple[str, ...]] = {}
    own_minutes: dict[LineKey, int] = {}
    for line, names, fluid in asked:
        of[line] = tuple(dict.fromkeys(names))
        if pump is None or not fluid:
            continue
        if takers[line.mark, fluid] > 1:
            name = f"{SAME_FLUID}: {fluid}"
            poured[name] = SetUp(name, pump.minutes, pump.cents)
            of[line] = (*of[line], name)
        else:
            own_minutes[line] = pump.minutes
    more = (SetUp(name, USUAL_SET_UP_MIN, 0) for name in unpriced)
    setups = (*rows, *more, *(poured[name] for name in sorted(poured)))
    return SharedSetUps(setups, of, own_minutes, tuple(unpriced))
