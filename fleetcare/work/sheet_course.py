"""The stages of a whole sheet: those of each job on each component, in the order they are done, with their times.

Jobs of one sheet are done one after another. Those in which nothing has to stand come first; the next job begins when
the one before has nothing left to do with hands before it stands, so that nobody waits for a cure with idle hands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from fleetcare.book.bench import Aim, Bench, aims_of, bench
from fleetcare.book.chains import Course, Done, Step, course, in_order, with_tag
from fleetcare.book.jobs import Job, JobBook, Stage
from fleetcare.book.rows import BookRow
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.order import StageBegun, WorkOrder

MOST_STAGES = 60


@dataclass(frozen=True, slots=True)
class SheetJob:
    """One job on one component, with what it needs there."""

    component: Component
    bench: Bench

    @property
    def job(self) -> Job:
        """How it is done."""
        return self.bench.job


@dataclass(frozen=True, slots=True)
class SheetStage:
    """One stage of a sheet. aims: the values to reach in it. step: when; None if nobody knows when it begins."""

    job: Job
    component: Component
    stage: Stage
    aims: tuple[Aim, ...]
    step: Step | None = None


@dataclass(frozen=True, slots=True)
class SheetCourse:
    """All stages of a sheet in order. course: in time, None if nobody knows when it begins.

    without_job: services of the sheet for which the garage has no job.
    """

    jobs: tuple[SheetJob, ...]
    stages: tuple[SheetStage, ...]
    course: Course | None
    without_job: tuple[LineKey, ...]

    @property
    def hands_on_minutes(self) -> int:
        """Minutes somebody works on it."""
        return sum(each.stage.minutes or 0 for each in self.stages)


def sheet_course(
    order: WorkOrder,
    vehicle: Vehicle,
    rows: Mapping[LineKey, BookRow],
    book: JobBook,
    *,
    begins_at: datetime | None = None,
    now: datetime | None = None,
) -> SheetCourse:
    """The stages of a sheet.

    rows: of its lines. begins_at: when the first hand begins, if somebody knows; a stage that was begun moves what
    follows it. now: stages not begun yet begin no sooner. Instants have their zone.
    """
    jobs, bare = _jobs(order, vehicle, rows, book)
    stages = _stages(jobs)
    if begins_at is None or not stages:
        listed = tuple(_stage(jobs, key, stage, None) for key, stage in stages)
        return SheetCourse(jobs, listed, None, bare)
    begun = _with_those_before(_begun(order.stages, [key for key, _ in stages]), stages, begins_at)
    ran = course([stage for _, stage in stages], begins_at, done=begun, now=now)
    keyed = {stage.key: (key, stage) for key, stage in stages}
    timed = tuple(_stage(jobs, *keyed[step.stage.key], step) for step in ran.steps)
    return SheetCourse(jobs, timed, ran, bare)


def _jobs(
    order: WorkOrder, vehicle: Vehicle, rows: Mapping[LineKey, BookRow], book: JobBook
) -> tuple[tuple[SheetJob, ...], tuple[LineKey, ...]]:
    """Each job once on each component; those without standing first, else in the order of the sheet."""
    found: dict[tuple[str, str], SheetJob] = {}
    bare: list[LineKey] = []
    for line in order.lines:
        component, row = vehicle.component(line.component), rows.get(line)
        job = None if component is None or row is None else book.job_for(row, component.kind, tag_of(component))
        if job is None or component is None:
            bare.append(line)
            continue
        found.setdefault((component.key, job.key), SheetJob(component, bench(job, component)))
    stands = {key: any(stage.is_standing for stage in each.job.stages) for key, each in found.items()}
    ordered = sorted(found, key=lambda key: stands[key])
    return tuple(found[key] for key in ordered), tuple(bare)


_Key = tuple[int, str]
"""Place of the job on the sheet, and the stage's own key."""


def _stages(jobs: Sequence[SheetJob]) -> list[tuple[_Key, Stage]]:
    """The stages of all jobs as one chain. A stage that two jobs on one component share is done once."""
    chain: list[tuple[_Key, Stage]] = []
    anchor: str | None = None
    for place, each in enumerate(jobs):
        own = in_order(with_tag(each.job.stages, each.bench.tag))
        there = {(jobs[at].component.key, stage.title) for (at, _), stage in chain}
        instead: dict[str, tuple[str, ...]] = {}
        last_hand: str | None = None
        has_stood = False
        for stage in own:
            after = tuple(dict.fromkeys(key for name in stage.after for key in instead[name]))
            if (each.component.key, stage.title) in there and not stage.is_standing:
                instead[stage.key] = after
                continue
            name = f"{place}/{stage.key}"
            if not after and anchor is not None:
                after = (anchor,)
            chain.append(((place, stage.key), replace(stage, key=name, after=after)))
            instead[stage.key] = (name,)
            has_stood = has_stood or stage.is_standing
            if not has_stood:
                last_hand = name
        anchor = last_hand or anchor
    return chain[:MOST_STAGES] if len(chain) <= MOST_STAGES else _cut(chain)


def _cut(chain: list[tuple[_Key, Stage]]) -> list[tuple[_Key, Stage]]:
    """A sheet that would be longer than any garage works through; the rest belongs on a sheet of its own."""
    kept = chain[:MOST_STAGES]
    names = {stage.key for _, stage in kept}
    return [(key, replace(stage, after=tuple(a for a in stage.after if a in names))) for key, stage in kept]


def _stage(jobs: Sequence[SheetJob], key: _Key, stage: Stage, step: Step | None) -> SheetStage:
    of = jobs[key[0]]
    return SheetStage(of.job, of.component, replace(stage, key=key[1]), aims_of(stage, of.bench.tag), step)


def _with_those_before(
    begun: dict[str, Done], stages: Sequence[tuple[_Key, Stage]], begins_at: datetime
) -> dict[str, Done]:
    """A stage that others follow is done once one of those was begun, whether somebody noted it or not."""
    found = dict(begun)
    for _, stage in reversed(stages):
        known = found.get(stage.key)
        if known is None:
            continue
        for name in stage.after:
            there = found.get(name)
            first = min(begins_at, known.begun_at)
            if there is None:
                found[name] = Done(first, known.begun_at)
            elif there.ended_at is None or there.ended_at > known.begun_at:
                found[name] = Done(min(there.begun_at, known.begun_at), known.begun_at)
    return found


def _begun(begun: Sequence[StageBegun], keys: Sequence[_Key]) -> dict[str, Done]:
    """What has happened so far: a stage ends when the next one begins, the newest is in hand."""
    by_key: dict[str, datetime] = {}
    for each in begun:
        name = next((f"{place}/{key}" for place, key in keys if key == each.stage), None)
        if name is not None:
            by_key.setdefault(name, each.at)
    moments = sorted(by_key.values())
    return {name: Done(at, next((moment for moment in moments if moment > at), None)) for name, at in by_key.items()}
