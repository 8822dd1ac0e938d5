"""One row of the interval book as a page: its rule and source, what was changed here, and how the work is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetcare.book.after_lines import after_event_lines
from fleetcare.book.jobs import Job
from fleetcare.book.printed_pairs import doubts_of
from fleetcare.book.rows import NO_WEAR, BookRow, DutyFigure, IntervalRule, Limits, Status
from fleetcare.due.telling import rule_words
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.frame import HANDBOOK_URL, Frame, Link, full_frame
from fleetcare.page.cards.handbook import CAUTION, NAMED_ON_PAGE, known_words, users_named
from fleetcare.page.cards.job_part import JobPart, job_part
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.wording import joined, sentence, unit_name

DISTANCE_FIELD, MONTHS_FIELD, DUTY_FIELD, REASON_FIELD = "distance", "months", "under-", "reason"
WEEKS_FIELD, HOURS_FIELD, AFTER_FIELD, WAIVED_FIELD = "weeks", "hours", "after", "waived-"
FIRST_PREFIX, MODIFIER_PREFIX = "first-", "modifier-"
TITLE_FIELD, SHORT_FIELD, KINDS_FIELD, ACTION_FIELD, SOURCE_FIELD = "title", "short", "components", "action", "source"


@dataclass(frozen=True, slots=True)
class FigureField:
    """One figure of the form. value: as it stands here, or as it was typed. label: with its unit.

    is_long: more than a line of words. is_word: no number, so no keys of numbers on a phone.
    """

    name: str
    label: str
    value: str
    is_long: bool = False
    is_word: bool = False


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Figures that belong together, under a heading. is_open: shown at once."""

    heading: str
    told: str
    fields: tuple[FigureField, ...]
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class ChangeForm:
    """How a keeper changes the row. problem: what is wrong with what was sent, under the field it is about."""

    action_url: str
    back_url: str
    unit: str
    groups: tuple[FieldGroup, ...]
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
    used_more: str
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
    named, more = users_named(vehicles, NAMED_ON_PAGE)
    return BookRowCard(
        frame=full_frame(
            tr_book(row.title), garage=garage, reader=reader, today=today, here=HANDBOOK_URL, can_enter=can_enter
        ),
        title=tr_book(row.title),
        rule=f"{sentence(rule_words(row.rule))}.",
        source=f"{sentence(tr_book(row.source))} ({known_words(row)}).",
        note=tr_book(row.note),
        key=row.key,
        doubts=tuple(sentence(doubt) for doubt in doubts_of(row)),
        changes=tuple(
            tr("{field}: {was} in the book, {now} here.", field=sentence(change.field), was=change.was, now=change.now)
            + (f" {change.reason}" if change.reason else "")
            for change in row.overrides
        ),
        used_by=named,
        used_more=more,
        jobs=tuple(job_part(job, is_only=len(jobs) == 1) for job in jobs),
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
    own = unit_of(row, unit)
    given = tried or {}
    groups = tuple(
        replace(group, fields=tuple(replace(f, value=given.get(f.name, f.value)) for f in group.fields))
        for group in _groups(row, duties, own)
    )
    at_fault = [group for group in groups if any(f.name == problem_field for f in group.fields)]
    groups = tuple(replace(group, is_open=group.is_open or group in at_fault or _is_filled(group)) for group in groups)
    url = f"{HANDBOOK_URL}/{row.key}"
    return ChangeForm(
        action_url=f"{url}/change",
        back_url=f"{url}/as-in-the-book",
        unit=own.value,
        groups=groups,
        reason=given.get(REASON_FIELD, ""),
        problem=problem,
        problem_field=problem_field,
        can_go_back=bool(row.overrides),
    )


def new_row_form(
    duties: Mapping[str, DutyCycle],
    *,
    unit: DistanceUnit,
    components: Sequence[str],
    tried: Mapping[str, str] | None = None,
    problem: str = "",
    problem_field: str = "",
) -> ChangeForm:
    """The form for a row that this garage adds. components: kinds that its vehicles have, to choose from in words."""
    given = tried or {}
    kinds = tr(
        "Kinds of component it is for, commas between, such as {kinds}", kinds=joined(list(components[:3]), "or")
    )
    words = FieldGroup(
        tr("What it is"),
        "",
        (
            FigureField(TITLE_FIELD, tr("Title, such as Winch rope, look and respool"), "", is_word=True),
            FigureField(SHORT_FIELD, tr("Short name, at most 24 letters, such as winch rope"), "", is_word=True),
            FigureField(KINDS_FIELD, kinds, "", is_word=True),
            FigureField(ACTION_FIELD, tr("What is done"), "", is_word=True),
            FigureField(SOURCE_FIELD, tr("Where its figures are from"), "", is_word=True),
        ),
        is_open=True,
    )
    empty = BookRow("new", "", "", (), (), IntervalRule(), "", Status.GARAGE)
    groups = tuple(
        replace(group, fields=tuple(replace(f, value=given.get(f.name, f.value)) for f in group.fields))
        for group in (words, *_groups(empty, duties, unit))
    )
    return ChangeForm(
        action_url=f"{HANDBOOK_URL}/new",
        back_url="",
        unit=unit.value,
        groups=groups,
        reason=given.get(REASON_FIELD, ""),
        problem=problem,
        problem_field=problem_field,
    )


def new_row_card(
    *, garage: Garage, reader: Person | None, today: date, can_enter: bool, form: ChangeForm
) -> BookRowCard:
    """The page with that form."""
    title = tr("A service of our own")
    return BookRowCard(
        frame=full_frame(title, garage=garage, reader=reader, today=today, here=HANDBOOK_URL, can_enter=can_enter),
        title=title,
        rule=tr("A row for the interval book of this garage: what it is, what it is for, and when it falls due."),
        source="",
        note="",
        key="",
        doubts=(),
        changes=(),
        used_by=(),
        used_more="",
        jobs=(),
        form=form,
    )


def unit_of(row: BookRow, unit: DistanceUnit) -> DistanceUnit:
    """The unit its distances are printed in; `unit` for a row without any."""
    limits = row.rule.repeat
    printed = [limits.distance, *(figure.distance for figure in limits.by_duty)]
    return next((distance.primary for distance in printed if distance is not None), unit)


def _groups(row: BookRow, duties: Mapping[str, DutyCycle], unit: DistanceUnit) -> tuple[FieldGroup, ...]:
    """The figures of a row as they are in force."""
    limits, first, told = row.rule.repeat, row.rule.first, unit_name(unit)
    by_duty = {figure.duty: figure for figure in limits.by_duty}
    under = tuple(
        FigureField(
            f"{DUTY_FIELD}{duty}",
            tr("Under {duties}, {told}", duties=tr_book(duties[duty].title), told=told),
            _under(by_duty.get(duty)),
        )
        for duty in sorted(duties)
    )
    waived = tuple(
        FigureField(
            f"{WAIVED_FIELD}{duty}",
            tr("Under {duties}, grades with commas between", duties=tr_book(duties[duty].title)),
            ", ".join(by_duty[duty].waived_by) if duty in by_duty else "",
            is_word=True,
        )
        for duty in sorted(duties)
    )
    modifier = limits.with_modifier or Limits()
    events = FigureField(AFTER_FIELD, tr("Events"), after_event_lines(row.rule.after), is_long=True, is_word=True)
    each_time = tr("Whichever comes first. Under a duty that does not count, write: no wear.")
    at_event = tr("A line for each: immersion: 5 days. Without a figure it is due at once.")
    lifted = tr("Filled with such a grade, the duty counts like any other.")
    return (
        FieldGroup(tr("Each time"), each_time, (*_limit_fields("", limits, told), *under), is_open=True),
        FieldGroup(
            tr("The first time"),
            tr("Where the first interval differs, such as after new gears."),
            _limit_fields(FIRST_PREFIX, first or Limits(), told),
        ),
        FieldGroup(
            tr("With a friction modifier in the fluid"),
            tr("It wears out sooner than the fluid."),
            _limit_fields(MODIFIER_PREFIX, modifier, told)[:3],
        ),
        FieldGroup(tr("After an event, or at each use"), at_event, (events,)),
        FieldGroup(tr("Fluid that lifts a shorter interval"), lifted, waived),
    )


def _limit_fields(prefix: str, limits: Limits, unit: str) -> tuple[FigureField, ...]:
    hours = "" if limits.hours is None else f"{limits.hours.normalize():f}"
    return (
        FigureField(f"{prefix}{DISTANCE_FIELD}", tr("Distance, {unit}", unit=unit), _figure(limits.distance)),
        FigureField(f"{prefix}{MONTHS_FIELD}", tr("Months"), str(limits.months or "")),
        FigureField(f"{prefix}{WEEKS_FIELD}", tr("Weeks"), str(limits.weeks or "")),
        FigureField(f"{prefix}{HOURS_FIELD}", tr("Running hours"), hours),
    )


def _under(figure: DutyFigure | None) -> str:
    if figure is None:
        return ""
    return NO_WEAR if figure.distance is None else _figure(figure.distance)


def _is_filled(group: FieldGroup) -> bool:
    return any(each.value for each in group.fields)


def _figure(distance: PrintedDistance | None) -> str:
    figure = None if distance is None else distance.figure
    return "" if figure is None else f"{figure.normalize():f}"
