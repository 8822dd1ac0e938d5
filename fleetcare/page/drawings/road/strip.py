"""The whole strip: months and Mondays above, lanes below each other, today through all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleetcare.language import later, tr
from fleetcare.page.drawings.lettering import Lettering, fitted, width_of
from fleetcare.page.drawings.numbers import coordinate as c
from fleetcare.page.drawings.road.form import PHONE, WIDE, Axis, Form
from fleetcare.page.drawings.road.given import LaneGiven
from fleetcare.page.drawings.road.lane import Box, Lane, Word, lane
from fleetcare.wording import month_name

NEAR_TODAY = 30.0
"""A date of the head whose Monday is so near to today is left out, and one that would touch today's label."""
TODAY = later("today")
NAME_X, NAME_SIZE, UNDER_SIZE = 39.0, 17.0, 13.0
FOOT = 7.0


@dataclass(frozen=True, slots=True)
class Strip:
    """Everything a template needs. name: of its parts in the page, so that two strips can stand on one.

    words: months and dates of the head. weeks: thin lines. ticks: at each first of a month. label: for the group.
    """

    name: str
    is_phone: bool
    view_box: str
    clip: Box
    behind: Box
    weeks: str
    ticks: str
    kerbs: str
    between: str
    words: tuple[Word, ...]
    lanes: tuple[Lane, ...]
    today: str
    today_label: Box
    today_word: Word


def strip(lanes: Sequence[LaneGiven], today: date, form: Form) -> Strip:
    """The strip of these lanes in one form. lanes: at least one, in their order from the top."""
    axis = Axis.around(today, form)
    now = axis.within(today)
    top = form.head
    drawn: list[Lane] = []
    edges: list[float] = []
    for given in lanes:
        each, bottom = lane(given, axis, now, top)
        drawn.append(_named(each, given, top, form))
        edges.append(bottom)
        top = bottom
    height = top + FOOT
    firsts = _firsts(axis)
    mondays = [axis.start + timedelta(days=days) for days in range(0, form.days, 7)]
    word_x = now - width_of(tr(TODAY), 13, Lettering.STRONG) / 2
    label = Box(c(word_x - 7), c(form.head - 21 if form.named else form.head - 17), c(2 * (now - word_x + 7)), "17")
    return Strip(
        name="wide" if form is WIDE else "phone",
        is_phone=form is PHONE,
        view_box=f"0 0 {c(form.width)} {c(height)}",
        clip=Box(c(form.gutter), "0", c(form.right - form.gutter), c(height)),
        behind=Box(c(form.gutter), c(form.head), c(now - form.gutter), c(top - form.head)),
        weeks="".join(f"M{c(axis.x(monday))} {c(form.head)}V{c(top)}" for monday in mondays),
        ticks="".join(f"M{c(axis.x(first))} {c(4 if form.named else 2)}V{c(form.head)}" for first in firsts),
        kerbs=f"M0 {c(form.head)}H{c(form.width)}M0 {c(top)}H{c(form.width)}",
        between="".join(f"M0 {c(edge)}H{c(form.width)}" for edge in edges[:-1]),
        words=(*_months(axis, firsts), *(_dates(axis, mondays, now, float(label.x)) if form.named else ())),
        lanes=tuple(drawn),
        today=f"M{c(now)} {c(form.head - 17 if form.named else form.head - 2)}V{c(top + 5)}",
        today_label=label,
        today_word=Word(tr(TODAY), c(word_x), c(float(label.y) + 12.8), "start", "todayt"),
    )


def _named(drawn: Lane, given: LaneGiven, top: float, form: Form) -> Lane:
    """On the wide form, the name beside the plate and the line below it."""
    if not form.named:
        return drawn
    room = form.gutter - NAME_X - 4
    kind = "wants" if given.wants else "under"
    lettering = Lettering.STRONG if given.wants else Lettering.STRIP
    return replace(
        drawn,
        name_at=Word(fitted(given.name, room, NAME_SIZE, Lettering.NAME), c(NAME_X), c(top + 23), "start", "lane"),
        under=Word(fitted(given.under, room, UNDER_SIZE, lettering), c(NAME_X), c(top + 40), "start", kind),
    )


def _firsts(axis: Axis) -> list[date]:
    days = (axis.start + timedelta(days=number) for number in range(axis.form.days))
    return [day for day in days if day.day == 1]


def _months(axis: Axis, firsts: Sequence[date]) -> list[Word]:
    """The month of the first day, if there is room before the next, and of each first."""
    form = axis.form
    size = 15.0
    names = [(form.gutter + 3, month_name(axis.start.month), axis.x(firsts[0]) if firsts else form.right)]
    ends = [*(axis.x(day) for day in firsts[1:]), form.right]
    names += [(axis.x(day) + 3, month_name(day.month), end) for day, end in zip(firsts, ends, strict=True)]
    y = c(17 if form.named else 13)
    # The month's cut is wider than the widest that is measured here; a tenth more covers it.
    return [
        Word(name, c(x), y, "start", "mon")
        for x, name, end in names
        if x + 1.16 * width_of(name, size, Lettering.NAME) <= end
    ]


def _dates(axis: Axis, mondays: Sequence[date], now: float, label: float) -> list[Word]:
    """label: where today's begins; it reaches as far to the other side of now."""
    found = []
    for monday in mondays:
        x, text = axis.x(monday), str(monday.day)
        touches = x < now and x + 3 + width_of(text, 12.5) > label
        if abs(x - now) >= NEAR_TODAY and not touches:
            found.append(Word(text, c(x + 3), c(axis.form.head - 6), "start", "wkno"))
    return found
