"""The odometer and its fan: what was read behind today, the busy, likely and quiet course ahead.

Under the same days: a bar for the mix of each span between two readings, and the vehicle's own lane with its windows.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from fleetcare.language import in_force, tr
from fleetcare.page.drawings.lettering import Lettering, width_of
from fleetcare.page.drawings.mix_bar import MixBar, MixPart, mix_bar
from fleetcare.page.drawings.numbers import coordinate as c
from fleetcare.page.drawings.road.form import PHONE, WIDE, Axis, Form
from fleetcare.page.drawings.road.given import LaneGiven
from fleetcare.page.drawings.road.lane import Box, Lane, Word, lane
from fleetcare.page.drawings.road.strip import TODAY
from fleetcare.quantities import months_after
from fleetcare.wording import grouped

LABEL_SIZE = 13.0
READ_SIZE = 15.0
LINE = 17.0
"""Figures at the right end stand at least so far apart."""
DOT = 4.2
NEAREST_DOTS = 5.0
"""Readings nearer to each other than that share a dot; the line goes through all of them."""
STEPS_AT_MOST = 6
ROOM_BELOW = 0.1
HEAD = 14.0

MIX_BELOW, LANE_BELOW, FOOT = 26.0, 92.0, 6.0
"""Of the axis: how far below it the mix and the lane begin; below everything."""


@dataclass(frozen=True, slots=True)
class FanForm:
    """Measures of one form. left, right: of the field. base: where the axis stands. Months shown before and after."""

    name: str
    width: float
    left: float
    right: float
    base: float
    months_back: int
    months_ahead: int
    is_phone: bool
    road: Form
    """Measures of the lane."""

    def days(self, today: date) -> tuple[date, date]:
        """The first day shown, and the first that is not: whole months."""
        first = today.replace(day=1)
        return months_after(first, -self.months_back), months_after(first, self.months_ahead)

    def axis(self, today: date) -> Axis:
        """Where days lie."""
        start, end = self.days(today)
        edge, days = self.width - self.right, (end - start).days
        return Axis(replace(self.road, width=self.width, gutter=self.left, days=days, edge=edge), start)


WIDE_FAN = FanForm("fan-wide", 1224, 76, 1106, 304, 10, 9, False, WIDE)
PHONE_FAN = FanForm("fan-phone", 358, 58, 350, 224, 5, 5, True, PHONE)


@dataclass(frozen=True, slots=True)
class ReadGiven:
    """A reading: what the dial showed. mix: how the distance since the one before divides, as (duty, share, pattern);
    parts: the same in words, short enough to stand under its bar."""

    on: date
    value: float
    mix: tuple[MixPart, ...] = ()
    parts: str = ""


@dataclass(frozen=True, slots=True)
class AheadGiven:
    """The three courses at the start of a day."""

    on: date
    quiet: float
    likely: float
    busy: float


@dataclass(frozen=True, slots=True)
class Fan:
    """Everything a template needs to draw the odometer, the mix and the lane in one form.

    grid: lines across, `grid_words` their values. course: solid line through the readings, `dots` the readings.
    band, edges, likely: the courses ahead, empty if there are none. bars: mixes, oldest first. lane: None without a
    window, a bay day and a booking in these months. today: upright line.
    """

    name: str
    is_phone: bool
    view_box: str
    label: str
    clip: Box
    grid: str
    course: str
    dots: tuple[tuple[str, str], ...]
    band: str
    edges: str
    likely: str
    axis: str
    ticks: str
    words: tuple[Word, ...]
    bars: tuple[MixBar, ...]
    lane: Lane | None
    today: str
    today_label: Box
    today_word: Word


def fan(
    readings: Sequence[ReadGiven],
    ahead: Sequence[AheadGiven],
    given: LaneGiven,
    *,
    today: date,
    form: FanForm,
    read_words: str,
    course_names: tuple[str, str, str],
    round_to: int,
    label: str,
) -> Fan | None:
    """The drawing; None if there is nothing to draw in these months.

    readings: oldest first, values never falling; ones before the months shown are used to draw the line to the edge.
    ahead: days in order, the first of them the last reading or the left edge. read_words: of the last reading.
    course_names: busy, likely, quiet. round_to: what each comes to is told in multiples of that. label: for
    who does not see it.
    """
    axis = form.axis(today)
    start, end = axis.start, axis.end
    behind = _cut([(each.on, (each.value,)) for each in readings if each.on < end], start, end)
    courses = _cut([(each.on, (each.quiet, each.likely, each.busy)) for each in ahead], start, end)
    values = [value for _, row in (*behind, *courses) for value in row]
    if len(behind) + len(courses) < 2:
        return None
    low, step, count = grid_steps(min(values), max(values))
    height = form.base - HEAD

    def y(value: float) -> float:
        return form.base - (value - low) / (step * count) * height

    lines = [low + step * number for number in range(count + 1)]
    shown = [each for each in readings if start <= each.on < end]
    bars = _bars(readings, axis, form)
    drawn, bottom = None, form.base + (LANE_BELOW if bars else MIX_BELOW)
    if given.windows or given.visits or given.spoken:
        drawn, bottom = lane(given, axis, axis.within(today), bottom)
    now = axis.within(today)
    word_x = now - width_of(tr(TODAY), LABEL_SIZE, Lettering.STRONG) / 2
    half = [(axis.x(on), row) for on, row in courses]
    return Fan(
        name=form.name,
        is_phone=form.is_phone,
        view_box=f"0 0 {c(form.width)} {c(bottom + FOOT)}",
        label=label,
        clip=Box(c(form.left), "0", c(form.right - form.left), c(bottom + FOOT)),
        grid="".join(f"M{c(form.left)} {c(y(value))}H{c(form.right)}" for value in lines),
        course=_path([(axis.x(on), y(row[0])) for on, row in behind]) if len(behind) > 1 else "",
        dots=_dots([(axis.x(each.on), y(each.value)) for each in shown]),
        band=_closed([(x, y(row[2])) for x, row in half], [(x, y(row[0])) for x, row in half]),
        edges=_path([(x, y(row[2])) for x, row in half]) + _path([(x, y(row[0])) for x, row in half]),
        likely=_path([(x, y(row[1])) for x, row in half]),
        axis=f"M{c(form.left)} {c(form.base)}H{c(form.right)}"
        + (f"M{c(form.left)} {c(bottom)}H{c(form.right)}" if drawn else ""),
        ticks="".join(f"M{c(axis.x(first))} {c(form.base)}v6" for first in _firsts(axis)),
        words=(
            *(_value(value, y(value), form) for value in lines),
            *_months(axis, form),
            *_read(shown, read_words, axis, y, form),
            *_ends(courses, course_names, y, form, round_to),
        ),
        bars=bars,
        lane=drawn,
        today=f"M{c(now)} {c(HEAD)}V{c(bottom)}",
        today_label=Box(c(word_x - 7), "0", c(2 * (now - word_x + 7)), "17"),
        today_word=Word(tr(TODAY), c(word_x), "12.8", "start", "todayt"),
    )


def grid_steps(least: float, most: float) -> tuple[float, float, int]:
    """Where the grid begins, how far apart its lines are, and how many steps it has: round figures around the values.

    The step is 1, 2 or 4 times a power of ten (4 rather than 5, so that half of it is round as well). The least value
    stands a little above the lowest line, where the year is written.
    """
    span = max(most - least, 1.0)
    least = max(least - ROOM_BELOW * span, min(least, 0.0))
    rough = span / STEPS_AT_MOST
    power = 10.0 ** math.floor(math.log10(rough))
    for times in (1.0, 2.0, 4.0, 10.0, 20.0):
        step = max(1.0, times * power)
        low = math.floor(least / step) * step
        count = max(1, math.ceil((most - low) / step))
        if count <= STEPS_AT_MOST:
            return low, step, count
    raise AssertionError("twenty times the power of ten is more than the sixth part of the span")


def _cut(
    rows: Sequence[tuple[date, tuple[float, ...]]], start: date, end: date
) -> list[tuple[date, tuple[float, ...]]]:
    """The rows of these days, with a row on either edge that is passed between two of them."""
    found = [row for row in rows if start <= row[0] <= end]
    for edge in (start, end):
        place = bisect_left([on for on, _ in rows], edge)
        if 0 < place < len(rows) and rows[place][0] != edge:
            (before, a), (after, b) = rows[place - 1], rows[place]
            share = (edge - before).days / (after - before).days
            found.append((edge, tuple(p + share * (q - p) for p, q in zip(a, b, strict=True))))
    return sorted(found)


def _path(points: Sequence[tuple[float, float]]) -> str:
    return f"M{'L'.join(f'{c(x)} {c(y)}' for x, y in points)}" if len(points) > 1 else ""


def _closed(there: Sequence[tuple[float, float]], back: Sequence[tuple[float, float]]) -> str:
    return f"{_path([*there, *reversed(back)])}Z" if len(there) > 1 else ""


def _dots(points: Sequence[tuple[float, float]]) -> tuple[tuple[str, str], ...]:
    """The newest has its dot; of the others those that stand apart."""
    kept: list[tuple[float, float]] = []
    for x, y in reversed(points):
        if not kept or math.hypot(kept[-1][0] - x, kept[-1][1] - y) >= NEAREST_DOTS:
            kept.append((x, y))
    return tuple((c(x), c(y)) for x, y in reversed(kept))


def _bars(readings: Sequence[ReadGiven], axis: Axis, form: FanForm) -> tuple[MixBar, ...]:
    top = form.base + MIX_BELOW
    found = []
    for before, after in pairwise(readings):
        if not after.mix or after.on <= axis.start or before.on >= axis.end:
            continue
        left, right = max(axis.x(before.on), form.left), axis.x(after.on)
        if right - left >= 4:
            found.append(mix_bar(after.mix, after.parts, left=left + 1, right=right - 1, top=top))
    return tuple(found)


def _firsts(axis: Axis) -> list[date]:
    """Each first of a month, the one beyond the last day included; the one at the left edge has no tick."""
    first, found = months_after(axis.start, 1), []
    while first <= axis.end:
        found.append(first)
        first = months_after(first, 1)
    return found


def _months(axis: Axis, form: FanForm) -> list[Word]:
    firsts = [axis.start, *_firsts(axis)]
    words = []
    for first, after in pairwise(firsts):
        left, right = axis.x(first), axis.x(after)
        short = in_force().names.months_short[first.month - 1]
        words.append(Word(short, c((left + right) / 2), c(form.base + 16), "middle", "axis"))
        if first.month == 1:
            words.append(Word(str(first.year), c(left + 3), c(form.base - 6), "start", "year"))
    return words


def _value(value: float, y: float, form: FanForm) -> Word:
    return Word(grouped(round(value)), c(form.left - 7), c(y + 4.5), "end", "axis")


def _read(shown: Sequence[ReadGiven], words: str, axis: Axis, y: Callable[[float], float], form: FanForm) -> list[Word]:
    """The last reading's words, up left of its dot; where there is no room for them the sentence above has them."""
    if not shown or not words:
        return []
    x, at = axis.x(shown[-1].on) - 10, max(y(shown[-1].value) - 10, HEAD + READ_SIZE)
    if x - 1.08 * width_of(words, READ_SIZE, Lettering.NAME) < form.left:
        return []
    return [Word(words, c(x), c(at), "end", "read")]


def _ends(
    courses: Sequence[tuple[date, tuple[float, ...]]],
    names: tuple[str, str, str],
    y: Callable[[float], float],
    form: FanForm,
    round_to: int,
) -> list[Word]:
    """What each course comes to at the right edge; on phones above and below the band, the likely one left out."""
    if len(courses) < 2:
        return []
    quiet, likely, busy = courses[-1][1]
    ends = (busy, likely, quiet)
    told = [f"{name} {grouped(round_to * round(at / round_to))}" for name, at in zip(names, ends, strict=True)]
    if form.is_phone:
        x = c(form.right - 3)
        return [
            Word(told[0], x, c(max(y(busy) - 9, HEAD + 8)), "end", "course"),
            Word(told[2], x, c(min(y(quiet) + 24, form.base - 5)), "end", "course"),
        ]
    middle = y(likely) + 4.5
    places = (min(y(busy) + 4.5, middle - LINE), middle, max(y(quiet) + 4.5, middle + LINE))
    return [Word(text, c(form.right + 8), c(at), "start", "course") for text, at in zip(told, places, strict=True)]
