"""Which bay each stay gets, once it is known that never more stay at once than there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleetcare.bayplan.cost import work_minutes
from fleetcare.bayplan.plan import Visit
from fleetcare.bayplan.problem import BayProblem


def most_at_once(spans: Sequence[tuple[int, int]]) -> int:
    """The most spans, half-open, that meet in one point."""
    points = sorted(
        [(start, 1) for start, end in spans if start < end] + [(end, -1) for start, end in spans if start < end]
    )
    most = now = 0
    for _, change in points:
        now += change
        most = max(most, now)
    return most


def with_bays(
    problem: BayProblem, visits: Sequence[Visit], bays: int, standing: Sequence[tuple[int, int, int]] = ()
) -> tuple[Visit, ...]:
    """The visits of one depot with their bays: each the first that is free for its whole stay.

    standing: (bay, start, end) of stays that keep their bay. Taken in order of their starts, stays find a free bay as
    long as never more than `bays` meet; beside standing ones that hold their bays one may find none, and gets none then
    (bay -1), for the caller to see.
    """
    spans = {id(visit): stay_of(problem, visit) for visit in visits}
    held: list[list[tuple[int, int]]] = [[] for _ in range(bays)]
    for bay, start, end in standing:
        if bay < bays:
            held[bay].append((start, end))
    found = {}
    for visit in sorted(visits, key=lambda one: (spans[id(one)], one.vehicle)):
        begins, ends = spans[id(visit)]
        bay = next((at for at, taken in enumerate(held) if all(b <= begins or ends <= a for a, b in taken)), -1)
        if bay >= 0:
            held[bay].append((begins, ends))
        found[id(visit)] = replace(visit, bay=bay)
    return tuple(found[id(visit)] for visit in visits)


def stay_of(problem: BayProblem, visit: Visit) -> tuple[int, int]:
    """From the first work of a visit to its last."""
    return visit.starts_at, max(work.start + work_minutes(problem, visit, work) for work in visit.work)
