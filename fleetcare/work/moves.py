"""A component that goes from one vehicle to another, and what it takes with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.errors import BadInput


@dataclass(frozen=True, slots=True)
class Carried:
    """What one service line had behind it when its component moved.

    done_on: the day it was last done, or counted from. km_by_duty, hours: true km under each duty and running hours
    since then, by the meters of the vehicle it came from; None if that meter said nothing. is_first: its first interval
    was still running. known: False if nobody knew when it was last done, so that a look comes first.
    """

    service: str
    done_on: date
    km_by_duty: tuple[tuple[str, float], ...] | None
    hours: float | None
    is_first: bool
    known: bool

    @property
    def km(self) -> float | None:
        """True km under all duties together."""
        return None if self.km_by_duty is None else sum(km for _, km in self.km_by_duty)


@dataclass(frozen=True, slots=True)
class Move:
    """A component that went from one vehicle to another on a day, with what its lines had behind them."""

    on: date
    from_mark: str
    from_component: str
    to_mark: str
    to_component: str
    carried: tuple[Carried, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        if (self.from_mark, self.from_component) == (self.to_mark, self.to_component):
            raise BadInput("A component cannot move to where it is.", remedy="Name another vehicle.", field="to")

    def carried_for(self, service: str) -> Carried | None:
        """What that line had behind it, or None."""
        return next((each for each in self.carried if each.service == service), None)


@dataclass(frozen=True, slots=True)
class Stay:
    """Where a component was: from `first` (None: from the beginning) up to and without `end` (None: still there)."""

    mark: str
    component: str
    first: date | None
    end: date | None

    def holds(self, mark: str, component: str, day: date) -> bool:
        """True if something done on that component of that vehicle on that day was done on this component."""
        return (
            (mark, component) == (self.mark, self.component)
            and (self.first is None or day >= self.first)
            and (self.end is None or day < self.end)
        )


def stays_of(mark: str, component: str, moves: Iterable[Move]) -> tuple[Stay, ...]:
    """Where the component that is at that place now has been, the first stay first. moves: all there are."""
    stays: list[Stay] = []
    known = sorted(moves, key=lambda each: each.on)
    here, end = (mark, component), None
    while True:
        before = [move for move in known if end is None or move.on < end]
        came = next((m for m in reversed(before) if (m.to_mark, m.to_component) == here), None)
        went = next((m for m in reversed(before) if (m.from_mark, m.from_component) == here), None)
        if went is not None and (came is None or went.on > came.on):
            # Whatever went away from there was another one; nobody noted where this one is from.
            stays.append(Stay(*here, went.on, end))
            break
        if came is None:
            stays.append(Stay(*here, None, end))
            break
        stays.append(Stay(*here, came.on, end))
        here, end = (came.from_mark, came.from_component), came.on
    return tuple(reversed(stays))


def begun_there(mark: str, component: str, moves: Iterable[Move]) -> date | None:
    """The first day on which what is at that place now was there; None if it was from the beginning."""
    return stays_of(mark, component, moves)[-1].first


def where_now(mark: str, component: str, on: date, moves: Iterable[Move]) -> tuple[str, str]:
    """Where the component is now that was at that place on that day: mark and component key."""
    here = (mark, component)
    for move in sorted(moves, key=lambda each: each.on):
        if move.on > on and (move.from_mark, move.from_component) == here:
            here, on = (move.to_mark, move.to_component), move.on
    return here


def last_move_to(mark: str, component: str, moves: Sequence[Move]) -> Move | None:
    """The move that brought the component to that place, or None."""
    there = [move for move in moves if (move.to_mark, move.to_component) == (mark, component)]
    return max(there, key=lambda move: move.on, default=None)
