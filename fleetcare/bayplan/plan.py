"""A bay plan as values: visits with their work to the minute, and what is left for the next horizon."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class WorkKind(StrEnum):
    """What a stretch of work in a visit is."""

    ARRIVE = "arrive"
    SETUP = "setup"
    STAGE = "stage"


@dataclass(frozen=True, slots=True)
class Work:
    """One stretch of work by one person. start: minutes since day 0. stage: counted from 0."""

    kind: WorkKind
    shift: str
    person: str
    start: int
    setup: str = ""
    service: str = ""
    stage: int = 0


@dataclass(frozen=True, slots=True)
class Visit:
    """One stay of one vehicle in one bay (counted from 0), with its work in order of time."""

    vehicle: str
    bay: int
    work: tuple[Work, ...]

    @property
    def services(self) -> tuple[str, ...]:
        """Names of the services worked on, sorted."""
        return tuple(sorted({work.service for work in self.work if work.kind is WorkKind.STAGE}))

    @property
    def starts_at(self) -> int:
        """The minute its first work begins."""
        return min((work.start for work in self.work), default=0)


@dataclass(frozen=True, slots=True)
class BayPlan:
    """A whole plan. skipped: names of services left for the next horizon."""

    problem: str
    visits: tuple[Visit, ...]
    skipped: tuple[str, ...] = ()


def in_order(plan: BayPlan) -> BayPlan:
    """The same plan with everything sorted, so that equal plans are written as equal bytes."""
    visits = [
        Visit(
            visit.vehicle,
            visit.bay,
            tuple(sorted(visit.work, key=lambda one: (one.start, one.kind, one.setup, one.service, one.stage))),
        )
        for visit in plan.visits
    ]
    visits.sort(key=lambda visit: (visit.starts_at, visit.vehicle, visit.bay))
    return BayPlan(plan.problem, tuple(visits), tuple(sorted(plan.skipped)))
