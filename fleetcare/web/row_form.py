"""A row of the interval book as a form sends it: every figure checked at its field, left out where it is the book's."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from starlette.datastructures import FormData

from fleetcare.book.rows import NO_WEAR, AfterEvent, BookRow, DutyFigure, Limits
from fleetcare.errors import BadInput
from fleetcare.intake.after_events import parse_after_events
from fleetcare.intake.numbers import parse_decimal, parse_whole
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.book_row import (
    ACTION_FIELD,
    AFTER_FIELD,
    DISTANCE_FIELD,
    DUTY_FIELD,
    FIRST_PREFIX,
    HOURS_FIELD,
    KINDS_FIELD,
    MODIFIER_PREFIX,
    MONTHS_FIELD,
    REASON_FIELD,
    SHORT_FIELD,
    SOURCE_FIELD,
    TITLE_FIELD,
    WAIVED_FIELD,
    WEEKS_FIELD,
)
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.settings.own_book import Figures, RowChange
from fleetcare.web.reading_form import text_of

T = TypeVar("T")

LONGEST_AGAIN = 2000
LONGEST_REASON = 400
MOST_MONTHS = 1200
_LIMIT_FIELDS = (DISTANCE_FIELD, MONTHS_FIELD, WEEKS_FIELD, HOURS_FIELD)


def row_change(form: FormData, base: BookRow | None, duties: Collection[str], *, is_new: bool = False) -> RowChange:
    """What somebody gives for a row. base: the shipped row, None for one of the garage's own. Raises BadInput.

    is_new: title, short name and kinds of component are given as well.
    """
    unit = DistanceUnit.KM if text_of(form, "unit") == DistanceUnit.KM else DistanceUnit.MI
    reason = clean_text(text_of(form, REASON_FIELD), field=REASON_FIELD, limit=LONGEST_REASON, required=True)
    rule = base.rule if base is not None else None
    repeat = _figures(form, "", rule.repeat if rule else None)
    by_duty = {figure.duty: figure for figure in rule.repeat.by_duty} if rule else {}
    return RowChange(
        reason=reason,
        unit=unit,
        distance=repeat.distance,
        months=repeat.months,
        weeks=repeat.weeks,
        hours=repeat.hours,
        by_duty={duty: _under(form, duty, by_duty.get(duty)) for duty in sorted(duties)},
        first=_figures(form, FIRST_PREFIX, (rule.first or Limits()) if rule else None),
        modifier=_figures(form, MODIFIER_PREFIX, (rule.repeat.with_modifier or Limits()) if rule else None),
        after=_after(form, rule.after if rule else None),
        waived={duty: _grades(form, duty) for duty in sorted(duties) if f"{WAIVED_FIELD}{duty}" in form},
        words=_words(form) if is_new else {},
    )


def place_of(trouble: BadInput, duties: Collection[str]) -> str:
    """The field of the form that a trouble is about; the reason for any that has no field there."""
    return trouble.field if trouble.field in set(_fields(duties)) else REASON_FIELD


def key_of(title: str, taken: Collection[str]) -> str:
    """The key of a new row, made of its title: `winch-rope-look`; with a number where that is taken."""
    plain = "-".join(re.findall(r"[a-z0-9]+", title.lower()))[:50].strip("-") or "own-row"
    key, count = plain, 1
    while key in taken or key == "new":
        count += 1
        key = f"{plain}-{count}"
    return key


def _fields(duties: Collection[str]) -> Iterator[str]:
    for prefix in ("", FIRST_PREFIX, MODIFIER_PREFIX):
        yield from (f"{prefix}{name}" for name in _LIMIT_FIELDS)
    for duty in duties:
        yield from (f"{DUTY_FIELD}{duty}", f"{WAIVED_FIELD}{duty}")
    yield from (AFTER_FIELD, TITLE_FIELD, SHORT_FIELD, KINDS_FIELD, ACTION_FIELD, SOURCE_FIELD)


def _figures(form: FormData, prefix: str, book: Limits | None) -> Figures:
    def whole(name: str, there: int | None) -> int | None:
        field = f"{prefix}{name}"
        return _differing(
            text_of(form, field), there, lambda text: parse_whole(text, least=1, most=MOST_MONTHS, field=field)
        )

    hours_field = f"{prefix}{HOURS_FIELD}"
    return Figures(
        distance=_distance(form, f"{prefix}{DISTANCE_FIELD}", book.distance if book else None),
        months=whole(MONTHS_FIELD, book.months if book else None),
        weeks=whole(WEEKS_FIELD, book.weeks if book else None),
        hours=_differing(
            text_of(form, hours_field), book.hours if book else None, lambda text: _positive(text, hours_field)
        ),
    )


def _differing(text: str, there: T | None, read: Callable[[str], T]) -> T | None:
    """What was typed; None if it is blank or the book's own."""
    if not text:
        return None
    given = read(text)
    return None if given == there else given


def _positive(text: str, field: str) -> Decimal:
    figure = parse_decimal(text, decimal_comma=False, field=field)
    if figure <= 0:
        raise BadInput("An interval is more than nothing.", remedy="Give a figure, or leave it blank.", field=field)
    return figure


def _distance(form: FormData, field: str, book: PrintedDistance | None) -> Decimal | None:
    there = book.figure if book is not None else None
    return _differing(text_of(form, field), there, lambda text: _positive(text, field))


def _under(form: FormData, duty: str, book: DutyFigure | None) -> Decimal | str | None:
    field = f"{DUTY_FIELD}{duty}"
    if text_of(form, field).strip().lower() == NO_WEAR:
        return None if book is not None and book.distance is None else NO_WEAR
    return _distance(form, field, book.distance if book is not None else None)


def _after(form: FormData, book: tuple[AfterEvent, ...] | None) -> list[Mapping[str, Any]] | None:
    if AFTER_FIELD not in form:
        return None
    events = parse_after_events(_text(form, AFTER_FIELD), field=AFTER_FIELD)
    if events == book:
        return None
    return [_as_table(event) for event in events]


def _as_table(event: AfterEvent) -> dict[str, Any]:
    table: dict[str, Any] = {"event": event.event}
    if event.distance is not None:
        table[event.distance.primary.value] = event.distance.figure
    if event.days is not None:
        table["days"] = event.days
    if event.hours is not None:
        table["hours"] = event.hours
    return table


def _grades(form: FormData, duty: str) -> tuple[str, ...]:
    field = f"{WAIVED_FIELD}{duty}"
    given = (clean_text(each, field=field, limit=60) for each in text_of(form, field).split(","))
    return tuple(each for each in given if each)


def _words(form: FormData) -> dict[str, Any]:
    words: dict[str, Any] = {
        "title": clean_text(text_of(form, TITLE_FIELD), field=TITLE_FIELD, limit=120, required=True),
        "short": clean_text(text_of(form, SHORT_FIELD), field=SHORT_FIELD, limit=24, required=True),
    }
    kinds = [clean_text(each, field=KINDS_FIELD, limit=60) for each in text_of(form, KINDS_FIELD).split(",")]
    words["components"] = [each.lower() for each in kinds if each]
    if not words["components"]:
        raise BadInput("It is for no kind of component.", remedy="Name at least one.", field=KINDS_FIELD)
    for field in (ACTION_FIELD, SOURCE_FIELD):
        if given := clean_text(text_of(form, field), field=field, limit=400):
            words[field] = given
    return words


def _text(form: FormData, field: str) -> str:
    value = form.get(field)
    return value if isinstance(value, str) else ""
