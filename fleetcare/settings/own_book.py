"""A garage's own rows of the interval book: one of them changed, and the file kept whole while it is written."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fleetcare.book.rows import NO_WEAR, IntervalBook
from fleetcare.errors import BadFile, BadInput, BadSettings, NotFound
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit
from fleetcare.settings.book_files import GivenRow, laid_over, parse_rows
from fleetcare.settings.book_models import RowIn
from fleetcare.settings.book_writing import write_own_rows
from fleetcare.settings.reading_files import text_of


@dataclass(frozen=True, slots=True)
class Figures:
    """Limits as somebody gives them; None: as the book has it."""

    distance: Decimal | None = None
    months: int | None = None
    weeks: int | None = None
    hours: Decimal | None = None


@dataclass(frozen=True, slots=True)
class RowChange:
    """What somebody gives for one row. None: as the book has it. by_duty: for each duty, in `unit`, or `NO_WEAR`.

    first: of the first interval where it differs from the later ones. modifier: of a fluid with a friction modifier;
    hours are not asked there. after: every event after which it is due, as the file has them. waived: for a duty that
    has a figure, the grades of fluid with which it counts like any other. words: title, short name and so on of a row
    of the garage's own.
    """

    reason: str
    unit: DistanceUnit
    distance: Decimal | None = None
    months: int | None = None
    by_duty: Mapping[str, Decimal | str | None] = field(default_factory=dict)
    weeks: int | None = None
    hours: Decimal | None = None
    first: Figures = Figures()
    modifier: Figures = Figures()
    after: Sequence[Mapping[str, Any]] | None = None
    waived: Mapping[str, Sequence[str] | None] = field(default_factory=dict)
    words: Mapping[str, Any] = field(default_factory=dict)


def rows_in(own: Path) -> tuple[GivenRow, ...]:
    """The rows of a garage's own file; none if there is no file. Raises BadFile."""
    return parse_rows(text_of(own), own.name) if own.is_file() else ()


def with_change(
    rows: Sequence[GivenRow], key: str, change: RowChange, shipped: IntervalBook, *, duties: Collection[str]
) -> tuple[GivenRow, ...]:
    """A garage's own rows with one of them changed; its other fields stay as that garage has them.

    A figure that is given as None is the shipped one again; of a row of the garage's own it stays as it was. Raises
    NotFound for a row that is in neither book, and BadInput for a change that cannot be.
    """
    own = {row.key: row for row in rows}
    if key not in own and key not in shipped.rows and not change.words:
        raise NotFound("service in the handbook", key, [*own, *shipped.rows])
    given = _as_tables(own[key].given) if key in own else {}
    given |= change.words
    repeat: dict[str, Any] = given.get("repeat") or {}
    is_shipped = key in shipped.rows
    _put_limits(repeat, change, change.unit, is_shipped=is_shipped)
    by_duty: dict[str, Any] = repeat.get("by_duty") or {}
    waivers = {f.duty: list(f.waived_by) for f in shipped.rows[key].rule.repeat.by_duty} if is_shipped else {}
    for duty in dict.fromkeys((*change.by_duty, *change.waived)):
        figure = change.by_duty.get(duty)
        if isinstance(figure, str):
            by_duty[duty] = NO_WEAR
            continue
        told = _distance(figure, change.unit)
        grades = change.waived.get(duty)
        kept = waivers.get(duty) if grades is None else list(grades)
        if told is None and grades is not None and list(grades) != waivers.get(duty, []):
            told = _shipped_figure(shipped, key, duty) or (by_duty.get(duty) if by_duty.get(duty) != NO_WEAR else None)
            told = None if told is None else dict(told)
        if told is not None and (kept or grades is not None):
            told["waived_by"] = list(kept or ())
        if told is not None or by_duty.get(duty) != NO_WEAR:  # the form has no word for "no wear" and leaves it alone
            _put(by_duty, duty, told, is_shipped=is_shipped)
    _put(repeat, "by_duty", by_duty or None, is_shipped=True)
    modifier: dict[str, Any] = repeat.get("with_modifier") or {}
    _put_limits(modifier, change.modifier, change.unit, is_shipped=is_shipped)
    _put(repeat, "with_modifier", modifier or None, is_shipped=True)
    _put(given, "repeat", repeat or None, is_shipped=True)
    first: dict[str, Any] = given.get("first") or {}
    _put_limits(first, change.first, change.unit, is_shipped=is_shipped)
    _put(given, "first", first or None, is_shipped=True)
    _put(given, "after", None if change.after is None else [dict(each) for each in change.after], is_shipped=is_shipped)
    given["reason"] = change.reason
    if set(given) == {"reason"}:  # nothing differs from the shipped row any more
        own.pop(key, None)
        return tuple(own[each] for each in sorted(own))
    try:
        row = GivenRow(key, RowIn.model_validate(given), "the handbook", 0)
        text = write_own_rows([row])
        (checked,) = parse_rows(text, "the handbook", duties=duties)
    except (BadFile, ValueError) as bad:
        raise _said(bad) from None
    own[key] = checked
    made = tuple(own[each] for each in sorted(own))
    try:
        laid_over(shipped, made)
    except BadFile as bad:
        raise _said(bad) from None
    return made


def without_change(rows: Sequence[GivenRow], key: str, shipped: IntervalBook) -> tuple[GivenRow, ...]:
    """A garage's own rows with a shipped one as it is in the book again.

    Raises NotFound, and BadInput for a row of its own, which lines may hang on.
    """
    if key not in {row.key for row in rows}:
        raise NotFound("change of this garage", key, [row.key for row in rows])
    if key not in shipped.rows:
        raise BadInput(
            saying("{key} is a row of this garage’s own, so there is nothing to go back to.", key=key),
            remedy="Change it, or take it out of the file.",
        )
    return tuple(row for row in rows if row.key != key)


def written_beside(own: Path, rows: Sequence[GivenRow]) -> Path:
    """The rows in a file beside the garage's own book, to be moved in its place once everything else is stored.

    Raises BadSettings if the folder cannot be written to; nothing is changed then.
    """
    beside = own.with_suffix(".new")
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(write_own_rows(rows), encoding="utf-8")
    except OSError as error:
        raise BadSettings(
            saying(
                "The interval book of this garage cannot be written to {parent} ({strerror}).",
                parent=own.parent,
                strerror=error.strerror,
            ),
            remedy="See to the rights of that folder.",
        ) from error
    return beside


def _as_tables(row: RowIn) -> dict[str, Any]:
    """What is set in a row, as tables that are read the same again."""
    given = {name: value for name, value in row.model_dump(exclude_unset=True).items() if value is not None}
    for part in ("repeat", "first"):
        for duty, figure in (given.get(part) or {}).get("by_duty", {}).items():
            if not {"km", "mi"} & figure.keys():
                given[part]["by_duty"][duty] = NO_WEAR
    return given


def _put_limits(table: dict[str, Any], figures: Figures | RowChange, unit: DistanceUnit, *, is_shipped: bool) -> None:
    _put(table, "distance", _distance(figures.distance, unit), is_shipped=is_shipped)
    for name in ("months", "weeks", "hours"):
        _put(table, name, getattr(figures, name), is_shipped=is_shipped)


def _shipped_figure(shipped: IntervalBook, key: str, duty: str) -> dict[str, Any] | None:
    """The book's own figure for a duty, as a table; None where it has none."""
    row = shipped.rows.get(key)
    figure = None if row is None else next((f.distance for f in row.rule.repeat.by_duty if f.duty == duty), None)
    if figure is None:
        return None
    told = {unit: value for unit, value in (("km", figure.km), ("mi", figure.mi)) if value is not None}
    return {**told, "primary": figure.primary.value} if len(told) == 2 else told


def _distance(figure: Decimal | None, unit: DistanceUnit) -> dict[str, Any] | None:
    return None if figure is None else {unit.value: figure}


def _put(table: dict[str, Any], name: str, value: object, *, is_shipped: bool) -> None:
    """Sets one field; None takes it away where there is a shipped one under it. The same figure stays a pair."""
    if value is not None:
        there = table.get(name)
        is_same = isinstance(value, dict) and isinstance(there, dict) and value.items() <= there.items()
        table[name] = there if is_same else value
    elif is_shipped:
        table.pop(name, None)


def _said(bad: Exception) -> BadInput:
    if isinstance(bad, BadFile):
        fault = bad.faults[0]
        return BadInput(fault.what, remedy=fault.instead, field="row")
    text = str(bad)
    if isinstance(bad, ValidationError):
        details = bad.errors(include_url=False)[0]
        context = details.get("ctx") or {}
        text = str(details["msg"])
        if context.get("what"):
            return BadInput(context["what"], remedy=context.get("instead", ""), field="row")
    return BadInput(
        saying("That cannot be an interval: {text_}.", text_=text), remedy="Look at its figures again.", field="row"
    )
