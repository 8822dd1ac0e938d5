"""The unit in which a reader is told distances; the edges that say whose language is in force say this beside it.

What somebody types, and what a dial shows while it is being read off, stays in the unit of that dial.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from fleetcare.quantities import DistanceUnit

_IN_FORCE: ContextVar[DistanceUnit | None] = ContextVar("measure", default=None)


def measure_in_force() -> DistanceUnit | None:
    """The reader's unit; None where nobody is known, and each thing is told in its own."""
    return _IN_FORCE.get()


def told_in(own: DistanceUnit) -> DistanceUnit:
    """The unit in which a distance is told that is kept in `own`."""
    return _IN_FORCE.get() or own


@contextmanager
def measuring(unit: DistanceUnit | None) -> Iterator[None]:
    """Within it, distances are told in this unit; None: each in its own."""
    before = _IN_FORCE.set(unit)
    try:
        yield
    finally:
        _IN_FORCE.reset(before)


def measure(unit: DistanceUnit | None) -> None:
    """From here on, until whoever set the context up is done, distances are told in this unit."""
    _IN_FORCE.set(unit)
