"""Which rows of the interval book are figures for one and the same job, and which of them fit a component."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import combinations

from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.fleet.vehicle import VehicleKind


def job(row: BookRow) -> str:
    """What is done, whatever the figure: rows with the same job are alternatives for each other.

    It is the short name. Pages, letters and calendar entries call a line by it, so two lines of one job on one
    component could not be told apart anyway.
    """
    return row.short


def fits(row: BookRow, vehicle: VehicleKind, component: str) -> bool:
    """Whether a row is meant for that kind of component on that kind of vehicle."""
    return component in row.components and (not row.vehicles or vehicle in row.vehicles)


def choices_for(book: IntervalBook, vehicle: VehicleKind, component: str) -> dict[str, tuple[BookRow, ...]]:
    """Every job on that kind of component, with the rows to choose from: the proposed one first, then by key."""
    by_job: defaultdict[str, list[BookRow]] = defaultdict(list)
    for row in book.rows.values():
        if fits(row, vehicle, component):
            by_job[job(row)].append(row)
    return {
        name: tuple(sorted(rows, key=lambda row: (not row.proposed, row.key))) for name, rows in sorted(by_job.items())
    }


def alternatives(book: IntervalBook, row: BookRow, vehicle: VehicleKind, component: str) -> tuple[BookRow, ...]:
    """The other rows that could be chosen for the same job, by key."""
    return tuple(other for other in choices_for(book, vehicle, component).get(job(row), ()) if other.key != row.key)


@dataclass(frozen=True, slots=True)
class ProposalClash:
    """Two rows for one job that would both be proposed for the same component."""

    job: str
    component: str
    rows: tuple[str, str]

    def __str__(self) -> str:
        first, second = self.rows
        return (
            f"{first} and {second} are both proposed for {self.job} ({self.component}). "
            "Let one of them say proposed = false."
        )


def proposal_clashes(book: IntervalBook) -> tuple[ProposalClash, ...]:
    """Pairs of proposed rows for one job that meet on some kind of vehicle and component; empty in a sound book."""
    proposed = [row for _, row in sorted(book.rows.items()) if row.proposed]
    return tuple(
        ProposalClash(job(first), component, (first.key, second.key))
        for first, second in combinations(proposed, 2)
        if job(first) == job(second)
        and (not first.vehicles or not second.vehicles or set(first.vehicles) & set(second.vehicles))
        for component in first.components
        if component in second.components
    )
