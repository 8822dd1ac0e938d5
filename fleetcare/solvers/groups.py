"""Visits that differ only in which shift of a day holds what, taken together as one: cheapest price, least use of room.

Choosing among groups is a relaxation of choosing among visits: a bound for the groups is one for the visits, and where
the visits of the groups chosen make a plan of the same price, it is the best there is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleetcare.solvers.columns import Column, Rows

Key = tuple[object, ...]


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


def grouped(rows: Rows, columns: Iterable[Column]) -> list[Group]:
    """Columns in groups of the same vehicle, frame, days worked, and services on the same days."""
    found: dict[Key, list[Column]] = {}
    for column in columns:
        found.setdefault(_alike(rows, column), []).append(column)
    return [_merged(rows, members) for members in found.values()]


def apart(rows: Rows, group: Group) -> list[Group]:
    """Each member of a group as a group of its own."""
    return [_merged(rows, [column]) for column in group.members]


def _alike(rows: Rows, column: Column) -> Key:
    day = rows.shift_day
    services = []
    worked = {int(day[column.arrive])}
    for number, mode in column.modes:
        shifts = rows.modes_of[number].shifts[mode]
        services.append((number, *(int(day[q]) for q in shifts)))
        worked.update(int(day[q]) for q in shifts)
    setups = tuple((at, int(day[q])) for at, q in column.setups)
    worked.update(day for _, day in setups)
    return column.vehicle, column.arrive, column.last, tuple(services), setups, tuple(sorted(worked))


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
