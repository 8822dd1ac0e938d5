"""Visits that differ only in which shift of a day holds what, taken together as one: cheapest price, least use of room.

Choosing among groups is a relaxation of choosing among visits: a bound for the groups is one for the visits, and where
the visits of the groups chosen make a plan of the same price, it is the best there is.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass

from fleetcare.solvers.columns import Column, Rows

Placed = tuple[tuple[int, int], ...]
Key = tuple[int, int, int, Placed, Placed]
"""Vehicle, where it arrives and ends, services by mode, set-ups by shift."""
Alike = tuple[object, ...]


def key_of(column: Column) -> Key:
    """What makes two columns the same visit."""
    return column.vehicle, column.arrive, column.last, column.modes, column.setups


@dataclass(frozen=True, slots=True)
class Group:
    """Visits alike. shown: a column that stands for all (its price the least of them); entries: row to the least
    coefficient."""

    shown: Column
    entries: dict[int, float]
    members: tuple[Column, ...]


def grouped(rows: Rows, columns: Iterable[Column], split: Container[Alike] = ()) -> list[Group]:
    """Columns in groups of the same vehicle, frame, days worked, and services on the same days. split: what is alike in
    one of these ways stays apart."""
    found: dict[Alike, list[Column]] = {}
    for column in columns:
        found.setdefault(alike(rows, column), []).append(column)
    groups = []
    for key, members in found.items():
        groups += [_merged(rows, [one]) for one in members] if key in split else [_merged(rows, members)]
    return groups


def apart(rows: Rows, group: Group) -> list[Group]:
    """Each member of a group as a group of its own."""
    return [_merged(rows, [column]) for column in group.members]


def alike(rows: Rows, column: Column) -> Alike:
    """What a visit has in common with those of its group."""
    day = rows.day_of
    services = tuple(rows.use_of(number, mode).on_days for number, mode in column.modes)
    setups = tuple((at, day[q]) for at, q in column.setups)
    worked = {day[column.arrive], *(on for each in services for on in each[1:]), *(on for _, on in setups)}
    return column.vehicle, column.arrive, column.last, services, setups, tuple(sorted(worked))


def _merged(rows: Rows, members: Sequence[Column]) -> Group:
    first = members[0]
    entries = rows.with_days(rows.coefficients(first))
    cheapest = first
    for column in members[1:]:
        other = rows.with_days(rows.coefficients(column))
        entries = {row: min(value, other[row]) for row, value in entries.items() if row in other}
        if column.cents < cheapest.cents:
            cheapest = column
    return Group(cheapest, entries, tuple(members))
