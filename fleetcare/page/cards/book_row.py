"""One row of the interval book as a page: its rule and source, what was changed here, and how the work is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.book.bench import range_words
from fleetcare.book.jobs import Consumable, FromTag, Job, Stage, ValueToReach
from fleetcare.book.printed_pairs import doubts_of
from fleetcare.book.rows import BookRow
from fleetcare.due.telling import rule_words
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.page.cards.frame import HANDBOOK_URL, Frame, Link, full_frame, vehicle_url
from fleetcare.page.cards.handbook import CAUTION, known_words
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.wording import joined, quantity_words, sentence, span_words, unit_name

DISTANCE_FIELD, MONTHS_FIELD, DUTY_FIELD, REASON_FIELD = "distance", "months", "under-", "reason"

_FROM_TAG = {
    FromTag.REFILL: "as much as the tag says for a refill",
    FromTag.FRICTION_MODIFIER: "where the tag asks for it, and as much as it says",
    FromTag.CLOSURE: "sealant, gasket or O-ring, as the tag says",
    FromTag.FASTENERS: "one for each fastener of the tag",
}


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage as the page has it. time: `25 min`, `stands 24 h`. told: sentences under what is done."""

    number: int
    what: str
    time: str
    is_standing: bool
    told: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobPart:
    """How the service is done. told: of which closure it is, how long hands are on it, how it was set up."""

    title: str
    told: str
    stages: tuple[StageRow, ...]
    cautions: tuple[str, ...]
    needs: tuple[str, ...]
    tools: str
    note: str
    source: str


@dataclass(frozen=True, slots=True)
class FigureField:
    """One figure of the form. value: as it stands here, or as it was typed. label: with its unit."""

    name: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class ChangeForm:
    """How a keeper changes the row. problem: what is wrong with what was sent, under the field it is about."""

    action_url: str
    back_url: str
    unit: str
    figures: tuple[FigureField, ...]
    reason: str = ""
    problem: str = ""
    problem_field: str = ""
    can_go_back: bool = False


@dataclass(frozen=True, slots=True)
class BookRowCard:
    """One row of the book."""

    frame: Frame
    title: str
    rule: str
    source: str
    note: str
    key: str
    doubts: tuple[str, ...]
    changes: tuple[str, ...]
    used_by: tuple[Link, ...]
    jobs: tuple[JobPart, ...]
    form: ChangeForm | None = None
    caution: str = CAUTION
    back_url: str = HANDBOOK_URL


def book_row_card(
    row: BookRow,
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    vehicles: Sequence[Vehicle],
    jobs: Sequence[Job],
    can_enter: bool,
    form: ChangeForm | None = None,
) -> BookRowCard:
    """The page about one row. vehicles: those that carry it. jobs: every one that does it. form: for who may change."""
    return BookRowCard(
        frame=full_frame(row.title, garage=garage, reader=reader, today=today, here=HANDBOOK_URL, can_enter=can_enter),
        title=row.title,
        rule=f"{sentence(rule_words(row.rule))}.",
        source=f"{sentence(row.source)} ({known_words(row)}).",
        note=row.note,
        key=row.key,
        doubts=tuple(sentence(doubt) for doubt in doubts_of(row)),
        changes=tuple(
            f"{sentence(change.field)}: {change.was} in the book, {change.now} here."
            + (f" {change.reason}" if change.reason else "")
            for change in row.overrides
        ),
        used_by=tuple(Link(vehicle.name, vehicle_url(vehicle.mark)) for vehicle in vehicles),
        jobs=tuple(_job(job, is_only=len(jobs) == 1) for job in jobs),
        form=form,
    )


def change_form(
    row: BookRow,
    duties: Mapping[str, DutyCycle],
    *,
    unit: DistanceUnit,
    tried: Mapping[str, str] | None = None,
    problem: str = "",
    problem_field: str = "",
) -> ChangeForm:
    """The form for one row, with its figures as they are in force, or as somebody typed them.

    unit: of the garage, for a row without a distance; a row with one keeps its own.
    """
    limits = row.rule.repeat
    printed = [limits.distance, *(figure.distance for figure in limits.by_duty)]
    own = next((distance.primary for distance in printed if distance is not None), unit)
    given = tried or {}
    figures = [
        FigureField(DISTANCE_FIELD, f"Distance, {unit_name(own)}", given.get(DISTANCE_FIELD, _figure(limits.distance))),
        FigureField(MONTHS_FIELD, "Months", given.get(MONTHS_FIELD, str(limits.months or ""))),
    ]
    by_duty = {figure.duty: figure.distance for figure in limits.by_duty}
    for duty in sorted(duties):
        name = f"{DUTY_FIELD}{duty}"
        label = f"Under {duties[duty].title}, {unit_name(own)}"
        figures.append(FigureField(name, label, given.get(name, _figure(by_duty.get(duty)))))
    url = f"{HANDBOOK_URL}/{row.key}"
    return ChangeForm(
        action_url=f"{url}/change",
        back_url=f"{url}/as-in-the-book",
        unit=own.value,
        figures=tuple(figures),
        reason=given.get(REASON_FIELD, ""),
        problem=problem,
        problem_field=problem_field,
        can_go_back=bool(row.overrides),
    )


def _figure(distance: PrintedDistance | None) -> str:
    figure = None if distance is None else distance.figure
    return "" if figure is None else f"{figure.normalize():f}"


def _job(job: Job, *, is_only: bool) -> JobPart:
    closed = f"Where it is closed with {joined([kind.value for kind in job.closures], 'or')}. " if job.closures else ""
    waits = sum(stage.least_minutes or 0 for stage in job.stages)
    stands = f", and it stands {span_words(waits)} between" if waits else ""
    first = f" First it is set {joined(job.set_ups)}." if job.set_ups else ""
    skills = f" For somebody who knows {joined(job.skills)}." if job.skills else ""
    return JobPart(
        title="How it is done" if is_only else job.title,
        told=f"{closed}Hands are on it {span_words(job.hands_on_minutes)}{stands}.{first}{skills}",
        stages=tuple(_stage(number, stage) for number, stage in enumerate(job.stages, start=1)),
        cautions=tuple(f"{caution.text} ({caution.source}; {caution.status.value})" for caution in job.cautions),
        needs=tuple(dict.fromkeys(_need(use) for stage in job.stages for use in stage.consumables)),
        tools=joined(job.tools),
        note=job.note,
        source=f"{sentence(job.source)} ({job.status.value}).",
    )


def _stage(number: int, stage: Stage) -> StageRow:
    told = [f"Look at: {'; '.join(look.what for look in stage.look_at)}."] if stage.look_at else []
    if stage.values:
        told.append(f"Reach: {'; '.join(_value(value) for value in stage.values)}.")
    if stage.is_standing and stage.source:
        told.append(f"{sentence(stage.source)}{f' ({stage.status.value})' if stage.status else ''}.")
    return StageRow(number, stage.title, _time(stage), stage.is_standing, tuple(told))


def _time(stage: Stage) -> str:
    if not stage.is_standing:
        return span_words(stage.minutes or 0)
    least = stage.least_minutes or 0
    parts = [f"stands {span_words(least)}"] if least else []
    if stage.floor_minutes is not None:
        parts.append(f"never under {span_words(stage.floor_minutes)}")
    if stage.most_minutes is not None:
        parts.append(f"next hand within {span_words(stage.most_minutes)}")
    return ", ".join(parts)


def _need(use: Consumable) -> str:
    if use.from_tag is not None:
        return f"{use.what}: {_FROM_TAG[use.from_tag]}"
    assert use.amount is not None  # a consumable has one of the two
    return f"{use.what}: {quantity_words(use.amount, use.unit)}"


def _value(value: ValueToReach) -> str:
    if value.tag_name:
        return f"{value.what.lower()} as on the tag"
    return f"{value.what.lower()}: {value.say or range_words(value)} ({value.source})"
