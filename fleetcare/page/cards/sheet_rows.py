"""The rows of a job sheet: stages with their cautions, torques, consumables, and findings to write down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.book.bench import Aim, Need
from fleetcare.book.jobs import Caution
from fleetcare.fleet.component import Component
from fleetcare.fleet.tag import Torque
from fleetcare.language import tr, tr_book
from fleetcare.page.drawings.clock_strip import Spell
from fleetcare.page.drawings.cover import Cover, cover
from fleetcare.page.drawings.torque_range import TorqueRange, torque_range
from fleetcare.wording import exact, piece_words, span_words, weekday_short
from fleetcare.work.findings import FindingBook, FindingKind
from fleetcare.work.order import WorkOrder
from fleetcare.work.sheet_course import SheetCourse, SheetStage


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage. number: on the sheet. more: values to reach. mind: cautions that bite here. stands: nobody works.

    until: of a standing stage, when the next hand may follow; empty if nobody knows. begun: when it was begun.
    """

    number: int
    text: str
    more: tuple[str, ...]
    mind: tuple[str, ...]
    time: str
    stands: bool
    until: str
    begun: str


@dataclass(frozen=True, slots=True)
class TorqueRow:
    """A torque to reach; drawing None: a blank to fill in. passes: rounds and notes. reached: as handed in."""

    what: str
    passes: str
    drawing: TorqueRange | None
    reached: str


@dataclass(frozen=True, slots=True)
class NeedRow:
    """Something to have on the bench; amount empty: a blank to fill in."""

    what: str
    amount: str


@dataclass(frozen=True, slots=True)
class LookRow:
    """A finding to write down: its title, and its grades to tick, or a unit to fill in for each of its places."""

    title: str
    grades: tuple[str, ...]
    blanks: tuple[str, ...]
    unit: str


def framed_cautions(course: SheetCourse) -> tuple[Caution, ...]:
    """The first of each job's cautions, in the order in which they bite, at most six."""
    found = {caution.key: caution for each in course.stages for caution in each.stage.cautions}
    return tuple(found.values())[:MOST_CAUTIONS]


def stage_rows(
    course: SheetCourse, framed: set[str], order: WorkOrder, zone: ZoneInfo, today: date
) -> tuple[StageRow, ...]:
    """The stages of a sheet with what has begun; a caution of the frame is not said again."""
    begun = {(each.job, each.stage): each.at for each in order.stages}
    said: set[str] = set(framed)
    rows = []
    for number, each in enumerate(course.stages, start=1):
        stage = each.stage
        mind = [tr_book(caution.text) for caution in stage.cautions if caution.key not in said]
        said |= {caution.key for caution in stage.cautions}
        at = begun.get((each.job.key, stage.key))
        rows.append(
            StageRow(
                number=number,
                text=tr_book(stage.title),
                more=tuple(_aim_words(aim) for aim in each.aims),
                mind=tuple(mind),
                time=_time(each),
                stands=stage.is_standing,
                until=_until(each, zone, today),
                begun="" if at is None else f"{at.astimezone(zone):%H:%M}",
            )
        )
    return tuple(rows)


def _aim_words(aim: Aim) -> str:
    return f"{tr_book(aim.what)}: {aim.words or tr('not known, fill in from the manual')}"


def _time(each: SheetStage) -> str:
    if not each.stage.is_standing:
        return span_words(each.stage.minutes or 0)
    least, most = each.stage.least_minutes or 0, each.stage.most_minutes
    if least == 0 and most is not None:
        return tr("at most {span}", span=span_words(most))
    return tr("stands {span}", span=span_words(least))


def _until(each: SheetStage, zone: ZoneInfo, today: date) -> str:
    if not each.stage.is_standing or each.step is None or not each.stage.least_minutes:
        return ""
    ends = each.step.ends.astimezone(zone)
    begins = each.step.begins.astimezone(zone)
    return f"{ends:%H:%M}" if ends.date() == begins.date() else f"{weekday_short(ends.weekday())} {ends:%H:%M}"


def spells_of(course: SheetCourse, zone: ZoneInfo) -> list[Spell]:
    """When hands are on it and when it stands, for the strip."""
    return [
        Spell(each.step.begins.astimezone(zone), each.step.ends.astimezone(zone), each.stage.is_standing)
        for each in course.stages
        if each.step is not None and each.step.ends > each.step.begins
    ]


def torque_rows(course: SheetCourse, order: WorkOrder) -> tuple[TorqueRow, ...]:
    """The torques to reach, each once, beside what was reached."""
    reached = {torque.fastener.casefold(): torque for torque in order.torques}
    rows: dict[str, TorqueRow] = {}
    for each in course.stages:
        for value, aim in zip(each.stage.values, each.aims, strict=True):
            is_torque = aim.torque is not None or (value.tag_name and "bolt" in value.tag_name)
            if not is_torque or aim.what in rows:
                continue
            torque = aim.torque
            set_to = reached.get((value.tag_name or aim.what).casefold())
            passes = (
                [] if torque is None else [p.name if p.value is None else f"{p.name} {p.value}" for p in torque.passes]
            )
            fastener = [] if torque is None else [part for part in (torque.thread, torque.drive, torque.note) if part]
            rows[aim.what] = TorqueRow(
                what=tr_book(aim.what),
                passes=", ".join((*fastener, *passes)),
                drawing=None if torque is None else torque_range(torque),
                reached="" if set_to is None else f"{set_to.value} {set_to.unit}",
            )
    return tuple(rows.values())


def _fastener(torque: Torque) -> str:
    """Thread, drive and passes, as far as they are known."""
    passes = [each.name if each.value is None else f"{each.name} {each.value}" for each in torque.passes]
    return ", ".join(part for part in (torque.thread, torque.drive, torque.note, *passes) if part)


def cover_of(course: SheetCourse) -> Cover | None:
    """The cover that is opened on this sheet, if its tag says how many bolts it has."""
    for each in course.jobs:
        closure = each.bench.tag.closure
        is_opened = any(stage.key in ("drain-cover", "cover-on", "cover-gasket") for stage in each.job.stages)
        if is_opened and closure is not None and closure.value is not None:
            return cover(closure.value.bolts)
    return None


def need_row(need: Need) -> NeedRow:
    """What to lay out, with its amount and how many packs hold it."""
    if need.amount is None:
        return NeedRow(tr_book(need.what), "")
    amount = exact(need.amount)
    unit = "" if need.unit == "pieces" else f" {piece_words(need.amount, need.unit)}"
    packs = need.packs
    return NeedRow(
        tr_book(need.what),
        f"{amount}{unit}{tr(', draw {packs}', packs=packs) if packs is not None and packs > 1 else ''}",
    )


def look_row(kind: FindingKind) -> LookRow:
    """What to look at, with the words to tick or the places to measure."""
    if kind.measure is not None:
        return LookRow(tr_book(kind.title), (), tuple(map(tr_book, kind.places)) or ("",), kind.measure.unit)
    grades = tuple(tr_book(grade.words) for grade in kind.grades)
    title = f"{tr_book(kind.title)} ({', '.join(map(tr_book, kind.places))})" if kind.places else tr_book(kind.title)
    return LookRow(title, grades, (), "")


def kinds_to_look_at(
    course: SheetCourse, components: Sequence[Component], book: FindingBook
) -> tuple[FindingKind, ...]:
    """What may be found on these components: what the stages say to look at, else whatever the book has for them."""
    named = dict.fromkeys(look.finding for each in course.stages for look in each.stage.look_at if look.finding)
    kinds = [book.kinds[key] for key in named if key in book.kinds]
    if not kinds:
        kinds = [kind for kind in book.kinds.values() if kind.components and any(kind.fits(c) for c in components)]
    return tuple(kinds)


MOST_CAUTIONS = 6
"""In the frame before the stages; the others stand in the stage where they bite."""
