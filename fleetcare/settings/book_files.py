"""The interval book from its files: the shipped rows, and over them what a garage changes or adds."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from fleetcare.book.rows import (
    AfterEvent,
    BookRow,
    DutyFigure,
    IntervalBook,
    IntervalRule,
    Limits,
    Mixing,
    Override,
    Status,
)
from fleetcare.errors import BadFile, Fault, shown
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.settings.book_models import AfterIn, DistanceIn, DutyFigureIn, LimitsIn, ModifierIn, RowIn, is_key
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText, nearest_hint
from fleetcare.wording import counted, grouped

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class GivenRow:
    """A row as one file gives it; of a changed row only what it changes. `given.model_fields_set` says what."""

    key: str
    given: RowIn
    file: str
    line: int


def load_book(shipped: Path, own: Path | None = None, *, duties: Collection[str] = ()) -> IntervalBook:
    """The interval book: the rows of the file `shipped`, with those of `own` laid over them field by field.

    own: a garage's file, or None; a file that is not there counts as None. duties: keys of the duties there are; empty
    means that rows are not checked against them. Raises BadFile with every fault of a file, each with its line.
    """
    rows = parse_rows(text_of(shipped), shipped.name, duties=duties)
    book = laid_over(IntervalBook({}), rows, shipped=True)
    if own is None or not own.is_file():
        return book
    return laid_over(book, parse_rows(text_of(own), own.name, duties=duties))


def book_with(book: IntervalBook, text: str, file: str, *, duties: Collection[str] = ()) -> IntervalBook:
    """`book` with the rows of a garage's own file laid over it. Raises BadFile."""
    return laid_over(book, parse_rows(text, file, duties=duties))


def parse_rows(text: str, file: str, *, duties: Collection[str] = ()) -> tuple[GivenRow, ...]:
    """The rows of one file, in its order, each checked by itself. Raises BadFile with every fault at once."""
    document = TomlText(text, file)
    faults = [
        document.fault(
            saying("There is no table {name} in an interval book.", name=shown(name, 40)),
            nearest_hint(name, ["rows"]),
            name,
        )
        for name in document.tables
        if name != "rows"
    ]
    tables = document.tables.get("rows", {})
    if not isinstance(tables, dict):
        raise BadFile([*faults, document.fault("rows is no table.", "Write [rows.some-key] over each row.", "rows")])
    rows: list[GivenRow] = []
    for key, table in tables.items():
        if not is_key(key):
            what = saying("A row cannot be called {key}.", key=shown(key, 40))
            faults.append(document.fault(what, "Use lower case letters, digits and hyphens.", "rows", key))
            continue
        if not isinstance(table, dict):
            faults.append(
                document.fault(
                    saying("rows.{key} is no row.", key=key),
                    saying("Write [rows.{key}] over it.", key=key),
                    "rows",
                    key,
                )
            )
            continue
        try:
            given = document.checked(RowIn, "rows", key)
        except BadFile as bad:
            faults += bad.faults
            continue
        faults += _unknown_duties(document, key, given, duties)
        rows.append(GivenRow(key, given, file, document.line("rows", key)))
    if faults:
        raise BadFile(sorted(faults, key=lambda fault: fault.line))
    return tuple(rows)


def laid_over(book: IntervalBook, rows: Iterable[GivenRow], *, shipped: bool = False) -> IntervalBook:
    """`book` with these rows laid over it field by field; what was changed is kept in `BookRow.overrides`, with why.

    A row that changes a limit has the status `set by this garage`, unless it says another. shipped: the rows are new
    and must say where they are from. Raises BadFile: a changed row without a reason, a new one without title, short
    name or components, one that limits nothing.
    """
    found = dict(book.rows)
    faults: list[Fault] = []
    for row in rows:
        base = found.get(row.key)
        missing = _missing(row, base, shipped=shipped)
        if missing:
            faults.append(Fault(row.file, row.line, *missing))
            continue
        made = _new_row(row) if base is None else _changed_row(base, row.given)
        rule = made.rule
        if rule.repeat.is_empty and (rule.first is None or rule.first.is_empty) and not rule.after:
            what = saying("Row {key} limits nothing.", key=row.key)
            faults.append(Fault(row.file, row.line, what, "Give distance, months, weeks, hours or an event."))
            continue
        found[row.key] = made
    if faults:
        raise BadFile(faults)
    return IntervalBook(found)


def merged_rows(there: Sequence[GivenRow], coming: Sequence[GivenRow]) -> tuple[GivenRow, ...]:
    """A garage's own rows after others came in: a row with the same key takes the place of the one that was there."""
    rows = {row.key: row for row in there} | {row.key: row for row in coming}
    return tuple(rows[key] for key in sorted(rows))


# From rows of a file to rows of the book


def _missing(row: GivenRow, base: BookRow | None, *, shipped: bool) -> tuple[str, str] | None:
    given = row.given
    if base is not None:
        if given.model_fields_set - {"reason"} and not given.reason:
            return f"Row {row.key} changes the shipped row without saying why.", 'Add reason = "...".'
        return None
    needed = ["title", "short", "components", *(["source", "status"] if shipped else [])]
    absent = [name for name in needed if not getattr(given, name)]
    if absent:
        return f"Row {row.key} is new and has no {' and no '.join(absent)}.", "Add what is missing."
    return None


def _new_row(row: GivenRow) -> BookRow:
    given = row.given
    assert given.title is not None  # _missing saw to these
    assert given.short is not None
    assert given.components is not None
    return BookRow(
        key=row.key,
        title=given.title,
        short=given.short,
        components=tuple(given.components),
        vehicles=tuple(given.vehicles or ()),
        rule=_rule(IntervalRule(), given),
        source=given.source or "this garage",
        status=given.status or Status.GARAGE,
        action=given.action or "",
        note=given.note or "",
        proposed=given.proposed is not False,
        give_days=given.give_days,
        look_first=given.look_first is not False,
    )


def _changed_row(base: BookRow, given: RowIn) -> BookRow:
    rule = _rule(base.rule, given)
    status = given.status or (Status.GARAGE if rule != base.rule else base.status)
    made = dataclasses.replace(
        base,
        title=_or(given.title, base.title),
        short=_or(given.short, base.short),
        components=base.components if given.components is None else tuple(given.components),
        vehicles=base.vehicles if given.vehicles is None else tuple(given.vehicles),
        rule=rule,
        source=_or(given.source, base.source),
        status=status,
        action=_or(given.action, base.action),
        note=_or(given.note, base.note),
        proposed=_or(given.proposed, base.proposed),
        give_days=_or(given.give_days, base.give_days),
        look_first=_or(given.look_first, base.look_first),
    )
    reason = given.reason or ""
    was, now = _row_words(base), _row_words(made)
    changes = tuple(
        Override(name, was.get(name, "nothing"), now.get(name, "nothing"), reason)
        for name in [*was, *(name for name in now if name not in was)]
        if was.get(name) != now.get(name)
    )
    return dataclasses.replace(made, overrides=base.overrides + changes)


def _or(given: T | None, base: T) -> T:
    return base if given is None else given


def _rule(base: IntervalRule, given: RowIn) -> IntervalRule:
    return IntervalRule(
        repeat=base.repeat if given.repeat is None else _limits(base.repeat, given.repeat),
        first=base.first if given.first is None else _limits(base.first or Limits(), given.first),
        after=base.after if given.after is None else tuple(_after(event) for event in given.after),
        mixing=base.mixing if given.mixing is None else Mixing(given.mixing),
    )


def _limits(base: Limits, given: LimitsIn) -> Limits:
    by_duty = {figure.duty: figure for figure in base.by_duty}
    by_duty |= {
        duty: DutyFigure(duty, None if figure.no_wear else _distance(figure), tuple(figure.waived_by))
        for duty, figure in given.by_duty.items()
    }
    return Limits(
        distance=base.distance if given.distance is None else _distance(given.distance),
        by_duty=tuple(by_duty[duty] for duty in sorted(by_duty)),
        months=_or(given.months, base.months),
        weeks=_or(given.weeks, base.weeks),
        hours=_or(given.hours, base.hours),
        with_modifier=_with_modifier(base.with_modifier, given.with_modifier),
    )


def _with_modifier(base: Limits | None, given: ModifierIn | None) -> Limits | None:
    if given is None:
        return base
    known = base or Limits()
    return Limits(
        distance=known.distance if given.distance is None else _distance(given.distance),
        months=_or(given.months, known.months),
        weeks=_or(given.weeks, known.weeks),
    )


def _distance(given: DistanceIn | DutyFigureIn | AfterIn) -> PrintedDistance:
    primary = given.primary or (DistanceUnit.KM if given.km is not None else DistanceUnit.MI)
    return PrintedDistance(primary, km=given.km, mi=given.mi)


def _after(given: AfterIn) -> AfterEvent:
    has_distance = given.km is not None or given.mi is not None
    return AfterEvent(given.event, _distance(given) if has_distance else None, given.days, given.hours)


def _unknown_duties(document: TomlText, key: str, given: RowIn, duties: Collection[str]) -> list[Fault]:
    if not duties:
        return []
    return [
        document.fault(
            saying("There is no duty {duty}.", duty=shown(duty, 40)),
            nearest_hint(duty, sorted(duties)),
            "rows",
            key,
            part,
            "by_duty",
            duty,
        )
        for part, limits in (("repeat", given.repeat), ("first", given.first))
        if limits is not None
        for duty in limits.by_duty
        if duty not in duties
    ]


# Rows in words, for what was changed


def _row_words(row: BookRow) -> dict[str, str]:
    """Each field of a row that is set, in words."""
    words = {
        "title": row.title,
        "short name": row.short,
        "components": ", ".join(row.components),
        "vehicles": ", ".join(row.vehicles) or "any",
        "action": row.action,
        "source": row.source,
        "note": row.note,
        "proposed": _yes(row.proposed),
        "look first": _yes(row.look_first),
        "give": counted(row.give_days, "day") if row.give_days is not None else "",
        "mixing": str(row.rule.mixing),
        **{f"repeat {name}": text for name, text in _limit_words(row.rule.repeat).items()},
        **{f"first {name}": text for name, text in _limit_words(row.rule.first or Limits()).items()},
        "after": "; ".join(_after_words(event) for event in row.rule.after),
    }
    return {name: text for name, text in words.items() if text}


def _limit_words(limits: Limits) -> dict[str, str]:
    shorter = _limit_words(limits.with_modifier) if limits.with_modifier else {}
    return {
        "distance": _distance_words(limits.distance),
        "months": counted(limits.months, "month") if limits.months else "",
        "weeks": counted(limits.weeks, "week") if limits.weeks else "",
        "hours": f"{grouped(limits.hours)} h" if limits.hours else "",
        **{f"distance under {figure.duty}": _duty_words(figure) for figure in limits.by_duty},
        **{f"{name} with a friction modifier": text for name, text in shorter.items()},
    }


def _duty_words(figure: DutyFigure) -> str:
    text = _distance_words(figure.distance) or "no wear"
    return f"{text}, waived by {', '.join(figure.waived_by)}" if figure.waived_by else text


def _distance_words(distance: PrintedDistance | None) -> str:
    if distance is None:
        return ""
    figures = {DistanceUnit.KM: distance.km, DistanceUnit.MI: distance.mi}
    first = figures.pop(distance.primary)
    assert first is not None  # a printed distance has its primary figure
    beside = "".join(f" (printed beside it: {grouped(f)} {unit})" for unit, f in figures.items() if f is not None)
    return f"{grouped(first)} {distance.primary}{beside}"


def _after_words(event: AfterEvent) -> str:
    limits = [
        _distance_words(event.distance),
        counted(event.days, "day") if event.days is not None else "",
        f"{grouped(event.hours)} h" if event.hours is not None else "",
    ]
    within = " or ".join(text for text in limits if text)
    return f"{event.event}: within {within}" if within else f"{event.event}: at once"


def _yes(value: bool) -> str:
    return "yes" if value else "no"
